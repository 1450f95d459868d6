"""What was read, weighed against what is learned of how people tell it."""
