"""The open field: hours, members, past winters and what they say of a forecast, freeze dates."""
