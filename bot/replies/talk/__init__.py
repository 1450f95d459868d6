"""The memory of the talk: choices picked by a word, and what was told last put right."""
