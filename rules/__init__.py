"""The pure half of bedstraw: weather, plant, cover and plan, with no clock, chance, network or disk."""
