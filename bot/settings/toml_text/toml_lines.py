"""The line on which each key of a TOML text stands; the standard reader does not tell."""

import tomllib
from collections.abc import Iterator, Mapping
from typing import Any

from bot.settings.toml_text.statements import statements

Path = tuple[str | int, ...]


def lines_of_keys(text: str) -> dict[Path, int]:
    """The line (from 1) of every table and key of a valid TOML text, by path from the top; lists count from 0.

    Each statement is read by the standard reader alone, so quoted keys, lists over several lines and comments
    are read as TOML means them. Blank lines and remarks hold no keys.

    >>> lines_of_keys("name = 'x'\\n[[trees]]\\nname = 'Kaki'")[("trees", 0, "name")]
    3
    """
    found: dict[Path, int] = {}
    counts: dict[Path, int] = {}
    here: Path = ()
    for statement in statements(text):
        line, content = statement.line, tomllib.loads(statement.text)
        if statement.text.lstrip().startswith("["):
            here = _header(content, counts)
            for cut in range(len(here), 0, -1):
                found.setdefault(here[:cut], line)
        else:
            for path in _paths(content):
                found.setdefault(here + path, line)
    return found


def line_of(path: Path, lines: Mapping[Path, int]) -> int | None:
    """The line of a path, or of the nearest table around it; None when not even that is known."""
    while path:
        if path in lines:
            return lines[path]
        path = path[:-1]
    return None


def _header(content: dict[str, Any], counts: dict[Path, int]) -> Path:
    """The full path of a `[table]` or `[[list of tables]]` line, counting the entries of each list."""
    path: Path = ()
    value: Any = content
    while isinstance(value, dict) and value:
        key, value = next(iter(value.items()))
        path = (*path, key)
        if isinstance(value, list):
            counts[path] = counts.get(path, -1) + 1
        if path in counts:
            path = (*path, counts[path])
    return path


def _paths(content: Any, before: Path = ()) -> Iterator[Path]:
    """Every path inside one statement, outermost first."""
    items: Any = ()
    if isinstance(content, dict):
        items = content.items()
    elif isinstance(content, list):
        items = enumerate(content)
    for key, value in items:
        yield (*before, key)
        yield from _paths(value, (*before, key))
