"""Covers marched through the hours, many at once."""
