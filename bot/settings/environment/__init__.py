"""What the environment says: names and values of the process, or of a file, and the private files they name."""
