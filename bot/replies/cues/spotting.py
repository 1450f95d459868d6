"""Where in a reply the cues of the grammar stand."""

from collections.abc import Iterator, Sequence
from functools import cached_property

from bot.replies.grammar import Line
from bot.replies.grammar.recogniser import Kept, chart_of
from bot.replies.words.marking import Marked

Span = tuple[int, int, tuple[Kept, ...]]


class Spotter:
    """The cues of one reply; each is looked for once."""

    def __init__(self, marked: Marked) -> None:
        self.marked = marked
        self.words: Sequence[str] = marked.words
        self._chart = chart_of(tuple(marked.words))
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

    def lines(self, start: int, end: int) -> Iterator[tuple[Line, list[Kept]]]:
        """The lines of the grammar that fit some words whole, each with what it keeps of them."""
        return ((line, list(kept)) for line, to, kept in self._chart.lines_at(start) if to == end)

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
        named = {tree for n in self.trees for tree in self.marked.tree_of(self.words[n]).trees}
        return next(iter(named)) if len(named) == 1 else ""
