"""What to do with each cover and when: slots, prices, search, the time beyond the forecast."""
