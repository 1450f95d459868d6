"""Readings that nobody typed: of sensors and tables."""
