"""The grammar of replies: text files a grower can read, and what they become to be recognised by.

A row `NAME = …` says what a name may be, a row `tells: …` one way to say one clause. `a | b` is either, `x?` or none,
`x*` any number of times, `x+` at least once, `keep:X` keeps the words of X, `_` is any word, `...` any run of words.
"""

import re
from array import array
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache, reduce
from operator import or_
from pathlib import Path
from typing import Final

FILES: Final = ("words", "told", "season", "asked", "cues")
OF_OUR_OWN: Final = {
    "TREE": "@",
    "TIME": "#",
    "TEMP": "%",
    "LEN": "~",
    "SOMEBODY": "&",
    "FIGURE": "1",
    "SPELLED": "w",
}  # marks that stand for such
ANY: Final = "_"
MOST_KNOWN: Final = 200  # words whose beginnings are remembered, some kB each; no source
_PIECE: Final = re.compile(r"[a-z_]\w*:(?=[^\s])|\.\.\.|[()|?*+]|\\\?|[^\s()|?*+]+")
_ROW: Final = re.compile(r"(\w+) ?([=:])\s+(.*)", re.DOTALL)


@dataclass(eq=False, kw_only=True, slots=True)
class Node:
    """A part of the grammar; `is_open` where any words may stand in it.

    `firsts` are the words it may begin with, a bit each, while the grammar is read; sets take far more.
    """

    ident: int
    kind: str
    text: str = ""
    parts: tuple["Node", ...] = ()
    firsts: int = 0
    may_be_empty: bool = False
    is_open: bool = False


@dataclass(frozen=True, kw_only=True)
class Line:
    """One way to say one clause, and what it tells; `is_open` where any words may stand in it.

    Of each of its `needs` one word at least must be there.
    """

    tells: str
    node: Node
    is_open: bool
    needs: tuple[frozenset[str], ...] = ()


class Grammar:
    """The lines and the names of some rows."""

    def __init__(self, text: str) -> None:
        self._bodies: dict[str, str] = {}
        self._made: dict[tuple[object, ...], Node] = {}
        self._bits: dict[str, int] = {}
        self.names: dict[str, Node] = {}
        self._beginning: dict[str, frozenset[int]] = {}
        self._words_of: dict[tuple[str, ...], frozenset[str]] = {}
        told: list[tuple[str, str]] = []
        for row in _rows(text):
            head, sign, body = _ROW.match(row).groups()  # type: ignore[union-attr]
            if sign == "=":
                self._bodies[head] = body
            else:
                told.append((head, body))
        for name in self._bodies:
            self._name(name)
        made = [(head, self._whole(body)) for head, body in told]
        self.lines = [
            Line(tells=head, node=node, is_open=node.is_open, needs=tuple(sorted(_needs(node), key=len)))
            for head, node in made
        ]
        self._needless = [n for n, line in enumerate(self.lines) if not line.needs]
        self._needing: dict[str, array[int]] = {}
        for n, line in enumerate(self.lines):
            for word in line.needs[0] if line.needs else ():
                self._needing.setdefault(word, array("H")).append(n)
        self._leading = _leading(self._made.values(), list(self._bits))
        self._plain = frozenset(node.text for node in self._made.values() if node.kind == "word")
        for node in self._made.values():
            node.firsts = 0  # read backwards from now on
        self._made.clear()
        _needs.cache_clear()
        self._bits.clear()

    def lines_with(self, there: frozenset[str]) -> list[Line]:
        """The lines that may fit where these words and marks are there, as they are listed."""
        found = set(self._needless).union(*(self._needing.get(word, ()) for word in there))
        return [self.lines[n] for n in sorted(found)]

    def beginning(self, word: str, kind: str) -> frozenset[int]:
        """The idents of the nodes that may begin with this word, or with one of its kind."""
        if len(self._beginning) > MOST_KNOWN:
            self._beginning.clear()
        key = kind if kind in "@#%~&" else word
        if key not in self._beginning:
            self._beginning[key] = self._led_by(ANY) | self._led_by(word) | self._led_by(kind)
        return self._beginning[key]

    def _led_by(self, first: str) -> frozenset[int]:
        return frozenset(self._leading.get(first, ()))

    def words(self, *names: str) -> frozenset[str]:
        """The words of some names of the grammar; of all of it where none is given."""
        if names not in self._words_of:
            found = frozenset(word for name in names for word in _words(self.names[name]))
            self._words_of[names] = found if names else self._plain
        return self._words_of[names]

    def _name(self, name: str) -> Node:
        if name not in self.names:
            if name not in self._bodies:
                raise ValueError(f"the grammar has no name '{name}'")
            self.names[name] = self._whole(self._bodies[name])
        return self.names[name]

    def _whole(self, body: str) -> Node:
        node, rest = self._choice(_PIECE.findall(body))
        if rest:
            raise ValueError(f"the grammar has a stray '{rest[0]}' in: {body}")
        return node

    def _choice(self, pieces: list[str]) -> tuple[Node, list[str]]:
        ways: list[Node] = []
        row: list[Node] = []
        while pieces and pieces[0] != ")":
            if pieces[0] == "|":
                ways, row, pieces = [*ways, self._node("seq", parts=row)], [], pieces[1:]
            else:
                one, pieces = self._one(pieces)
                row = [*row, one]
        last = self._node("seq", parts=row)
        return (self._node("or", parts=[*ways, last]) if ways else last), pieces

    def _one(self, pieces: list[str]) -> tuple[Node, list[str]]:
        head, rest = pieces[0], pieces[1:]
        if head.endswith(":") and len(head) > 1:
            node, rest = self._one(rest)
            return self._node("keep", head[:-1], [node]), rest
        if head == "(":
            node, rest = self._choice(rest)
            rest = rest[1:]
        elif head in ("...", ANY):
            node = self._node("run" if head == "..." else "any")
        elif head[0].isupper():
            node = self._node("word", OF_OUR_OWN[head]) if head in OF_OUR_OWN else self._name(head)
        else:
            node = self._node("word", head.removeprefix("\\"))
        if rest and rest[0] in ("?", "*", "+"):
            return self._node(rest[0], parts=[node]), rest[1:]
        return node, rest

    def _node(self, kind: str, text: str = "", parts: list[Node] | None = None) -> Node:
        """The one node of this kind and parts."""
        parts = parts or []
        if kind == "seq" and len(parts) == 1:
            return parts[0]
        key = kind, text, *(part.ident for part in parts)
        if key not in self._made:
            own = {"word": text, "any": ANY, "run": ANY}.get(kind)
            bit = 1 << self._bits.setdefault(own, len(self._bits)) if own is not None else 0
            firsts, may_be_empty = _begins(kind, bit, parts)
            self._made[key] = Node(
                ident=len(self._made), kind=kind, text=text, parts=tuple(parts), firsts=firsts,
                may_be_empty=may_be_empty, is_open=kind == "run" or any(part.is_open for part in parts),
            )  # fmt: skip
        return self._made[key]


def _leading(nodes: Iterable[Node], words: Sequence[str]) -> dict[str, "array[int]"]:
    """The nodes that begin with each word; as arrays, since sets of them take ten times the memory."""
    alike: dict[int, array[int]] = {}
    for node in nodes:
        alike.setdefault(node.firsts, array("I")).append(node.ident)
    led: dict[str, array[int]] = {}
    for firsts, idents in alike.items():
        while firsts:
            last = firsts.bit_length() - 1
            led.setdefault(words[last], array("I")).extend(idents)
            firsts ^= 1 << last
    return led


def _begins(kind: str, bit: int, parts: list[Node]) -> tuple[int, bool]:
    """The words a node may begin with, and whether it may be nothing; `bit` is its own word."""
    if kind in ("word", "any", "run"):
        return bit, kind == "run"
    if kind != "seq":
        return reduce(or_, (part.firsts for part in parts), 0), kind in "?*" or any(part.may_be_empty for part in parts)
    until = next((n for n, part in enumerate(parts, start=1) if not part.may_be_empty), len(parts))
    firsts = reduce(or_, (part.firsts for part in parts[:until]), 0)
    return firsts, all(part.may_be_empty for part in parts)


def _rows(text: str) -> list[str]:
    """Rows without remarks; one that begins with a space goes on with the one before."""
    plain = [line for line in text.splitlines() if line.strip() and not line.startswith("#")]
    return "\n".join(plain).replace("\n ", "  ").split("\n")


@cache  # while a grammar is made: many lines have the same parts
def _needs(node: Node) -> tuple[frozenset[str], ...]:
    """Sets of words of which whatever fits a node holds at least one each."""
    if node.kind == "word":
        return (frozenset((node.text,)),)
    if node.kind == "or":
        ways = [min(_needs(part), key=len, default=None) for part in node.parts]
        return (frozenset().union(*(way for way in ways if way)),) if all(ways) else ()
    return tuple(need for part in node.parts for need in _needs(part)) if node.kind in ("seq", "keep", "+") else ()


def _words(node: Node) -> Iterator[str]:
    if node.kind == "word":
        yield node.text
    for part in node.parts:
        yield from _words(part)


@cache
def grammar() -> Grammar:
    """The grammar of replies."""
    return _of_files(FILES)


@cache
def ours() -> Grammar:
    """The words by which what no line accounts for may be our business; none of them is a word to be mended."""
    return _of_files(("words", "ours"))


@cache
def somebody_else() -> frozenset[str]:
    """The words for other people: "my wife is away" is not of who writes it."""
    return grammar().words("PERSON") - grammar().words("DET")


def _of_files(names: Sequence[str]) -> Grammar:
    folder = Path(__file__).parent
    return Grammar("\n".join((folder / f"{name}.txt").read_text(encoding="utf-8") for name in names))
