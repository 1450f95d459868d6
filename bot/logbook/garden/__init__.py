"""What was said about a garden and by whom."""
