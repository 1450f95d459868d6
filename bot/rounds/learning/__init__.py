"""What thermometers taught, reckoned from the logbook as plain values."""
