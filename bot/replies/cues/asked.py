"""What a piece asks, by its order of words and its topic."""

from collections.abc import Sequence
from typing import Final

from bot.replies.cues.pieces import Piece
from bot.replies.cues.spotting import Spotter
from bot.replies.cues.told import TALK, Told


def question(piece: Piece, spotter: Spotter) -> Told | None:
    """What a piece asks; talk where it asks something else, None where it asks nothing."""
    at = piece.start, piece.end
    words = spotter.words[piece.start : piece.end]
    led = [span for span in spotter.spans("ASKED", *at) if span[0] <= piece.start + 2]
    if not piece.is_asked and not (led and _is_turned(words, led[0][0] - piece.start)):
        return None
    has = spotter.has
    for topic, tells in _TOPICS.items():
        if has(*at, topic):
            return tells, []
    return TALK, []


_TOPICS: Final = {
    "TOPIC_WHY": "why", "TOPIC_FROST": "last_frost", "TOPIC_FIRST": "first", "TOPIC_STRIP": "strip_when",
    "TOPIC_LEARNED": "learned", "TOPIC_OPEN": "may_open", "TOPIC_NIGHT": "tonight", "TOPIC_CHANCE": "tonight",
    "TOPIC_SUPPLY": "need", "TOPIC_WRAP": "how_to", "TOPIC_DO": "due",
}  # fmt: skip
_BEFORE_ASKING: Final = frozenset(("so", "and", "hey", "ok", "hi", "but", "hmm", "um", "erm", "wait", "well", "just"))
_WH: Final = frozenset(
    ("what", "what's", "whats", "how", "how's", "when", "when's", "why", "which", "who", "wot", "where")
)
_INVERTED: Final = frozenset(("i", "we", "it", "you", "u", "the", "they", "there", "my", "that", "this"))


_DONE_TO: Final = frozenset(("it", "them", "that", "both", "all"))
_HOW_DONE: Final = frozenset(
    ("in", "with", "at", "just", "already", "right", "before", "after", "and", "on", "too", "by")
)


def _is_turned(words: Sequence[str], at: int) -> bool:
    """Whether it begins by asking: a word that asks, or a verb before its subject."""
    first, second = words[at], words[at + 1] if at + 1 < len(words) else ""
    if first in _WH:
        return at == 0 or words[0] in _BEFORE_ASKING
    if first == "did" and second in _DONE_TO and (len(words) == at + 2 or words[at + 2] in _HOW_DONE):
        return False  # "did it in my pyjamas"
    turned = at == 0 or words[0] in _BEFORE_ASKING
    return turned and bool(second) and (second in _INVERTED or second[0] in "@&")
