"""The sentences for what is heard though nothing is reckoned with it yet: what lies in the shed, free hours."""


def stock(what: str, count: int | None) -> str:
    """That what lies in the shed is heard, and where to see what is needed."""
    told = f"No {what} left" if count == 0 else f"{count} {what}"
    return f'{told}: kept as a note. I keep no count of the shed yet; say "supplies" for what your covers need.'


def free_hours(what: str) -> str:
    """That hours are heard, and that nothing is planned by them."""
    told = f"You have time {what}: kept as a note. I cannot plan by it yet"
    return f'{told}, so tell me "later" when I ask at another time.'
