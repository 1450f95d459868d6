"""The front door: one garden, its weather, its past -> margins, plan and doubts for every tree and night."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Final

import numpy as np

from rules.cover import STATE_INDEX, Cover, CoverState
from rules.doubt import Doubt, DoubtKind
from rules.hardiness import FeltDays, Hardiness, hardiness
from rules.heat_balance import HeatStart, inside_temperatures, inside_with_spread
from rules.history import Timeline, felt_days, state_series, timeline
from rules.margins import TreeMargins
from rules.members import members
from rules.microclimate import TreeWeather, at_tree
from rules.nights_ahead import Course, nights_ahead
from rules.plan import Act, plan
from rules.records import Records, state_now
from rules.soil import site_soil
from rules.tree import Site, Standing, Tree
from rules.weather import Forecast, HourlyWeather

NO_COVER: Final = Cover(name="none")  # stands in for the cover of a tree that has none; only its bare state is used
MEMBERS: Final = 31
SPIN_UP_DAYS: Final = 10  # hours before this no longer matter to the heat in a cover and its ground


@dataclass(frozen=True, kw_only=True)
class Outlook:
    """All that bedstraw knows of one garden at one moment."""

    now: datetime
    service: str
    issued_utc: datetime | None
    fetched_utc: datetime | None
    credit: str
    trees: Sequence[TreeMargins]
    acts: Sequence[Act]
    doubts: tuple[Doubt, ...]

    def tree(self, name: str) -> TreeMargins:
        """The margins of the tree called `name`.

        Raises
        ------
        KeyError
            If the garden has no such tree.
        """
        for found in self.trees:
            if found.tree.name == name:
                return found
        raise KeyError(name)

    def chance_if_nothing_is_done(self) -> dict[tuple[str, date], float]:
        """Chance of harm by (tree, evening), every cover left as it stands."""
        return {
            (one.tree.name, night.evening): night.felt[one.state_assumed].chance
            for one in self.trees
            for night in one.nights
        }


@dataclass(frozen=True, kw_only=True, eq=False)
class Ground:
    """What an outlook stands on: the garden, its weather and its records, all as plain values."""

    site: Site
    trees: Sequence[Tree]
    covers: Mapping[str, Cover]
    forecast: Forecast | None
    past: HourlyWeather | None
    records: Records
    doubts: tuple[Doubt, ...] = ()


def outlook(ground: Ground, now: datetime) -> Outlook:
    """The outlook of one garden.

    Without a forecast that reaches beyond `now` the trees have no nights, and the doubts say so.
    """
    line = timeline(ground.past, ground.forecast.weather, now) if ground.forecast else None
    trees = _without_weather(ground, now) if line is None else _with_weather(ground, line, now)
    forecast = ground.forecast
    return Outlook(
        now=now,
        service=forecast.service if forecast else "",
        issued_utc=forecast.issued_utc if forecast else None,
        fetched_utc=forecast.fetched_utc if forecast else None,
        credit=forecast.credit if forecast else "",
        trees=trees,
        acts=plan(trees, now),
        doubts=_doubts(ground, line),
    )


def _doubts(ground: Ground, line: Timeline | None) -> tuple[Doubt, ...]:
    of_line = line.doubts if line else ()
    blind = (
        ()
        if line or any(d.kind == DoubtKind.NO_FORECAST for d in ground.doubts)
        else (Doubt(kind=DoubtKind.NO_FORECAST),)
    )
    return (*blind, *ground.doubts, *(ground.forecast.doubts if ground.forecast else ()), *of_line)


def _without_weather(ground: Ground, now: datetime) -> list[TreeMargins]:
    today = now.astimezone(ground.site.zone).date()
    nothing = FeltDays.nothing(today)
    return [
        _margins(ground, tree, hardiness(tree, ground.site, nothing, ground.records.sightings, today), now)
        for tree in ground.trees
    ]


def _margins(ground: Ground, tree: Tree, bears: Hardiness, now: datetime) -> TreeMargins:
    state = state_now(ground.records, tree.name, now)
    cover = ground.covers.get(tree.cover) if tree.cover else None
    unknown = Doubt(kind=DoubtKind.STATE_UNKNOWN, subject=tree.name)
    doubts = (unknown,) if state is None and cover and not tree.left_bare else ()
    return TreeMargins(tree=tree, cover=cover, state=state, hardiness=bears, nights=(), doubts=doubts)


def _with_weather(ground: Ground, line: Timeline, now: datetime) -> list[TreeMargins]:
    past_of, start = _march_past(ground, line)
    today = now.astimezone(ground.site.zone).date()
    margins = [
        _margins(ground, tree, hardiness(tree, ground.site, felt, ground.records.sightings, today), now)
        for tree, felt in zip(ground.trees, past_of, strict=True)
    ]
    if ground.forecast is None:
        raise ValueError("a timeline without a forecast cannot be")
    members_c = _members(ground.forecast, line, now)
    weather_of = {
        standing: at_tree(line.ahead, ground.site, standing, air_c=members_c)
        for standing in {tree.standing for tree in ground.trees}
    }
    courses = _march_ahead(ground, margins, weather_of, start)
    return [
        replace(
            one,
            nights=nights_ahead(
                line.ahead, members_c, weather_of[one.tree.standing], courses[i], one.hardiness, ground.site
            ),
            doubts=(*one.doubts, *weather_of[one.tree.standing].doubts, *_cover_doubt(courses[i], one)),
        )
        for i, one in enumerate(margins)
    ]


def _cover_doubt(courses: Mapping[CoverState, Course], one: TreeMargins) -> tuple[Doubt, ...]:
    if one.state_assumed == CoverState.BARE:
        return ()
    amount = float(courses[one.state_assumed].spread_c.max())
    return (Doubt(kind=DoubtKind.COVER_GUESSED, subject=one.tree.name, amount=amount),)


def _members(forecast: Forecast, line: Timeline, now: datetime) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """Members on the hours ahead; their mean is the joined and filled series, their spread the forecast's own."""
    offset = forecast.weather.index_of(line.ahead.start_utc)
    spread = members(forecast, now, MEMBERS)[:, offset : offset + line.ahead.hours]
    deviations = spread - np.nanmean(spread, axis=0) if spread.size else np.zeros((MEMBERS, line.ahead.hours))
    return line.ahead.air_c + np.where(np.isnan(deviations), 0.0, deviations)


def _march_past(ground: Ground, line: Timeline) -> tuple[list[FeltDays], HeatStart | None]:
    """What each tree's wood felt, by day, and the heat its cover and ground hold now."""
    if line.past is None or line.past.hours < 2:
        return [FeltDays.nothing(line.ahead.start_utc.astimezone(ground.site.zone).date()) for _ in ground.trees], None
    past = line.past
    times = past.times_utc()
    weather_of = {s: at_tree(past, ground.site, s) for s in {tree.standing for tree in ground.trees}}
    inside = inside_temperatures(
        [_cover(ground, tree) for tree in ground.trees],
        np.stack([state_series(ground.records.deeds, tree.name, times) for tree in ground.trees]),
        [weather_of[tree.standing] for tree in ground.trees],
        soil=site_soil(ground.site.latitude_deg, ground.site.elevation_m),
    )
    felt = [felt_days(past, wood, line.past_known, ground.site.zone) for wood in inside.wood_c]
    return felt, inside.finish


def _march_ahead(
    ground: Ground, margins: Sequence[TreeMargins], weather_of: Mapping[Standing, TreeWeather], start: HeatStart | None
) -> list[dict[CoverState, Course]]:
    """Every tree in every state its cover can take, all members, in one batch."""
    rows = [(i, state) for i, one in enumerate(margins) for state in _states(one)]
    hours = next(iter(weather_of.values())).air_c.shape[-1]
    inside = inside_with_spread(
        [_cover(ground, margins[i].tree) for i, _ in rows],
        np.array([[STATE_INDEX[state]] * hours for _, state in rows]),
        [weather_of[margins[i].tree.standing] for i, _ in rows],
        start.of([i for i, _ in rows]) if start else None,
        soil=site_soil(ground.site.latitude_deg, ground.site.elevation_m),
    )
    if inside.spread_c is None:
        raise ValueError("the heat balance gave no spread")
    courses: list[dict[CoverState, Course]] = [{} for _ in margins]
    for row, (i, state) in enumerate(rows):
        courses[i][state] = Course(
            wood_c=inside.wood_c[row],
            top_c=inside.top_c[row],
            air_c=inside.air_c[row],
            spread_c=np.zeros(hours) if state == CoverState.BARE else inside.spread_c[row],
        )
    return courses


def _states(one: TreeMargins) -> tuple[CoverState, ...]:
    return (CoverState.BARE,) if one.cover is None or one.tree.left_bare else tuple(CoverState)


def _cover(ground: Ground, tree: Tree) -> Cover:
    return ground.covers[tree.cover] if tree.cover else NO_COVER
