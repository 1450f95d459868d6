"""Is the program alive and does it say so: watchdog, health, logs."""
