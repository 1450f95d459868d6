"""The few pieces of HTML the page is made of. Every word that comes from outside goes through `text`."""

from collections.abc import Iterable, Sequence
from html import escape
from typing import NewType

Html = NewType("Html", str)


def text(words: str) -> Html:
    """Words, with nothing in them that a browser would take for markup.

    >>> text('Wall <b>"fig"</b>')
    'Wall &lt;b&gt;&quot;fig&quot;&lt;/b&gt;'
    """
    return Html(escape(words))


def joined(parts: Iterable[Html]) -> Html:
    """Pieces one below the other."""
    return Html("\n".join(part for part in parts if part))


def tagged(tag: str, inside: Html, **attributes: str) -> Html:
    """One element; a trailing underscore keeps a name such as `class_` apart from the language's own."""
    said = "".join(f' {name.rstrip("_").replace("_", "-")}="{escape(value)}"' for name, value in attributes.items())
    return Html(f"<{tag}{said}>{inside}</{tag}>")


def paragraph(words: str) -> Html:
    """One paragraph."""
    return tagged("p", text(words))


def listed(lines: Sequence[str]) -> Html:
    """A list; nothing where there is nothing to list."""
    return tagged("ul", joined(tagged("li", text(line)) for line in lines)) if lines else Html("")


def table(caption: str, columns: Sequence[str], rows: Sequence[Sequence[str]]) -> Html:
    """A table whose first column names its rows; it scrolls by itself where the screen is narrow.

    Raises
    ------
    ValueError
        A row that has not one cell for each column.
    """
    if any(len(row) != len(columns) for row in rows):
        raise ValueError(f"each row of '{caption}' needs {len(columns)} cells")
    head = tagged("thead", tagged("tr", joined(tagged("th", text(name), scope="col") for name in columns)))
    body = tagged("tbody", joined(_row(row) for row in rows))
    whole = tagged("table", joined([tagged("caption", text(caption)), head, body]))
    return tagged("div", whole, class_="wide", tabindex="0", role="region", aria_label=caption)


def _row(cells: Sequence[str]) -> Html:
    first, *rest = cells
    return tagged("tr", joined([tagged("th", text(first), scope="row"), *(tagged("td", text(one)) for one in rest)]))


def part(name: str, title: str, inside: Iterable[Html]) -> Html:
    """One part of the page under its heading, to be reached by name."""
    heading = tagged("h2", text(title), id=f"{name}-title")
    return tagged("section", joined([heading, *inside]), id=name, aria_labelledby=f"{name}-title")
