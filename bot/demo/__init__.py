"""The invented garden: its weather, its grower, its week and its year."""
