"""What a piece asks, by its order of words and its topic."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from bot.replies.cues.pieces import STOPS, Piece
from bot.replies.cues.spotting import WH, Spotter, begins_asking
from bot.replies.cues.told import TALK, Told


def asked_whole(pieces: Sequence[Piece], spotter: Spotter) -> list[Piece]:
    """A sentence that asks as one piece: "is it too early or should i wait", "what happens if i leave it open"."""
    kept: list[Piece] = []
    for one in pieces:
        before = kept[-1] if kept else None
        runs_on = before is not None and one.joined_by not in STOPS and spotter.words[before.end] not in STOPS
        if before is not None and runs_on and _asks(before, spotter) and not spotter.deeds(one.start, one.end):
            kept[-1] = replace(before, end=one.end, is_asked=one.is_asked)
        else:
            kept.append(one)
    return kept


def question(piece: Piece, spotter: Spotter) -> Told | None:
    """What a piece asks; talk where it asks something else, None where it asks nothing."""
    at = piece.start, piece.end
    if not _asks(piece, spotter):
        return None
    known = spotter.asked(*at)
    if known is not None:
        return known
    for topic, tells in _TOPICS.items():
        if spotter.has(*at, topic):
            return tells, []
    told = any(tells in ("did", "left") for tells, _ in spotter.told(*at))  # "did the porch one and the wall one"
    return None if told and not piece.is_asked else (TALK, [])


def _asks(piece: Piece, spotter: Spotter) -> bool:
    words = spotter.words[piece.start : piece.end]
    led = [span for span in spotter.spans("ASKED", piece.start, piece.end) if span[0] <= piece.start + 2]
    turned = bool(led) and _is_turned(words, led[0][0] - piece.start)
    return piece.is_asked or turned or any(begins_asking(words, n) for n in range(1, len(words)))


_TOPICS: Final = {
    "TOPIC_WHY": "why", "TOPIC_FROST": "last_frost", "TOPIC_FIRST": "first", "TOPIC_STRIP": "strip_when",
    "TOPIC_LEARNED": "learned", "TOPIC_OPEN": "may_open", "TOPIC_NIGHT": "tonight", "TOPIC_CHANCE": "tonight",
    "TOPIC_SUPPLY": "need", "TOPIC_WRAP": "how_to", "TOPIC_DO": "due",
}  # fmt: skip
_BEFORE_ASKING: Final = frozenset(("so", "and", "hey", "ok", "hi", "but", "hmm", "um", "erm", "wait", "well", "just"))
_INVERTED: Final = frozenset(("i", "we", "it", "you", "u", "the", "they", "there", "my", "that", "this"))


_DONE_TO: Final = frozenset(("it", "them", "that", "both", "all"))
_HOW_DONE: Final = frozenset(
    (
        "in",
        "with",
        "at",
        "just",
        "already",
        "right",
        "before",
        "after",
        "and",
        "on",
        "too",
        "by",
        "for",
        "because",
        "while",
        "myself",
        "as",
        "fig",
    )
)


def _tells_of_tree(words: Sequence[str]) -> bool:
    """ "Did the kaki with a toddler on my hip"; not "did the kaki survive"."""
    trees = [n for n, word in enumerate(words) if word[0] == "@"]
    led = bool(trees) and trees[0] <= 1
    after = words[trees[-1] + 1 : trees[-1] + 2] if led else ()
    return led and (not after or after[0] in _HOW_DONE or after[0][0] in "#,")


def _is_turned(words: Sequence[str], at: int) -> bool:
    """Whether it begins by asking: a word that asks, or a verb before its subject."""
    first, second = words[at], words[at + 1] if at + 1 < len(words) else ""
    if first in WH:
        return at == 0 or words[0] in _BEFORE_ASKING
    if first == "did" and _tells_of_tree(words[at + 1 :]):
        return False
    if first == "did" and second in _DONE_TO and (len(words) == at + 2 or words[at + 2] in _HOW_DONE):
        return False  # "did it in my pyjamas"
    turned = at == 0 or words[0] in _BEFORE_ASKING
    return turned and bool(second) and (second in _INVERTED or second[0] in "@&")
