"""Whole winters replayed: our plan, plain rules, and one who knows the weather."""
