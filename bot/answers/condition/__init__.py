"""What befell the covers and what can still be done: told, and asked."""
