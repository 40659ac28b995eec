"""Hears what changed in the layers below."""
