"""What each kind of clause means."""
