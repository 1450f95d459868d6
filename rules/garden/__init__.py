"""The nouns of a garden and their tables: trees, species, covers, records, supplies, units."""
