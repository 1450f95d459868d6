"""What a piece asks, by its order of words and its topic."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from bot.replies.covering import QUESTIONS
from bot.replies.cues.pieces import STOPS, Piece
from bot.replies.cues.spotting import Spotter
from bot.replies.cues.told import TALK, Told
from bot.replies.learned.asking import asked_from


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
    if not _asks(piece, spotter):
        return None
    at, end = piece.start, piece.end + (spotter.words[piece.end : piece.end + 1] == ["?"])
    lines = list(spotter.lines(at, end))
    known = next(((line.tells, kept) for line, kept in lines if line.tells in QUESTIONS), None)
    if known is not None:
        return known
    likely = next((one for one in asked_from(spotter.marked, at) if one.end >= piece.end), None)
    if likely is not None:
        return likely.tells, []
    told = any(line.tells in ("did", "left") for line, _ in lines)  # "did the porch one and the wall one"
    return None if told and not piece.is_asked else (TALK, [])


def _asks(piece: Piece, spotter: Spotter) -> bool:
    words = spotter.words[piece.start : piece.end]
    led = [span for span in spotter.spans("ASKED", piece.start, piece.end) if span[0] <= piece.start + 2]
    turned = bool(led) and _is_turned(words, led[0][0] - piece.start)
    return piece.is_asked or turned or any(_begins_asking(words, n) for n in range(1, len(words)))


_BEFORE_ASKING: Final = frozenset(("so", "and", "hey", "ok", "hi", "but", "hmm", "um", "erm", "wait", "well", "just"))
_INVERTED: Final = frozenset(("i", "we", "it", "you", "u", "the", "they", "there", "my", "that", "this"))


WH: Final = frozenset(
    ("what", "what's", "whats", "how", "how's", "hows", "when", "when's", "why", "which", "who", "wot", "where")
)
FEW: Final = 4  # words before "should i": behind more of them something else is told; no source
VERBS: Final = frozenset(("is", "are", "am", "do", "does", "can", "should", "shall", "must", "may", "will"))
SUBJECTS: Final = frozenset(("i", "we", "it", "they"))  # "the wind had the lid off" asks nothing
STATED: Final = frozenset(("know", "knew", "see", "that's", "thats", "is", "was", "remember", "exactly", "which", "so"))


def _begins_asking(words: Sequence[str], at: int) -> bool:
    """Whether a question begins within a sentence: "hang on why am i", "before we leave should i"."""
    first, second = words[at], words[at + 1] if at + 1 < len(words) else ""
    if words[at - 1] in STATED | WH:
        return False
    if first in WH:
        return second in VERBS or first.endswith("s")
    return first in VERBS and second in SUBJECTS and (second == "i" or at <= FEW)


_DONE_TO: Final = frozenset(("it", "them", "that", "both", "all"))
_HOW_DONE: Final = frozenset((
    "in", "with", "at", "just", "already", "right", "before", "after", "and", "on", "too", "by", "for", "because",
    "while", "myself", "as", "fig",
))  # fmt: skip


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
