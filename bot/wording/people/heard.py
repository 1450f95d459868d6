"""The sentences for what is heard though nothing is reckoned with it yet: what lies in the shed, free hours."""


def stock(what: str, count: int | None) -> str:
    """That what lies in the shed is heard, and where to see what is needed."""
    told = f"No {what} left" if count == 0 else f"{count} {what}"
    return f'{told}: kept as a note. I keep no count of the shed yet; say "supplies" for what your covers need.'
