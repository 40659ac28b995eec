"""Backups of the database that are counted, and restores that are counted again."""
