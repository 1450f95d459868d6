"""The commands that carry a logbook, or what it holds, in and out: backup, move, readings, season, export."""
