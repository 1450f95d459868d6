"""The database itself: opened, migrated, moved, led."""
