"""One recogniser for the grammar: which lines of it fit a run of words, and what each line keeps of them.

A chart: what a part of the grammar may be at a word is worked out once, with every end it may have, so that no reply
can take long and no order of the lines decides.
"""

from collections.abc import Iterator, Sequence
from functools import cached_property, lru_cache
from typing import Final, NamedTuple

from bot.replies.grammar import Grammar, Line, Node, grammar
from bot.replies.words.numbers import NUMBER_WORDS

MOST_TIMES: Final = 16  # that one thing is repeated, such as the trees of a list; no source
ENDS: Final = frozenset((".", ";", "!", "?"))  # of a sentence
RUN: Final = "..."  # under which any words are kept


class Kept(NamedTuple):
    """A run of words that a line keeps, by the name it keeps it under."""

    name: str
    start: int
    end: int


Found = tuple[int, tuple[Kept, ...]]


class Chart:
    """All that the grammar finds in one run of words."""

    def __init__(self, words: Sequence[str], by: Grammar | None = None) -> None:
        self.words = words
        self.grammar = by or grammar()
        self._begins = [self.grammar.beginning(word, kind_of(word)) for word in words]
        self._known: dict[tuple[int, int], Sequence[Found]] = {}

    @cached_property
    def _lines(self) -> list[tuple[Line, int]]:
        """The lines whose words are there, each with the last word it may begin at."""
        last = {key: n for n, word in enumerate(self.words) for key in (word, kind_of(word))}
        there, fit = frozenset(last), []
        for line in self.grammar.lines_with(there):
            latest = len(self.words)
            for need in line.needs:
                latest = min(latest, max((last[word] for word in need & there), default=-1))
                if latest < 0:
                    break
            else:
                fit.append((line, latest))
        return fit

    def lines_at(self, start: int) -> Iterator[tuple[Line, int, tuple[Kept, ...]]]:
        """Each line that fits the words from `start` to some end, with what it keeps."""
        may_begin = self._begins[start]
        for line, latest in self._lines:
            if start <= latest and line.node.ident in may_begin:
                for end, kept in self._at(line.node, start):
                    if end > start:
                        yield line, end, kept

    def may_begin(self, name: str) -> list[int]:
        """The words at which a name of the grammar may begin."""
        ident = self.grammar.names[name].ident
        return [at for at, begins in enumerate(self._begins) if ident in begins]

    def name_at(self, name: str, start: int) -> Sequence[Found]:
        """The ends a name of the grammar may have from `start`, with what it keeps."""
        node = self.grammar.names[name]
        return self._at(node, start) if node.ident in self._begins[start] else ()

    def _at(self, node: Node, at: int) -> Sequence[Found]:
        """The ends of a node that may begin with the word at `at`."""
        key = node.ident, at
        known = self._known.get(key)
        if known is None:
            known = self._known[key] = self._found(node, at)
        return known

    def _found(self, node: Node, at: int) -> Sequence[Found]:
        match node.kind:
            case "any" if self.words[at] in ENDS:
                return ()
            case "word" | "any":
                return ((at + 1, ()),)
            case "seq":
                return self._one_after_another(node.parts, at)
            case "or":
                return self._either(node, at)
            case "keep":
                return [(end, (Kept(node.text, at, end), *kept)) for end, kept in self._at(node.parts[0], at)]
            case "run":
                return [(at, ()), *((end, (Kept(RUN, at, end),)) for end in range(at + 1, len(self.words) + 1))]
            case _:
                return self._repeated(node, at)

    def _either(self, node: Node, at: int) -> Sequence[Found]:
        begins = self._begins[at]
        found: dict[Found, None] = {(at, ()): None} if node.may_be_empty else {}
        for way in node.parts:
            if way.ident in begins:
                found.update(dict.fromkeys(self._at(way, at)))
        return list(found)

    def _one_after_another(self, parts: Sequence[Node], at: int) -> Sequence[Found]:
        found: Sequence[Found] = ((at, ()),)
        last = len(self.words)
        for part in parts:
            reached: dict[Found, None] = {}
            for here, kept in found:
                if here < last and part.ident in self._begins[here]:
                    for end, more in self._at(part, here):
                        reached[end, kept + more if more else kept] = None
                elif part.may_be_empty:
                    reached[here, kept] = None
            if not reached:
                return ()
            found = list(reached)
        return found

    def _repeated(self, node: Node, at: int) -> Sequence[Found]:
        inner = node.parts[0]
        found: dict[Found, None] = {} if node.kind == "+" else {(at, ()): None}
        reached: Sequence[Found] = ((at, ()),)
        last, rounds = len(self.words), 0
        while reached and rounds < (1 if node.kind == "?" else MOST_TIMES):
            rounds += 1
            step: dict[Found, None] = {}
            for here, kept in reached:
                if here < last and inner.ident in self._begins[here]:
                    for end, more in self._at(inner, here):
                        if end > here:
                            step[end, kept + more if more else kept] = None
            reached = [one for one in step if one not in found]
            found.update(dict.fromkeys(reached))
        return list(found)


@lru_cache(maxsize=4)
def chart_of(words: tuple[str, ...]) -> Chart:
    """The chart of a reply by the grammar: whoever reads the same words shares what was found in them."""
    return Chart(words)


def kind_of(word: str) -> str:
    """Which mark of our own a word is, see `bot.replies.grammar`; itself where it is a word."""
    if word[0] == "&" or (word[0] in "@#%~" and word[1:].isdigit()):
        return word[0]
    return "1" if word.replace(".", "", 1).isdigit() else "w" if word in NUMBER_WORDS else word
