"""The interface for other programs: what all its answers share, and the yards and colonies."""
