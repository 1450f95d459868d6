"""How sure the advice is: what would turn it, and where nothing can."""
