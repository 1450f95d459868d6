"""What is said once a season, whichever door it comes by: cautions, each under a name of its own."""

import json
from collections.abc import Iterable, Sequence
from datetime import datetime

from bot.logbook import Connection, note_state, read_state, read_states
from bot.settings import Garden
from rules.garden.tree import Tending
from rules.jobs import Caution


def first_time(c: Connection, garden: Garden, name: str, now: datetime) -> bool:
    """Whether something is said for the first time since July; from now on it counts as said."""
    if read_state(c, garden.name, _of_season(garden, name, now)) is not None:
        return False
    _note(c, garden, name, now)
    return True


def way_told(c: Connection, garden: Garden, tending: Tending) -> bool:
    """Whether what a way of tending costs was told already: once for good, whichever door it comes by."""
    return read_state(c, garden.name, _of_way(tending)) is not None


def note_way_told(c: Connection, garden: Garden, tending: Tending) -> None:
    """What a way costs counts as told."""
    note_state(c, garden.name, _of_way(tending), json.dumps(True))


def _of_way(tending: Tending) -> str:
    return f"price of {tending}"


def unsaid(c: Connection, garden: Garden, cautions: Iterable[Caution], now: datetime) -> list[Caution]:
    """The cautions that nobody heard yet this season, in their order."""
    asked = {_name(caution): caution for caution in cautions}
    return [asked[name] for name in unsaid_names(c, garden, asked, now)]


def unsaid_names(c: Connection, garden: Garden, names: Iterable[str], now: datetime) -> list[str]:
    """Those of some names under which nothing was said yet this season, in their order."""
    asked = {_of_season(garden, name, now): name for name in names}
    said = read_states(c, garden.name, asked) if asked else {}
    return [name for key, name in asked.items() if key not in said]


def note_said(c: Connection, garden: Garden, cautions: Sequence[Caution], now: datetime) -> None:
    """These cautions count as said this season."""
    for caution in cautions:
        _note(c, garden, _name(caution), now)


def _note(c: Connection, garden: Garden, name: str, now: datetime) -> None:
    note_state(c, garden.name, _of_season(garden, name, now), json.dumps(True))


def _name(caution: Caution) -> str:
    return f"caution {caution}"


def _of_season(garden: Garden, name: str, now: datetime) -> str:
    local = now.astimezone(garden.site.zone)
    return f"{name} {local.year if local.month >= 7 else local.year - 1}"
