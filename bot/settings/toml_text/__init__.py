"""The text of a TOML file, before and beside its reader: statement by statement, and on which line each key stands."""
