"""Bringing a club's sheets in: what they say, what must be asked, and what becomes of each row."""
