"""`bedstraw move`: the logbook carried between a file and a database server."""

from pathlib import Path

from tqdm import tqdm

from bot.commands.opening import logbook_place
from bot.logbook import open_logbook
from bot.logbook.database.moving import move_logbook
from bot.settings import read_secrets


def move(source: str, target: str) -> str:
    """Carry a logbook to `target`; `source` is a garden file, a logbook file or an address.

    Raises
    ------
    LogbookError
        There is no such logbook, a program has one of the two open, the new place is not empty, or the two differ in
        the end.
    """
    here = open_logbook(_place(source), alone=True)
    try:
        there = open_logbook(target if "://" in target else Path(target), alone=True)
        try:
            with tqdm(unit=" rows", leave=False, disable=None) as bar:

                def tell(name: str, rows: int) -> None:
                    bar.set_description(name)
                    bar.update(rows)

                moved = move_logbook(here, there, tell)
            where = there.name
        finally:
            there.close()
    finally:
        here.close()
    counts = ", ".join(f"{rows} {name}" for name, rows in moved.items() if rows)
    return (
        f"Moved {sum(moved.values())} rows and compared each one: {counts}.\n"
        f"The logbook now lies in {where}. Set BEDSTRAW_LOGBOOK to it; the old one is unchanged."
    )


def _place(source: str) -> Path | str:
    """Where the logbook lies that is meant by a garden file, a logbook file or an address."""
    if "://" in source:
        return source
    path = Path(source)
    place = logbook_place(read_secrets(None, path)) if path.suffix == ".toml" else path
    if isinstance(place, Path) and not place.exists():
        raise FileNotFoundError(2, "there is no such logbook", str(place))
    return place
