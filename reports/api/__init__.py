"""Region figures as they were published, for other programs."""
