"""One tree's season up to now, day by day: what its wood felt and was safe to, how its cover stood, what was seen."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from rules.garden.cover import CoverState
from rules.garden.records import Deed, Reading, Sighting
from rules.garden.tree import Phase, Tree
from rules.outlook.inputs import OutlookInputs, accepted_shift_c, departure_c, timeline_of
from rules.outlook.past import Past, past_of
from rules.wood.daily_temperatures import WoodDays
from rules.wood.hardiness import season_of
from rules.wood.season import season_place

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Spell:
    """A stretch of time with the cover in one state; None where nobody has said."""

    state: CoverState | None
    from_utc: datetime
    until_utc: datetime


@dataclass(frozen=True, kw_only=True, eq=False)
class SeasonSoFar:
    """The season of one tree.

    Parameters
    ----------
    tree, now
        Which, and up to when.
    first
        The first day anything is known of; the arrays run from it, shape (days,), and are empty where nothing is.
    low_c, high_c
        Lowest and highest temperature of the wood on each local day [°C]; NaN is a day nobody knows.
    lt10_c, lt50_c
        What the watched organ bore that day: 10 and 50 % injury [°C], with what was accepted of the tree's winters.
    spells
        How the cover stood, oldest first; empty for a tree without one.
    deeds, sightings, readings
        Of this tree since `first`, oldest first.
    phases
        Of the tree's year, day by day.
    """

    tree: Tree
    now: datetime
    first: date
    low_c: Floats
    high_c: Floats
    lt10_c: Floats
    lt50_c: Floats
    spells: tuple[Spell, ...]
    deeds: tuple[Deed, ...]
    sightings: tuple[Sighting, ...]
    readings: tuple[Reading, ...]
    phases: tuple[Phase, ...] = ()

    @property
    def days(self) -> int:
        """How many days there are."""
        return len(self.low_c)

    @property
    def too_cold(self) -> tuple[date, ...]:
        """The days on which the wood felt colder than it was safe to."""
        with np.errstate(invalid="ignore"):
            below = np.flatnonzero(self.low_c < self.lt10_c)
        return tuple(self.first + timedelta(days=int(day)) for day in below)


def season_so_far(inputs: OutlookInputs, name: str, now: datetime) -> SeasonSoFar:
    """The season of the tree called `name`, since 7 September (7 March in the south) or as far as the past is known.

    Raises
    ------
    KeyError
        If the garden has no such tree.
    """
    return seasons_so_far(inputs, [name], now)[name]


def seasons_so_far(inputs: OutlookInputs, names: Sequence[str], now: datetime) -> dict[str, SeasonSoFar]:
    """The same of some trees, by name."""
    trees, line = [inputs.tree(name) for name in names], timeline_of(inputs, now)
    past = past_of(inputs, line, trees) if line else None
    field = past.field_days(inputs.site.zone) if past else None
    return {
        tree.name: _so_far(inputs, tree, now, *_days_so_far(past, i, inputs.site.zone, now), field)
        for i, tree in enumerate(trees)
    }


def _so_far(
    inputs: OutlookInputs, tree: Tree, now: datetime, tissue: WoodDays, air: WoodDays, field: WoodDays | None
) -> SeasonSoFar:
    name, today = tree.name, now.astimezone(inputs.site.zone).date()
    start = season_place(today, inputs.site.latitude_deg).start
    first = max(start, tissue.first) if tissue.days else today
    count = min(tissue.days - (first - tissue.first).days, (today - first).days + 1)
    skip = (first - tissue.first).days
    lt10_c, lt50_c, phases = np.empty(0), np.empty(0), tuple[Phase, ...]()
    if count > 0:
        apart_c = departure_c(inputs, tree, field, today)
        course = season_of(tree, inputs.site, air, inputs.records.sightings, today, apart_c)
        at = (first - course.start).days
        phases = course.phases[at : at + count]
        shift_c = np.array([accepted_shift_c(inputs, tree, phase) for phase in phases])
        lt10_c, lt50_c = course.lt10_c[at : at + count] + shift_c, course.lt50_c[at : at + count] + shift_c
    begins = datetime(first.year, first.month, first.day, tzinfo=inputs.site.zone)
    records = inputs.records
    return SeasonSoFar(
        tree=tree, now=now, first=first,
        low_c=tissue.min_c[skip : skip + len(lt10_c)], high_c=tissue.max_c[skip : skip + len(lt10_c)],
        lt10_c=lt10_c, lt50_c=lt50_c,
        spells=spells(records.deeds, name, begins, now) if tree.cover else (),
        deeds=tuple(one for one in records.deeds if one.tree == name and begins <= one.at_utc <= now),
        sightings=tuple(one for one in records.sightings if one.tree == name and begins <= one.at_utc <= now),
        readings=tuple(one for one in records.readings if one.tree == name and begins <= one.at_utc <= now),
        phases=phases,
    )  # fmt: skip


def spells(deeds: Sequence[Deed], tree: str, begins: datetime, now: datetime) -> tuple[Spell, ...]:
    """How a cover stood between two moments; unknown before its first deed."""
    state: CoverState | None = None
    turns: list[tuple[datetime, CoverState | None]] = [(begins, None)]
    for deed in (one for one in deeds if one.tree == tree and one.at_utc <= now):
        at = max(deed.at_utc, begins)
        if deed.state != state:
            turns.append((at, deed.state))
            state = deed.state
    ends = [at for at, _ in turns[1:]] + [now]
    return tuple(
        Spell(state=kept, from_utc=at, until_utc=end) for (at, kept), end in zip(turns, ends, strict=True) if at < end
    )


def _days_so_far(past: Past | None, tree: int, zone: ZoneInfo, now: datetime) -> tuple[WoodDays, WoodDays]:
    """What stood against a tree's limits on each day, and the air it was in, from the first known day to the last."""
    if past is None:
        nothing = WoodDays.nothing(now.astimezone(zone).date())
        return nothing, nothing
    tissue, air = (days.believed()[0] for days in (past.tissue_days(tree, zone), past.wood_days(tree, zone)))
    known = np.flatnonzero(~np.isnan(tissue.mean_c) & ~np.isnan(air.mean_c))
    if not len(known):
        return WoodDays.nothing(tissue.first), WoodDays.nothing(tissue.first)
    cut = slice(int(known[0]), int(known[-1]) + 1)
    return tissue.cut(cut), air.cut(cut)
