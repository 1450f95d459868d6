"""Changes to the garden file that people ask for in the chat."""
