"""The past marched through, once for all who ask: the air each tree's wood was in, and the heat its cover holds now."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from rules.garden.cover import STATE_INDEX, Cover, CoverState
from rules.garden.records import state_series
from rules.garden.tree import Tree
from rules.heat.balance import HeatStart, against_limits_c, inside_temperatures
from rules.heat.stopgap import blanket_gains_c
from rules.heat.surroundings import TreeAir, part
from rules.heat.what_if import Stand
from rules.outlook.blankets import hours_under
from rules.outlook.inputs import Carried, OutlookInputs, cover_on, timeline_of, tree_hardiness, tree_weathers
from rules.weather.hourly import HourlyWeather
from rules.weather.timeline import Timeline, sliced
from rules.wood.daily_temperatures import wood_days_from
from rules.wood.hardiness import Hardiness, WoodDays

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

INSTANT: Final = timedelta(microseconds=1)
WASHED_OUT_H: Final = 30 * 24  # of weather: what covers held before it matters by less than 0.001 °C (invented gardens)
PIECE_H: Final = 15 * 24  # of a past marched in pieces, each after its month: whole days, as covers change by the clock
SETTLING_H: Final = 24  # of a bare tree before its blanket: the soil's wave is the memory that counts; assumed
SETTLED_H: Final = 36  # hours before this are told for good: late answers and better past weather come later; assumed


@dataclass(frozen=True, kw_only=True, eq=False)
class Exposure:
    """What some trees stood in, hour by hour.

    `covers` and `weathers` one a tree; `states` of the covers as the deeds left them, shape (trees, hours).
    """

    covers: Sequence[Cover]
    states: Ints
    weathers: Sequence[TreeAir]


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
    air_c, wood_c
        At each tree, inside its cover where one is on, and its wood as limits count, see `against_limits_c` [°C], shape
        (trees, hours).
    finish
        What covers and ground hold at the last hour.
    """

    weather: HourlyWeather
    known: npt.NDArray[np.bool_]
    states: Ints
    daylight: Floats
    air_c: Floats
    wood_c: Floats
    finish: HeatStart

    def wood_days(self, tree: int, zone: ZoneInfo) -> WoodDays:
        """The air the wood of one tree, by its index, was in by day, which hardens and wakes it."""
        return wood_days_from(self.weather, self.air_c[tree], self.known, zone, self.states[tree], self.daylight[tree])

    def field_days(self, zone: ZoneInfo) -> WoodDays:
        """The air of the open field by day."""
        return wood_days_from(self.weather, self.weather.air_c, self.known, zone)

    def tissue_days(self, tree: int, zone: ZoneInfo) -> WoodDays:
        """What stood against the limits of one tree, by its index, by day."""
        return wood_days_from(self.weather, self.wood_c[tree], self.known, zone, self.states[tree], self.daylight[tree])


def carried_on_from(carried: Carried, inputs: OutlookInputs, past: HourlyWeather, states: Ints) -> HeatStart | None:
    """The last moment from which what was carried may be carried on into the past of `inputs`; None where from none.

    `states` as those of `Past`.
    """
    if not carried.start_utc <= past.start_utc or tuple(inputs.trees) != carried.trees:
        return None
    if inputs.offsets != carried.offsets:
        return None
    known = carried.states[:, _hours_between(carried.start_utc, past.start_utc) :]
    stood = _since(carried.covers, past.start_utc)
    for heat in (carried.finish, carried.settled):
        marks = 1 + _hours_between(past.start_utc, heat.at_utc)
        if not 1 < marks <= past.hours or not np.array_equal(states[:, :marks], known[:, :marks]):
            continue
        if _stood(inputs, sliced(past, 0, marks)) != tuple(one for one in stood if one[0] < heat.at_utc):
            continue
        if heat is carried.settled or (marks == past.hours and _is_same(past, carried.late)):
            return heat
    return None


def _is_same(past: HourlyWeather, late: HourlyWeather) -> bool:
    """Whether the last hours of a past are told as they were at the last look."""
    again = sliced(past, max(0, past.hours - late.hours), past.hours)
    names = [field.name for field in fields(HourlyWeather)]
    return all(
        np.array_equal(getattr(late, name), getattr(again, name), equal_nan=name != "start_utc") for name in names
    )


def exposure(inputs: OutlookInputs, hours: HourlyWeather, trees: Sequence[Tree]) -> Exposure:
    """What some trees of a garden stood in through some hours of the open field, their covers as at the first hour."""
    return Exposure(
        covers=[cover_on(inputs, tree, hours.start_utc) for tree in trees],
        states=_states(inputs, hours, trees),
        weathers=tree_weathers(inputs, hours, trees),
    )


def past_of(inputs: OutlookInputs, line: Timeline, trees: Sequence[Tree], last_h: int | None = None) -> Past | None:
    """The past of some trees, carried on from the last look where it can be; else all of it, or its last hours.

    None where fewer than two hours are known.
    """
    past, carried = line.past, inputs.carried
    if past is None or past.hours < 2 or not trees:
        return None
    states = _states(inputs, past, inputs.trees)
    heat = carried_on_from(carried, inputs, past, states) if carried else None
    if carried and heat:
        names = [tree.name for tree in inputs.trees]
        told_c, heat = _marched_on(inputs, past, _carried_c(carried, past, heat), heat, past.hours - 1)
        rows = [names.index(tree.name) for tree in trees]
        return _past(inputs, past, line.past_known, trees, states[rows], told_c[:, rows], heat.of(rows))
    first = 0 if last_h is None else max(0, past.hours - last_h)
    hours = sliced(past, first, past.hours)
    marched = _marched(inputs, hours, trees, None)
    return _past(inputs, hours, line.past_known[first:], trees, _states(inputs, hours, trees), *marched)


def _past(
    inputs: OutlookInputs, hours: HourlyWeather, known: npt.NDArray[np.bool_], trees: Sequence[Tree], states: Ints,
    told_c: Floats, finish: HeatStart,
) -> Past:  # fmt: skip
    return Past(
        weather=hours, known=known, states=states,
        daylight=np.array([cover_on(inputs, tree).daylight for tree in trees]),
        air_c=told_c[0], wood_c=_under_blankets(inputs, hours, trees, states, told_c[1]), finish=finish,
    )  # fmt: skip


def _under_blankets(
    inputs: OutlookInputs, hours: HourlyWeather, trees: Sequence[Tree], states: Ints, wood_c: Floats
) -> Floats:
    """The wood with what blankets kept at bare trees: each night by itself, from a day before it on."""
    nights = [
        (row, night) for row, tree in enumerate(trees)
        for night in hours_under(inputs.records, tree.name, hours, inputs.site.zone)
    ]  # fmt: skip
    found = wood_c.copy() if nights else wood_c
    for row, night in nights:
        first = max(0, night.start - SETTLING_H)
        span, on = sliced(hours, first, max(night.stop, first + 2)), slice(night.start - first, night.stop - first)
        stand = Stand(cover_on(inputs, trees[row]), tree_weathers(inputs, span, [trees[row]])[0])
        gain_c = blanket_gains_c([stand], [[on]], inputs.soil)[0, 0]
        bare = states[row, night] == STATE_INDEX[CoverState.BARE]
        found[row, night] += np.where(bare, gain_c[on], 0.0)
    return found


def past_carried(inputs: OutlookInputs, line: Timeline, carried: Carried | None) -> tuple[Past | None, Carried | None]:
    """The past of all trees, marched on from where the last round left it, and what the next round may carry on."""
    past = line.past
    if past is None or past.hours < 2:
        return None, None
    states = _states(inputs, past, inputs.trees)
    heat, settles = carried_on_from(carried, inputs, past, states) if carried else None, past.hours - 1 - SETTLED_H
    if carried and heat:
        told_c = _carried_c(carried, past, heat)
    else:
        told_c, heat = _marched(inputs, sliced(past, 0, max(2, settles + 1)), inputs.trees, None)
    if carried and heat is carried.finish:
        settled = carried.settled
    else:
        told_c, settled = _marched_on(inputs, past, told_c, heat, settles)
        heat = settled
    told_c, finish = _marched_on(inputs, past, told_c, heat, past.hours - 1)
    new = Carried(
        start_utc=past.start_utc, told_c=told_c, finish=finish, settled=settled,
        late=sliced(past, past.index_of(settled.at_utc), past.hours), states=states,
        covers=_stood(inputs, past), trees=tuple(inputs.trees), offsets=dict(inputs.offsets),
    )  # fmt: skip
    return _past(inputs, past, line.past_known, inputs.trees, states, told_c, finish), new


def hardiness_now(inputs: OutlookInputs, tree: Tree, now: datetime) -> Hardiness:
    """What one tree can take in the night that begins today, from all that is on record."""
    line = timeline_of(inputs, now)
    today = now.astimezone(inputs.site.zone).date()
    past = past_of(inputs, line, [tree]) if line else None
    wood_days = past.wood_days(0, inputs.site.zone) if past else WoodDays.nothing(today)
    return tree_hardiness(inputs, tree, wood_days, today, past.field_days(inputs.site.zone) if past else None)


def _states(inputs: OutlookInputs, hours: HourlyWeather, trees: Sequence[Tree]) -> Ints:
    return np.stack([state_series(inputs.records, tree.name, hours.start_utc, hours.hours) for tree in trees])


def _marched(
    inputs: OutlookInputs, hours: HourlyWeather, trees: Sequence[Tree], start: HeatStart | None
) -> tuple[Floats, HeatStart]:
    """Air and wood of `Past`, (2, trees, hours), and the heat held at the last hour.

    Stretch by stretch between the changes of any cover's condition; the mark that two share is told by the first.
    """
    stretches = list(_stretches(inputs, hours, trees))
    if start is None and len(stretches) == 1:
        return _marched_anew(inputs, hours, trees)
    told_c: list[Floats] = []
    for first, last in stretches:
        stood = exposure(inputs, sliced(hours, first, last + 1), trees)
        new_c, start = _met(inputs, stood, start)
        told_c.append(new_c[..., 1 if told_c else 0 :])
    if start is None:
        raise ValueError(f"a past must be marched through at least two hours, got {hours.hours}")
    return np.concatenate(told_c, axis=-1), start


def _met(inputs: OutlookInputs, stood: Exposure, start: HeatStart | None) -> tuple[Floats, HeatStart]:
    inside = inside_temperatures(stood.covers, stood.states, stood.weathers, start, soil=inputs.soil)
    met_c = inside.wood_c, inside.top_c, inside.air_c
    wood_c, _ = against_limits_c(met_c, stood.covers, stood.states, stood.weathers)
    return np.stack([inside.air_c, wood_c]), inside.finish


def _marched_anew(inputs: OutlookInputs, hours: HourlyWeather, trees: Sequence[Tree]) -> tuple[Floats, HeatStart]:
    """The same where nobody knows what the covers held at first: in pieces side by side, each after a month of its own.

    Long before the first cover is on nothing needs a march: a bare tree is as the air.
    """
    stood, last = exposure(inputs, hours, trees), hours.hours
    first_on = np.append(np.flatnonzero((stood.states != STATE_INDEX[CoverState.BARE]).any(axis=0)), last - 2)[0]
    begin = max(0, int(first_on) - WASHED_OUT_H) if last > WASHED_OUT_H + PIECE_H else 0
    pieces = max(1, -((begin + WASHED_OUT_H - last) // PIECE_H))
    length = min(last - begin, WASHED_OUT_H + PIECE_H)
    starts = [max(0, last - length - PIECE_H * back) for back in reversed(range(pieces))]
    skies = {id(sky): sky for sky in stood.weathers}
    parts = [{key: part(sky, first, first + length) for key, sky in skies.items()} for first in starts]
    beside = Exposure(
        covers=[*stood.covers] * pieces,
        states=np.concatenate([stood.states[:, first : first + length] for first in starts]),
        weathers=[cut[id(sky)] for cut in parts for sky in stood.weathers],
    )
    met_c, finish = _met(inputs, beside, None)
    told_c = np.stack([np.stack([sky.air_c for sky in stood.weathers])] * 2)
    for i, first in enumerate(starts):
        own = starts[i - 1] + length - first if i else 0
        told_c[..., first + own : first + length] = met_c[:, i * len(trees) : (i + 1) * len(trees), own:]
    held = finish.of(range((pieces - 1) * len(trees), pieces * len(trees)))
    return told_c, replace(held, at_utc=hours.end_utc)


def _stretches(inputs: OutlookInputs, hours: HourlyWeather, trees: Sequence[Tree]) -> Iterator[tuple[int, int]]:
    """First and last hour mark of each stretch in which every cover keeps its condition."""
    named = {tree.name for tree in trees}
    conditions, deeds = inputs.records.conditions, inputs.records.deeds if inputs.records.conditions else ()
    changes = [one.at_utc for one in conditions if one.tree in named]
    changes += [one.at_utc for one in deeds if one.tree in named]
    marks = {hours.index_of(at - INSTANT) + 1 for at in changes}
    cuts = sorted(mark for mark in marks if 0 < mark < hours.hours - 1)
    yield from pairwise([0, *cuts, hours.hours - 1])


def _carried_c(carried: Carried, past: HourlyWeather, heat: HeatStart) -> Floats:
    """Air and wood so far, from the first hour of a past to the moment from which it is carried on."""
    first = _hours_between(carried.start_utc, past.start_utc)
    return carried.told_c[..., first : first + 1 + _hours_between(past.start_utc, heat.at_utc)]


def _marched_on(
    inputs: OutlookInputs, past: HourlyWeather, told_c: Floats, start: HeatStart, last: int
) -> tuple[Floats, HeatStart]:
    """Air and wood up to mark `last`, and the heat held there; as they are where they reach it already."""
    first = told_c.shape[-1] - 1
    if last <= first:
        return told_c, start
    new, finish = _marched(inputs, sliced(past, first, last + 1), inputs.trees, start)
    return np.concatenate([told_c, new[..., 1:]], axis=-1), finish


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
