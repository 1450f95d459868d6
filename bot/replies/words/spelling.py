"""One slip of the fingers forgiven: the nearest word of our vocabulary, within a small budget."""

import re
from collections.abc import Iterable
from functools import lru_cache

from rapidfuzz.distance import OSA

from bot.replies.phrases.question_patterns import QUESTIONS
from bot.replies.words.patterns import PHRASES
from bot.replies.words.sightings import SIGHTS
from bot.replies.words.vocabulary import EXACT_ONLY, FILLERS, FORMS, KNOWN, WORTH_MENDING

# Every word our patterns look for is spelled right as it stands.
_IN_PATTERNS = [pattern.pattern for pattern, _ in PHRASES] + [pattern for _, pattern in (*QUESTIONS, *SIGHTS)]
_OURS = FILLERS | EXACT_ONLY | frozenset(re.findall(r"[a-z]{3,}", " ".join(_IN_PATTERNS)))
VOCABULARY = frozenset(FORMS) | WORTH_MENDING
GRAMMAR_WORDS = VOCABULARY | _OURS


SHORTEST_MENDED = 5  # letters; a shorter word has too many neighbours (assumed, no source)
SHORTEST_BEGINNING = 3  # letters, and half of a name, that stand for it: "por" is Porch (assumed, no source)


def budget(word: str) -> int:
    """How many slips a word of this length may hold: none below four letters, one up to six, two beyond."""
    return 0 if len(word) < 4 else 1 if len(word) <= 6 else 2


@lru_cache(maxsize=64)
def _by_first_letter(names: frozenset[str]) -> dict[str, list[str]]:
    shelves: dict[str, list[str]] = {}
    for form in sorted(VOCABULARY | names):
        if len(form) > 3 and form not in EXACT_ONLY:
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
    if word in GRAMMAR_WORDS or word in names or word in KNOWN:
        return word
    begun = [name for name in names if name.startswith(word)] if len(word) >= SHORTEST_BEGINNING else []
    shortest = min(begun, key=len, default="")
    is_much = 2 * len(word) >= len(shortest)  # "per" is no persimmon
    if begun and is_much and all(name.startswith(shortest) for name in begun):  # "kaki", and "kakis" besides
        return shortest
    near = sorted(_near(word, _by_first_letter(names).get(word[0], ())))
    best = [form for distance, form in near if distance == near[0][0]]
    meanings = {FORMS.get(form, form).rstrip(".") for form in best}
    # "closd" lies as near to "close" as to "closed": what people tell of lies behind them
    return min(best, key=lambda form: FORMS.get(form, "").endswith(".")) if len(meanings) == 1 else word


def one_slip_mended(word: str, worth_mending: Iterable[str], right: frozenset[str]) -> str:
    """The one word worth mending that is a slip away from `word`; itself where it is right, short or near to none.

    >>> one_slip_mended("prunde", ("pruned", "picked"), frozenset())
    'pruned'
    """
    if word in GRAMMAR_WORDS or word in right or len(word) < SHORTEST_MENDED:
        return word
    near = [meant for meant in worth_mending if meant[0] == word[0] and OSA.distance(word, meant) == 1]
    return near[0] if len(near) == 1 else word


def _near(word: str, shelf: Iterable[str]) -> list[tuple[int, str]]:
    allowed = budget(word)
    pairs = [(OSA.distance(word, form, score_cutoff=allowed), form) for form in shelf] if allowed else []
    return [(distance, form) for distance, form in pairs if distance <= allowed]


def closest(word: str, names: list[str]) -> list[str]:
    """The names in the order of their distance from a word that matched none of them."""
    return sorted(
        names, key=lambda name: min(OSA.distance(word, part) for part in (name.casefold(), *name.casefold().split()))
    )
