"""The season beyond a forecast: past winters met by simple ways of tending a cover, and what they come to."""
