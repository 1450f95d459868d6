"""Gardens looked after: one, or many in one place."""
