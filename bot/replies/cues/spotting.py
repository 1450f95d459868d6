"""Where in a reply the cues of the grammar stand."""

from collections.abc import Sequence
from functools import cached_property
from typing import Final

from bot.replies.covering import ASKING, QUESTIONS
from bot.replies.grammar.recogniser import RUN, Chart, Kept
from bot.replies.words.marking import Marked

WH: Final = frozenset(
    ("what", "what's", "whats", "how", "how's", "hows", "when", "when's", "why", "which", "who", "wot", "where")
)
Span = tuple[int, int, tuple[Kept, ...]]


FEW: Final = 4  # words before "should i": behind more of them something else is told; no source
VERBS: Final = frozenset(("is", "are", "am", "do", "does", "can", "should", "shall", "must", "may", "will"))
SUBJECTS: Final = frozenset(("i", "we", "it", "they"))  # "the wind had the lid off" asks nothing
STATED: Final = frozenset(("know", "knew", "see", "that's", "thats", "is", "was", "remember", "exactly", "which", "so"))


def begins_asking(words: Sequence[str], at: int) -> bool:
    """Whether a question begins within a sentence: "hang on why am i", "before we leave should i"."""
    first, second = words[at], words[at + 1] if at + 1 < len(words) else ""
    if words[at - 1] in STATED | WH:
        return False
    if first in WH:
        return second in VERBS or first.endswith("s")
    return first in VERBS and second in SUBJECTS and (second == "i" or at <= FEW)


class Spotter:
    """The cues of one reply; each is looked for once."""

    def __init__(self, marked: Marked) -> None:
        self.marked = marked
        self.words: Sequence[str] = marked.words
        self._chart = Chart(marked.words)
        self._spans: dict[str, list[Span]] = {}

    def spans(self, name: str, start: int, end: int) -> list[Span]:
        """Where a cue stands within some words: the longest first, none within another."""
        if name not in self._spans:
            self._spans[name] = self._all(name)
        return [one for one in self._spans[name] if start <= one[0] and one[1] <= end]

    def has(self, start: int, end: int, *names: str) -> bool:
        """Whether one of some cues stands within some words."""
        return any(self.spans(name, start, end) for name in names)

    def _all(self, name: str) -> list[Span]:
        found: list[Span] = []
        reached = 0
        for at in self._chart.may_begin(name):
            ends = [one for one in self._chart.name_at(name, at) if one[0] > at] if at >= reached else []
            if ends:
                reached, kept = max(ends, key=lambda one: one[0])
                found.append((at, reached, kept))
        return found

    def told(self, start: int, end: int) -> list[tuple[str, list[Kept]]]:
        """What some words tell by the lines of the grammar that account for each of them."""
        fit = [one for one in self._chart.lines_at(start) if one[1] == end and not one[0].is_open]
        return [(line.tells, list(kept)) for line, _, kept in fit]

    def asked(self, start: int, end: int) -> tuple[str, list[Kept]] | None:
        """What some words ask, by the line of the grammar that begins with the first of them; None where none fits."""
        end += self.words[end : end + 1] == ["?"]
        words = self.words[start:end]
        for at in (start, *(start + n for n in range(1, len(words)) if begins_asking(words, n))):
            fit = [(line, kept) for line, to, kept in self._chart.lines_at(at) if to == end and line.tells in QUESTIONS]
            if fit:
                told = self.words[at] not in ASKING
                line, kept = min(
                    fit, key=lambda one: told * sum(run.end - at for run in one[1] if run[:2] == (RUN, at))
                )
                return line.tells, list(kept)
        return None

    def deeds(self, start: int, end: int) -> list[Span]:
        """The words that tell of a deed by themselves."""
        return self.spans("DEED", start, end)

    def states(self, start: int, end: int) -> list[Span]:
        """The words that say what became of a tree, or that nothing did."""
        deeds = self.deeds(start, end)
        names = ("DONE_BY",) if deeds else ("DONE_BY", "AYE", "NAY")
        said = [one for name in names for one in self.spans(name, start, end)]
        return sorted([*deeds, *(one for one in said if self._is_of_tree(one))])

    def _is_of_tree(self, one: Span) -> bool:
        """Whether a tree stands right beside it."""
        around = (*self.words[max(0, one[0] - 1) : one[0]], *self.words[one[1] : one[1] + 1])
        return any(word[0] == "@" for word in around)

    def apart(self, start: int, end: int, *cues: str, by: Sequence[str]) -> list[Span]:
        """Where cues stand within some words, and not as a part of others: "not" but for "why not"."""
        others = [one for cue in by for one in self.spans(cue, start, end)]
        return [one for cue in cues for one in self.spans(cue, start, end) if not self.is_covered(one, others)]

    @staticmethod
    def is_covered(one: Span, by: Sequence[Span]) -> bool:
        """Whether it lies within another."""
        return any(other is not one and other[0] <= one[0] and one[1] <= other[1] for other in by)

    @cached_property
    def trees(self) -> list[int]:
        """Where trees are named; "a fig" is any."""
        return [
            n for n, word in enumerate(self.words) if word[0] == "@" and self.words[max(0, n - 1)] not in ("a", "an")
        ]

    @cached_property
    def sole_tree(self) -> str:
        """The only tree that is named in all of the reply; empty where there are several, or none."""
        named = {tree for n in self.trees for tree in self.marked.trees[int(self.words[n][1:])].trees}
        return next(iter(named)) if len(named) == 1 else ""
