"""A winter that is over at one tree: each night's air, its wood, its LT10, and what its dieback shows."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final

import numpy as np

from rules.garden.cover import STATE_INDEX, CoverState
from rules.garden.records import Dieback
from rules.garden.tree import Phase, Site, Tree
from rules.heat.night_lows import wood_minima
from rules.learning import Outcome
from rules.outlook.inputs import OutlookInputs, tree_weathers
from rules.outlook.past import Past, past_of
from rules.weather.hourly import HourlyWeather, Hours, night_minima
from rules.weather.timeline import Timeline, timeline
from rules.wood.hardiness import season_of
from rules.wood.season import season_place

EARLY: Final = timedelta(days=100)  # a season younger than this has no winter to look back on; assumed
HOURS_AHEAD: Final = 2  # of the past itself are left as what lies ahead, which a timeline must have
SEASON_LASTS: Final = timedelta(days=330)  # from early September to July; in the south from March to January


@dataclass(frozen=True, kw_only=True)
class NightGone:
    """One night that is over: the low of the air at the tree and of its wood, and what the wood was safe to [°C].

    Of the wood, not of the leaves that may have been on it: dieback is told of wood. Bare, its low is that of the air.
    """

    evening: date
    air_c: float
    wood_c: float
    lt10_c: float
    lt50_c: float
    phase: Phase

    @property
    def beyond_c(self) -> float:
        """How far the wood was from harm [°C]; below 0 it was too cold."""
        return self.wood_c - self.lt10_c


def season_looked_back(today: date, site: Site) -> date:
    """First day of the season whose winter can be looked back on: this one's, or early in it the one before."""
    start = season_place(today, site.latitude_deg).start
    return start if today - start >= EARLY else season_place(start - timedelta(days=1), site.latitude_deg).start


def winters_gone(
    inputs: OutlookInputs, trees: Sequence[Tree], starts: Sequence[date], now: datetime
) -> dict[str, dict[date, list[NightGone]]]:
    """The nights of some seasons at some trees, by name and first day of the season; empty where no weather is known.

    Parameters
    ----------
    inputs
        With a past that reaches back to the first of the seasons. What was accepted of the trees' winters is left out:
        each outcome is judged by what the model itself held.
    trees
        Some of its trees.
    starts
        First days of the seasons, as `season_looked_back` gives them.
    now
        Aware.
    """
    line = _line(inputs.past, now) if inputs.past else None
    past = past_of(inputs, line, trees) if line else None
    if past is None:
        return {tree.name: {start: [] for start in starts} for tree in trees}
    air_c = [weather.air_c for weather in tree_weathers(inputs, past.weather, trees)]
    today = now.astimezone(inputs.site.zone).date()
    return {
        tree.name: {
            start: _nights(inputs, tree, past, i, air_c[i], start, min(today, start + SEASON_LASTS)) for start in starts
        }
        for i, tree in enumerate(trees)
    }


def _line(past: HourlyWeather, now: datetime) -> Timeline | None:
    """The past up to its last known hours, which a timeline takes for what lies ahead."""
    told = np.flatnonzero(~np.isnan(past.air_c))
    if len(told) <= HOURS_AHEAD:
        return None
    last = past.start_utc + timedelta(hours=int(told[-1]))
    return timeline(past, past, min(now, last - timedelta(hours=HOURS_AHEAD)))


def _nights(
    inputs: OutlookInputs, tree: Tree, past: Past, at: int, air_c: Hours, start: date, last: date
) -> list[NightGone]:
    """The whole nights of one season at one tree."""
    zone = inputs.site.zone
    wood_days = past.wood_days(at, zone).believed()[0]
    covered = past.states[at] != STATE_INDEX[CoverState.BARE]
    air, wood = (
        {low.evening: low.air_c for low in lows if low.complete}
        for lows in (
            night_minima(past.weather, zone, air_c=air_c),
            wood_minima(past.weather, zone, past.wood_c[at], covered),
        )
    )
    evenings = [evening for evening in wood if start <= evening <= last and evening in air]
    if not evenings or np.isnan(wood_days.means_from(start, (last - start).days + 1)).all():
        return []
    course = season_of(tree, inputs.site, wood_days, inputs.records.sightings, last)
    found = [(evening, (evening - course.start).days) for evening in evenings]
    return [
        NightGone(
            evening=evening, air_c=air[evening], wood_c=wood[evening], lt10_c=float(course.lasting_lt10_c[day]),
            lt50_c=float(course.lasting_lt50_c[day]), phase=course.phases[day],
        )
        for evening, day in found
        if 0 <= day < len(course.phases)
    ]  # fmt: skip


def outcome_of(nights: Sequence[NightGone], dieback: Dieback, evening: date | None = None) -> Outcome | None:
    """What one dieback shows: judged by the night before it was told that was furthest beyond, or by `evening`.

    None where the share lost is not known, or no such night.
    """
    before = [one for one in nights if one.evening < dieback.at_utc.date() and evening in (None, one.evening)]
    if dieback.lost is None or not before:
        return None
    worst = min(before, key=lambda one: one.beyond_c)
    return Outcome(
        tree=dieback.tree, evening=worst.evening, phase=worst.phase, tissue_c=worst.wood_c, lt10_c=worst.lt10_c,
        lt50_c=worst.lt50_c, lost=dieback.lost,
    )  # fmt: skip
