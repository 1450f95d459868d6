"""A TOML text cut into its statements in one pass, and refused before it is parsed where it is out of all bounds.

The standard reader takes a time that grows with the square of the parts of one key, so nobody's file reaches it unseen.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

DEEPEST_NESTING: Final = 12  # brackets within brackets, and parts of a key; a garden file needs four
MOST_VALUES: Final = 8_000  # keys and entries of lists; five hundred trees of sixteen lines each
# Each kind of text and remark whole, so that no bracket or comma inside it counts; an open one ends with its line, or
# with the file. Possessive, so that nothing is ever looked at twice (Python 3.11).
PIECE: Final = re.compile(
    r'"""(?:\\.|[^"\\]|"{1,2}(?!"))*+(?:"{3,5}|\\?\Z|)'
    r"|'''(?:[^']|'{1,2}(?!'))*+(?:'{3,5}|)"
    r'|"(?:\\.|[^"\\\n])*+"?'
    r"|'[^'\n]*+'?"
    r"|\#[^\n]*+"
    r"|[\[\]{}=.,\n]"
    r"|[^\"'\#\[\]{}=.,\n]++",
    re.DOTALL,
)


class BeyondBoundsError(ValueError):
    """A text that no garden needs; the sentence says which bound, and the line where it is passed."""

    def __init__(self, sentence: str, line: int) -> None:
        super().__init__(sentence)
        self.line = line


@dataclass(frozen=True, kw_only=True)
class Statement:
    """One key with its value, one [table] line, or blank lines and remarks; `line` counts from 1."""

    line: int
    text: str


def statements(text: str) -> Iterator[Statement]:
    """Every statement of a text, whether it is TOML or not; the work grows with the length alone.

    Raises
    ------
    BeyondBoundsError
        Brackets within brackets or a key's parts beyond DEEPEST_NESTING, or more than MOST_VALUES values.

    >>> [one.line for one in statements('a = [\\n1,\\n]\\nb = "\\\\n]"\\n')]
    [1, 4]
    """
    line = begun = 1
    start = depth = parts = values = 0
    for found in PIECE.finditer(text):
        piece = found[0]
        if piece in "[{":
            depth, parts = depth + 1, 0
        elif piece in "]}":
            depth = max(0, depth - 1)
        elif piece == ".":
            parts += 1
        elif piece in "=,\n":
            values, parts = values + (piece != "\n"), 0
        if max(depth, parts + 1) > DEEPEST_NESTING:
            raise BeyondBoundsError(f"is nested more than {DEEPEST_NESTING} deep", line)
        if values > MOST_VALUES:
            raise BeyondBoundsError(f"has more than {MOST_VALUES:,} values, which no garden needs", line)
        line += piece.count("\n")
        if piece == "\n" and depth == 0:
            yield Statement(line=begun, text=text[start : found.end()])
            start, begun = found.end(), line
    if start < len(text):
        yield Statement(line=begun, text=text[start:])
