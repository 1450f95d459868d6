"""The sentences about the people of a garden and about its file."""
