"""Answers of the messenger read within bounds: whatever somebody nested into an update, the others go on."""

import json
import re
from typing import Any, Final

DEEPEST: Final = 64  # levels kept of an answer; the messenger's own objects nest some ten deep. Assumed
AROUND: Final = 2  # levels around an update in an answer: the answer itself, and the list of updates
LONGEST_NUMBER: Final = 19  # figures; no id of the messenger's has more, and thousands stop the library. Assumed
STRING: Final = re.compile(r'"(?:[^"\\]|\\.)*"?', re.DOTALL)


def read_shallow(text: str) -> Any:
    """The JSON value of `text`; where it nests deeper than a parser goes, null stands below `DEEPEST` levels.

    Raises
    ------
    ValueError
        The text is no JSON.
    """
    try:
        return json.loads(text, parse_int=_whole)
    except RecursionError:
        return json.loads(_cut(text), parse_int=_whole)


def is_deep(update: Any) -> bool:
    """Whether an update nests so deep that something of it was cut off, or would be."""
    level = [update]
    for _ in range(DEEPEST - AROUND - 1):
        level = [inner for one in level for inner in _inside(one) if isinstance(inner, dict | list)]
        if not level:
            return False
    return True


def _inside(value: Any) -> list[Any]:
    return list(value.values()) if isinstance(value, dict) else value


def _whole(figures: str) -> int | None:
    return int(figures) if len(figures.lstrip("-")) <= LONGEST_NUMBER else None


def _cut(text: str) -> str:
    """The text without what is nested deeper: one pass over it, since a parser would have to go as deep."""
    kept: list[str] = []
    depth = begun = i = 0
    while i < len(text):
        letter = text[i]
        if letter == '"' and (string := STRING.match(text, i)):
            i = string.end() - 1
        elif letter in "[{":
            depth += 1
            if depth == DEEPEST + 1:
                kept += [text[begun:i], "null"]
        elif letter in "]}":
            if depth == DEEPEST + 1:
                begun = i + 1
            depth -= 1
        i += 1
    return "".join([*kept, text[begun:]]) if depth <= DEEPEST else "".join(kept)
