"""What is too slow line by line, built from C where a compiler was at hand; numpy does the same where none was."""
