"""Treatments, their recounts and outcomes, for other programs."""
