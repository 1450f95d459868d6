"""One slip of the fingers forgiven: the nearest word of our vocabulary, within a small budget."""

from collections.abc import Iterable
from functools import cache, lru_cache
from pathlib import Path
from typing import Final

from rapidfuzz.distance import OSA

from bot.replies.grammar import grammar

SHELF: Final = Path(__file__).parent / "spelled_right.txt"


@cache
def grammar_words() -> frozenset[str]:
    """Every word of the grammar, and those of other matters that are spelled right as they stand."""
    return grammar().words() | frozenset(SHELF.read_text(encoding="utf-8").split())


@cache
def deed_forms() -> frozenset[str]:
    """The words that tell or wish of a deed."""
    return frozenset(word for word in grammar().words("DEEDWORD") if len(word) > 1)


@cache
def worth_mending() -> frozenset[str]:
    """The words towards which a slip is mended."""
    return frozenset(word for word in deed_forms() | grammar().words("MENDED") if len(word) > 3) - EXACT_ONLY


EXACT_ONLY: Final = frozenset(
    ["away", "back", "code", "forget", "n", "no", "note", "ok", "start", "stop", "undo", "y", "yes"]
)

SHORTEST_BEGINNING = 3  # letters, and half of a name, that stand for it: "por" is Porch (assumed, no source)


def budget(word: str) -> int:
    """How many slips a word of this length may hold: none below four letters, one up to six, two beyond."""
    return 0 if len(word) < 4 else 1 if len(word) <= 6 else 2


@lru_cache(maxsize=64)
def _by_first_letter(names: frozenset[str]) -> dict[str, list[str]]:
    shelves: dict[str, list[str]] = {}
    for form in sorted(worth_mending() | names):
        if len(form) > 3:
            shelves.setdefault(form[0], []).append(form)
    return shelves


def nearest_word(word: str, names: frozenset[str] = frozenset()) -> str:
    """The word meant by `word`: itself when it is known or when nothing lies near enough, or two lie equally near.

    The beginning of a single name is that name. Forms of one verb do not compete with each other. The first letter
    must be right, which keeps "removed" from "moved" (Damerau's optimal string alignment distance).

    >>> nearest_word("por", frozenset({"porch", "wall"}))
    'porch'
    >>> nearest_word("closd"), nearest_word("wrappd"), nearest_word("stopped"), nearest_word("removed")
    ('closed', 'wrapped', 'stopped', 'removed')
    """
    if word in grammar_words() or word in names:
        return word
    begun = [name for name in names if name.startswith(word)] if len(word) >= SHORTEST_BEGINNING else []
    shortest = min(begun, key=len, default="")
    is_much = 2 * len(word) >= len(shortest)  # "per" is no persimmon
    if begun and is_much and all(name.startswith(shortest) for name in begun):  # "kaki", and "kakis" besides
        return shortest
    near = sorted(_near(word, _by_first_letter(names).get(word[0], ())))
    best = [form for distance, form in near if distance == near[0][0]]
    # "closd" lies as near to "close" as to "closed": what people tell of lies behind them
    best = [form for form in best if form.endswith("ed")] or best if len({form[:4] for form in best}) == 1 else best
    return best[0] if len(best) == 1 else word


def _near(word: str, shelf: Iterable[str]) -> list[tuple[int, str]]:
    allowed = budget(word)
    pairs = [(OSA.distance(word, form, score_cutoff=allowed), form) for form in shelf] if allowed else []
    return [(distance, form) for distance, form in pairs if distance <= allowed]


def closest(word: str, names: list[str]) -> list[str]:
    """The names in the order of their distance from a word that matched none of them."""
    return sorted(
        names, key=lambda name: min(OSA.distance(word, part) for part in (name.casefold(), *name.casefold().split()))
    )
