"""The commands that carry data in and out."""
