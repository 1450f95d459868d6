"""What a grower may ask, one file a subject."""
