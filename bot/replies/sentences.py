"""A reply that tells and asks in one breath, "wrapped kaki. what's next": cut into what it says one after the other."""

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Final, NamedTuple

from bot.replies.nouns import Ambiguous, NotUnderstood, Reply, Understood, Verb
from bot.replies.phrases.implied_questions import tells

MOST_SENTENCES: Final = 6  # nobody sends more from the garden; no source
_STARTS = (
    r"(?:what|what's|whats|how|when|why|which|who|is|are|was|will|do|does|did"
    r"|should|shall|can|could|may|must|any(?=\s?thing))\b"
)
_SURE_STARTS = (  # where no stop stands before it: "kaki which i'll do tomorrow", "when it got dark" are no questions
    r"(?:what|what's|whats|how|why|which one|when (?:is|do|does|should|can|will)|(?:should|shall|can|must|do) (?:i|we)"
    r"|(?:is|will|does) it|any(?=\s?thing else))\b"
)
_ENDS = re.compile(rf"(?<=[?!.;])\s+|\s*\n\s*|\s*,\s+(?:and |but |so )*(?={_STARTS})", re.IGNORECASE)
_QUESTION = re.compile(rf"\s+(?:and |but |so )*(?={_SURE_STARTS})", re.IGNORECASE)
_SMALL_TALK: Final = {Verb.THANKS, Verb.HELLO, Verb.YES, Verb.NO}


class Cut(NamedTuple):
    """A reply in parts; `by_stops` where the grower's own full stops, commas or lines set them apart."""

    parts: list[str]
    by_stops: bool


def ways_to_cut(text: str) -> list[Cut]:
    """How a reply may be cut: at its stops, or once before a question that has none before it."""
    whole = [part for part in _ENDS.split(text) if part and part.strip(" ?!.;,")]
    ways = [Cut(whole, by_stops=True)] if 1 < len(whole) <= MOST_SENTENCES else []
    places = [match.span() for match in _QUESTION.finditer(text)][:MOST_SENTENCES]
    return ways + [Cut([text[:start], text[end:]], by_stops=False) for start, end in places if text[:start].strip()]


def told_and_asked(parts: Sequence[Reply], *, by_stops: bool) -> Reply | None:
    """All of it as one reply, if each part was understood, one tells and one asks; else None.

    Where no stop sets them apart only a deed or a reading before the question counts: "not sure what to do" and "what
    if the cap is open" are one thing said.
    """
    if any(isinstance(part, NotUnderstood) for part in parts):
        return None
    told = any(tells(part) for part in parts) if by_stops else _did(parts[0])
    if not told or not any(_asks(part) for part in (parts if by_stops else parts[1:])):
        return None
    certain = tuple(meaning for part in parts if isinstance(part, Understood) for meaning in part.meanings)
    unsure = [part for part in parts if isinstance(part, Ambiguous)]
    if not unsure:
        return Understood(meanings=certain)
    return replace(unsure[0], certain=(*certain, *unsure[0].certain)) if len(unsure) == 1 else None


def _asks(part: Reply) -> bool:
    return isinstance(part, Understood) and not tells(part) and part.meanings[0].verb not in _SMALL_TALK


def _did(part: Reply) -> bool:
    told = part.meanings if isinstance(part, Understood) else ()
    return any(meaning.is_deed or meaning.verb is Verb.READING for meaning in told)
