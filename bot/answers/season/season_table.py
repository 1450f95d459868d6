"""All that was told of a garden, as a table."""

import csv
import io
from typing import Any, Final

from bot.answers.season.season_page import entry_words
from bot.logbook import Told
from bot.rounds.inputs import style_of
from bot.settings import Garden
from rules.garden.records import Dieback, Reading
from rules.garden.season_records import Cuttings, Harvest, Photo

COLUMNS: Final = ("day", "time", "tree", "kind", "words", "number", "length_m", "share", "air_c", "person", "file")
FORMULA_STARTS: Final = ("=", "+", "-", "@", "\t", "\r")  # what a spreadsheet would reckon with


def told_as_csv(told: list[Told], garden: Garden) -> str:
    """All records as a table, oldest first, in the garden's own time; no cell is ever taken for a formula."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    for one in told:
        writer.writerow([_harmless(cell) for cell in _row(one, garden)])
    return out.getvalue()


def _row(one: Told, garden: Garden) -> list[Any]:
    entry, zone = one.entry, garden.site.zone
    local = entry.at_utc.astimezone(zone)
    kind = type(entry).__name__.casefold()
    covers = {tree.name: garden.cover_of(tree) for tree in garden.trees}
    words = entry_words(entry, style_of(garden), covers)
    dieback = entry if isinstance(entry, Dieback) else None
    return [
        f"{local:%Y-%m-%d}", f"{local:%H:%M}", entry.tree, kind, words,
        entry.count if isinstance(entry, Harvest | Cuttings) else "",
        dieback.length_m if dieback and dieback.length_m is not None else "",
        round(dieback.lost, 3) if dieback and dieback.lost is not None else "",
        round(entry.air_c, 2) if isinstance(entry, Reading) else "",
        one.person,
        (entry.file or "") if isinstance(entry, Photo) else "",
    ]  # fmt: skip


def _harmless(cell: Any) -> Any:
    """A text that a spreadsheet would take for a formula gets an apostrophe in front; numbers are numbers.

    >>> _harmless("=HYPERLINK(1)"), _harmless(-6.5), _harmless("-6.5 °C")
    ("'=HYPERLINK(1)", -6.5, "'-6.5 °C")
    """
    return f"'{cell}" if isinstance(cell, str) and cell.lstrip(" ").startswith(FORMULA_STARTS) else cell
