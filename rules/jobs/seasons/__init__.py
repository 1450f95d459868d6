"""The rules of the year, a file a season, and those of the covers and of water."""
