"""`bedstraw readings`: a table of thermometer readings brought into the logbook."""

import csv
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from bot.commands.mistakes import MistakeError
from bot.commands.opening import open_setting
from bot.logbook.garden.entries import TABLE
from bot.sensors.readings import Row, TakenReadings, take_readings

MOST_SHOWN: Final = 10  # refusals told in full
NAMES: Final = {
    "at": ("at", "time", "date", "datetime", "timestamp"),
    "tree": ("tree", "sensor", "name"),
    "air_c": ("air_c", "c", "°c", "celsius", "temperature_c", "temp_c"),
    "air_f": ("air_f", "f", "°f", "fahrenheit", "temperature_f", "temp_f"),
    "place": ("place", "where"),
    "low": ("low", "min", "minimum"),
}


def readings(path: Path, table: Path) -> str:
    """What became of the readings of a table.

    Raises
    ------
    MistakeError
        The table has no column for time, tree or temperature, or is no text.
    """
    rows = read_table(table)
    setting, _ = open_setting(path, begun=True)
    try:
        with setting.logbook.begin() as c:
            taken = take_readings(c, setting.garden, TABLE, rows, datetime.now(UTC))
    finally:
        setting.logbook.close()
    return _told(taken, table)


def read_table(table: Path) -> list[Row]:
    """The rows of a CSV file under our own names of its columns; commas, semicolons or tabs between them."""
    try:
        text = table.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise MistakeError(f"{table} is no text in UTF-8.") from None
    lines = text.splitlines()
    mark = max(",;\t", key=(lines or [""])[0].count)
    reader = csv.DictReader(lines, delimiter=mark)
    ours = {name: _ours(name) for name in reader.fieldnames or ()}
    missing = [name for name in ("at", "tree") if name not in ours.values()]
    if missing or not {"air_c", "air_f"} & set(ours.values()):
        needed = ", ".join([*missing, *([] if {"air_c", "air_f"} & set(ours.values()) else ["air_c or air_f"])])
        raise MistakeError(f"{table} has no column {needed}; its first line must name time, tree and air_c or air_f.")
    try:
        return [{ours[name] or name: value for name, value in row.items() if name in ours} for row in reader]
    except csv.Error as error:
        raise MistakeError(f"{table} is no table: {error}.") from None


def _ours(name: str) -> str:
    plain = name.strip().casefold().replace(" ", "_")
    return next((ours for ours, theirs in NAMES.items() if plain in theirs), "")


def _told(taken: TakenReadings, table: Path) -> str:
    lines = [f"{taken.taken} readings taken from {table.name}."]
    lines += [f"{taken.known} stood in the logbook already."] if taken.known else []
    lines += [f"{taken.passed_over} passed over: one an hour is kept at each place."] if taken.passed_over else []
    lines += [f"Refused: {sentence}" for sentence in taken.refused[:MOST_SHOWN]]
    more = len(taken.refused) - MOST_SHOWN
    return "\n".join([*lines, *([f"And {more} more refused."] if more > 0 else [])])
