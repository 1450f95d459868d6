"""Readings that nobody typed: of a sensor, or from a table. Checked one by one; what is refused is told why."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Final

from bot.logbook import Connection, Source, note_entry, read_readings
from bot.rounds.learning.recorded_weather import LOOKS_BACK
from bot.settings import Garden
from rules.garden.records import Place, Reading
from rules.garden.units import c_from_f

COLDEST_C, WARMEST_C = -60.0, 60.0  # outside this no garden thermometer is believed (assumed, no source)
AHEAD: Final = timedelta(minutes=5)  # how far a sensor's clock may be fast; assumed
# One present reading an hour is kept of a sensor: of one night a few say all (see `rules.learning`), and ten years of
# one every minute would make every question to the logbook slow.
HOUR: Final = timedelta(hours=1)
LONGEST_SHOWN: Final = 40  # letters of a wrong word that are given back
TRUE: Final = {"true", "yes", "1", "low", "min", "minimum"}
FALSE: Final = {"false", "no", "0", "", "now"}
Row = Mapping[str, object]


@dataclass(frozen=True, kw_only=True)
class TakenReadings:
    """What became of some readings.

    `taken` are new, `known` stood in the logbook, `passed_over` came within an hour of another one; `refused` has a
    sentence for each of the others.
    """

    taken: int
    known: int
    passed_over: int
    refused: tuple[str, ...]


def take_readings(c: Connection, garden: Garden, person: str, rows: Iterable[Row], now: datetime) -> TakenReadings:
    """Some readings noted.

    Parameters
    ----------
    person
        Who tells them, such as "a sensor"; they stand under this name.
    rows
        Each with "tree", "air_c" or "air_f", "at" (ISO 8601; without a zone it is the garden's clock; left out it is
        now), and if wanted "place" ("air", "inside") and "low" (whether it is the low of the night that ended that
        morning).
    """
    read = [read_row(row, garden, now) for row in rows]
    readings = sorted((one for one in read if isinstance(one, Reading)), key=lambda one: one.at_utc)
    source = Source(garden=garden.name, person=person, update_id=None, noted_utc=now)
    kept, known = _kept(c, garden, readings)
    counts = {"taken": 0, "known": 0, "passed_over": 0}
    for one in readings:
        place = (one.tree, one.place, one.is_minimum)
        if (*place, one.at_utc) in known:
            counts["known"] += 1
        elif not one.is_minimum and (*place, _hour(one.at_utc)) in kept:
            counts["passed_over"] += 1
        else:
            note_entry(c, source, one)
            counts["taken"] += 1
        known.add((*place, one.at_utc))
        kept.add((*place, _hour(one.at_utc)))
    return TakenReadings(**counts, refused=tuple(one for one in read if isinstance(one, str)))


def _kept(
    c: Connection, garden: Garden, readings: Sequence[Reading]
) -> tuple[set[tuple[str, Place, bool, datetime]], set[tuple[str, Place, bool, datetime]]]:
    """The hours in which a reading stands already, and the moments."""
    if not readings:
        return set(), set()
    standing = read_readings(c, garden.name, _hour(readings[0].at_utc))
    places = [((one.tree, one.place, one.is_minimum), one.at_utc) for one in standing]
    return {(*place, _hour(at)) for place, at in places}, {(*place, at) for place, at in places}


def _hour(at: datetime) -> datetime:
    return at.astimezone(UTC).replace(minute=0, second=0, microsecond=0)


def read_row(row: Row, garden: Garden, now: datetime) -> Reading | str:
    """One reading, or the sentence that says why it is none."""
    try:
        place = _place(row.get("place"))
        return Reading(
            tree=_tree(row.get("tree"), garden),
            air_c=_air_c(row),
            at_utc=_at(row.get("at"), garden, now),
            place=place,
            is_minimum=_is_low(row.get("low")),
        )
    except _RefusedError as refused:
        return str(refused)


class _RefusedError(ValueError):
    """One field that cannot be taken; the sentence says which, its bound and its value."""


def _shown(value: object) -> str:
    text = str(value)
    return text if len(text) <= LONGEST_SHOWN else f"{text[:LONGEST_SHOWN]}…"


def _tree(given: object, garden: Garden) -> str:
    name = str(given or "").strip().casefold()
    for tree in garden.trees:
        if name in {one.casefold() for one in (tree.name, *tree.short_names)}:
            return tree.name
    known = ", ".join(tree.name for tree in garden.trees)
    raise _RefusedError(f'There is no tree "{_shown(given or "")}" in {garden.name}; there are {known}.')


def _air_c(row: Row) -> float:
    given = {name: row[name] for name in ("air_c", "air_f") if row.get(name) not in (None, "")}
    if len(given) != 1:
        raise _RefusedError(f"A reading needs air_c or air_f, one of them; got {' and '.join(given) or 'neither'}.")
    name, value = next(iter(given.items()))
    try:
        number = math.nan if isinstance(value, bool) else float(str(value).strip().replace(",", ".").replace("−", "-"))
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise _RefusedError(f'{name} must be a number, got "{_shown(value)}".')
    air_c = c_from_f(number) if name == "air_f" else number
    if not COLDEST_C <= air_c <= WARMEST_C:
        raise _RefusedError(f"{name} is {number:g}; no garden thermometer shows less than -60 or more than 60 °C.")
    return air_c


def _at(given: object, garden: Garden, now: datetime) -> datetime:
    if given is None:  # a sensor without a clock tells what it reads now; a table's empty cell is no time
        return now.astimezone(UTC)
    try:
        at = datetime.fromisoformat(str(given or "").strip())
        at = (at if at.tzinfo else at.replace(tzinfo=garden.site.zone)).astimezone(UTC)
    except (ValueError, OverflowError):
        raise _RefusedError(f'at must be a time like 2026-01-14T06:30, got "{_shown(given or "")}".') from None
    if at > now + AHEAD:
        raise _RefusedError(f"at is {_shown(given)}, which is still to come; is the sensor's clock right?")
    if at < now - LOOKS_BACK:
        raise _RefusedError(f"at is {_shown(given)}; readings older than {LOOKS_BACK.days} days teach nothing.")
    return min(at, now.astimezone(UTC))


def _place(given: object) -> Place:
    text = str(given or Place.AIR).strip().casefold()
    try:
        return Place(text)
    except ValueError:
        raise _RefusedError(f'place must be "air" or "inside", got "{_shown(given)}".') from None


def _is_low(given: object) -> bool:
    text = str(given if given is not None else "").strip().casefold()
    if text not in TRUE | FALSE:
        raise _RefusedError(f'low must be true or false, got "{_shown(given)}".')
    return text in TRUE
