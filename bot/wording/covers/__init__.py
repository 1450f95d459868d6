"""How covers are spoken of: their words, what befell them, what to do with what there is."""
