"""Messages and turns on record: what goes out, when, and by whom."""
