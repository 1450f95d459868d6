"""The sentences about what lies in the shed."""

from bot.wording.year.supplies import piece_words
from rules.garden.shed import SupplyKind


def stock(what: str, count: int | None) -> str:
    """That what lies in the shed is heard, and where to see what is needed."""
    told = f"No {what} left" if count == 0 else _counted(what, count)
    return f'{told}: kept as a note. I keep no count of the shed yet; say "supplies" for what your covers need.'


def bought(what: str, count: int | None) -> str:
    """That what was bought is heard, and how to say that nothing is missing any more."""
    return f'{_counted(what, count)} bought: kept as a note. Say "supplies done" once you have all you need.'


def _counted(what: str, count: int | None) -> str:
    return f"{count} {what}" if count is not None else what


def stocked(kind: SupplyKind, count: float) -> str:
    """What the garden file now has of one supply, and what it is counted in."""
    pieces = piece_words(kind, round(count)) if count else f"no {piece_words(kind, 0).removeprefix('0 ')}"
    return f"Noted: {pieces} in the shed. I count on that when not everything can be covered."
