"""The commands that open a door: chat, serve, serve-many."""
