"""What the grower settles: when somebody can work, and in whose way covers are tended."""
