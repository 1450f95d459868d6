"""The past marched through, once for all who ask: the air each tree's wood was in, and the heat its cover holds now."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from rules.garden.cover import Cover
from rules.garden.records import state_series
from rules.garden.tree import Tree
from rules.heat.balance import HeatStart, InsideTemperatures, against_limits_c, inside_temperatures
from rules.outlook.inputs import Carried, OutlookInputs, cover_on, timeline_of, tree_hardiness, tree_weathers
from rules.site.microclimate import TreeWeather
from rules.weather.hourly import HourlyWeather
from rules.weather.timeline import Timeline, sliced
from rules.wood.daily_temperatures import wood_days_from
from rules.wood.hardiness import Hardiness, WoodDays

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

INSTANT: Final = timedelta(microseconds=1)
SETTLED_H: Final = 36  # hours before this are told for good: late answers and better past weather come later; assumed


@dataclass(frozen=True, kw_only=True, eq=False)
class Exposure:
    """What some trees stood in, hour by hour.

    `covers` and `weathers` one a tree; `states` of the covers as the deeds left them, shape (trees, hours).
    """

    covers: Sequence[Cover]
    states: Ints
    weathers: Sequence[TreeWeather]


@dataclass(frozen=True, kw_only=True, eq=False)
class Past:
    """The hours gone by at some trees.

    Parameters
    ----------
    weather
        The open field, without gaps; `known` says which hours were told, shape (hours,).
    states
        Of the covers as the deeds left them, shape (trees, hours).
    daylight
        Share of it that comes into each cover by state, shape (trees, states).
    air_c
        At each tree, inside its cover where one is on [°C], shape (trees, hours).
    finish
        What covers and ground hold at the last hour.
    """

    weather: HourlyWeather
    known: npt.NDArray[np.bool_]
    states: Ints
    daylight: Floats
    air_c: Floats
    finish: HeatStart

    def wood_days(self, tree: int, zone: ZoneInfo) -> WoodDays:
        """The air the wood of one tree, by its index, was in by day, which hardens and wakes it."""
        return wood_days_from(self.weather, self.air_c[tree], self.known, zone, self.states[tree], self.daylight[tree])

    def field_days(self, zone: ZoneInfo) -> WoodDays:
        """The air of the open field by day."""
        return wood_days_from(self.weather, self.weather.air_c, self.known, zone)


@dataclass(frozen=True, kw_only=True, eq=False)
class TissuePast(Past):
    """The same with what stands against the limits of the wood.

    `wood_c` [°C], shape (trees, hours), as limits count: see `against_limits_c`.
    """

    wood_c: Floats

    def tissue_days(self, tree: int, zone: ZoneInfo) -> WoodDays:
        """What stood against the limits of one tree, by its index, by day."""
        return wood_days_from(self.weather, self.wood_c[tree], self.known, zone, self.states[tree], self.daylight[tree])


def fits(carried: Carried, inputs: OutlookInputs, past: HourlyWeather, states: Ints) -> bool:
    """Whether what was carried may be carried on into the past of `inputs`; `states` as those of `Past`."""
    if not carried.start_utc <= past.start_utc < carried.heat.at_utc < past.end_utc:
        return False
    if tuple(inputs.trees) != carried.trees or inputs.offsets != carried.offsets:
        return False
    known = carried.states[:, _hours_between(carried.start_utc, past.start_utc) :]
    same = np.array_equal(states[:, : known.shape[1]], known)
    return same and _stood(inputs, sliced(past, 0, known.shape[1])) == _since(carried.covers, past.start_utc)


def exposure(inputs: OutlookInputs, hours: HourlyWeather, trees: Sequence[Tree]) -> Exposure:
    """What some trees of a garden stood in through some hours of the open field, their covers as at the first hour."""
    return Exposure(
        covers=[cover_on(inputs, tree, hours.start_utc) for tree in trees],
        states=_states(inputs, hours, trees),
        weathers=tree_weathers(inputs, hours, trees),
    )


def past_of(
    inputs: OutlookInputs, line: Timeline, trees: Sequence[Tree], last_h: int | None = None
) -> TissuePast | None:
    """The past of some trees, all of it or its last hours; None where fewer than two hours are known."""
    if line.past is None or line.past.hours < 2 or not trees:
        return None
    first = 0 if last_h is None else max(0, line.past.hours - last_h)
    hours = sliced(line.past, first, line.past.hours)
    inside, states = _marched(inputs, hours, trees, None), _states(inputs, hours, trees)
    covers, skies = [cover_on(inputs, tree) for tree in trees], tree_weathers(inputs, hours, trees)
    wood_c, _ = against_limits_c((inside.wood_c, inside.top_c, inside.air_c), covers, states, skies)
    return TissuePast(
        weather=hours, known=line.past_known[first:], states=states, daylight=_daylight(inputs, trees),
        air_c=inside.air_c, finish=inside.finish, wood_c=wood_c,
    )  # fmt: skip


def heat_now(inputs: OutlookInputs, line: Timeline, trees: Sequence[Tree], last_h: int) -> HeatStart | None:
    """What covers and ground of some trees hold now, from what the last look handed on, or else the last hours."""
    past, carried = line.past, inputs.carried
    names = [tree.name for tree in inputs.trees]
    if past is None or carried is None or not fits(carried, inputs, past, _states(inputs, past, inputs.trees)):
        found = past_of(inputs, line, trees, last_h)
        return found.finish if found else None
    held = carried.heat.of([names.index(tree.name) for tree in trees])
    return _marched(inputs, sliced(past, past.index_of(held.at_utc), past.hours), trees, held).finish


def past_carried(inputs: OutlookInputs, line: Timeline, carried: Carried | None) -> tuple[Past | None, Carried | None]:
    """The past of all trees, marched on from where the last round left it, and what the next round may carry on."""
    past = line.past
    if past is None or past.hours < 2:
        return None, None
    states = _states(inputs, past, inputs.trees)
    kept = carried if carried and fits(carried, inputs, past, states) else None
    air_c, start = _carried_on(kept, past, len(inputs.trees))
    air_c, start = _marched_on(inputs, past, air_c, start, past.hours - 1 - SETTLED_H)
    new = _carry(inputs, past, air_c, states, start) if start else None
    air_c, start = _marched_on(inputs, past, air_c, start, past.hours - 1)
    if start is None:
        return None, new
    lit = _daylight(inputs, inputs.trees)
    return Past(weather=past, known=line.past_known, states=states, daylight=lit, air_c=air_c, finish=start), new


def hardiness_now(inputs: OutlookInputs, tree: Tree, now: datetime) -> Hardiness:
    """What one tree can take in the night that begins today, from all that is on record."""
    line = timeline_of(inputs, now)
    today = now.astimezone(inputs.site.zone).date()
    past = past_of(inputs, line, [tree]) if line else None
    wood_days = past.wood_days(0, inputs.site.zone) if past else WoodDays.nothing(today)
    return tree_hardiness(inputs, tree, wood_days, today, past.field_days(inputs.site.zone) if past else None)


def _states(inputs: OutlookInputs, hours: HourlyWeather, trees: Sequence[Tree]) -> Ints:
    times = hours.times_utc()
    return np.stack([state_series(inputs.records, tree.name, times) for tree in trees])


def _daylight(inputs: OutlookInputs, trees: Sequence[Tree]) -> Floats:
    return np.array([cover_on(inputs, tree).daylight for tree in trees])


def _marched(
    inputs: OutlookInputs, hours: HourlyWeather, trees: Sequence[Tree], start: HeatStart | None
) -> InsideTemperatures:
    """The hours marched through, stretch by stretch between the changes of any cover's condition."""
    marched: InsideTemperatures | None = None
    for first, last in _stretches(inputs, hours, trees):
        stretch = sliced(hours, first, last + 1)
        stood = exposure(inputs, stretch, trees)
        held = marched.finish if marched else start
        inside = inside_temperatures(stood.covers, stood.states, stood.weathers, held, soil=inputs.soil)
        marched = _joined(marched, inside) if marched else inside
    if marched is None:
        raise ValueError(f"a past must be marched through at least two hours, got {hours.hours}")
    return marched


def _stretches(inputs: OutlookInputs, hours: HourlyWeather, trees: Sequence[Tree]) -> Iterator[tuple[int, int]]:
    """First and last hour mark of each stretch in which every cover keeps its condition."""
    named = {tree.name for tree in trees}
    conditions, deeds = inputs.records.conditions, inputs.records.deeds if inputs.records.conditions else ()
    changes = [one.at_utc for one in conditions if one.tree in named]
    changes += [one.at_utc for one in deeds if one.tree in named]
    marks = {hours.index_of(at - INSTANT) + 1 for at in changes}
    cuts = sorted(mark for mark in marks if 0 < mark < hours.hours - 1)
    yield from pairwise([0, *cuts, hours.hours - 1])


def _joined(before: InsideTemperatures, after: InsideTemperatures) -> InsideTemperatures:
    """Two stretches as one; the mark they share is told by the first."""
    wood_c, top_c, air_c = (
        np.concatenate([first, last[..., 1:]], axis=-1)
        for first, last in ((before.wood_c, after.wood_c), (before.top_c, after.top_c), (before.air_c, after.air_c))
    )
    return replace(after, start_utc=before.start_utc, wood_c=wood_c, top_c=top_c, air_c=air_c)


def _carried_on(kept: Carried | None, past: HourlyWeather, trees: int) -> tuple[Floats, HeatStart | None]:
    """Air so far (trees, hours) and the heat at its end; empty and None to begin anew."""
    if kept is None:
        return np.empty((trees, 0)), None
    return kept.air_c[:, _hours_between(kept.start_utc, past.start_utc) :], kept.heat


def _marched_on(
    inputs: OutlookInputs, past: HourlyWeather, air_c: Floats, start: HeatStart | None, last: int
) -> tuple[Floats, HeatStart | None]:
    """Air up to mark `last`, and the heat held there; as they are where they reach it already."""
    first = max(0, air_c.shape[1] - 1)
    if last <= first:
        return air_c, start
    inside = _marched(inputs, sliced(past, first, last + 1), inputs.trees, start)
    new = inside.air_c[:, 1:] if air_c.shape[1] else inside.air_c
    return np.concatenate([air_c, new], axis=1), inside.finish


def _carry(inputs: OutlookInputs, past: HourlyWeather, air_c: Floats, states: Ints, heat: HeatStart) -> Carried:
    hours = air_c.shape[1]
    return Carried(
        start_utc=past.start_utc, air_c=air_c, heat=heat, states=states[:, :hours],
        covers=_stood(inputs, sliced(past, 0, hours)), trees=tuple(inputs.trees), offsets=dict(inputs.offsets),
    )  # fmt: skip


def _stood(inputs: OutlookInputs, hours: HourlyWeather) -> tuple[tuple[datetime, tuple[Cover, ...]], ...]:
    """What the covers of all trees were like, and from when on."""
    stood: list[tuple[datetime, tuple[Cover, ...]]] = []
    for first, _ in _stretches(inputs, hours, inputs.trees):
        at_utc = hours.start_utc + timedelta(hours=first)
        covers = tuple(cover_on(inputs, tree, at_utc) for tree in inputs.trees)
        stood += [] if stood and stood[-1][1] == covers else [(at_utc, covers)]
    return tuple(stood)


def _since(
    stood: Sequence[tuple[datetime, tuple[Cover, ...]]], since_utc: datetime
) -> tuple[tuple[datetime, tuple[Cover, ...]], ...]:
    """The same from a moment on."""
    first = max(i for i, (at_utc, _) in enumerate(stood) if at_utc <= since_utc)
    return ((since_utc, stood[first][1]), *stood[first + 1 :])


def _hours_between(first_utc: datetime, last_utc: datetime) -> int:
    return int((last_utc - first_utc) / timedelta(hours=1))
