"""Counts and what they say, for other programs."""
