"""The front door: one garden, its weather, its past -> margins, plan and doubts for every tree and night."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.acts import Act
from rules.cover import STATE_INDEX, Cover, CoverState
from rules.cover_courses import STATES, joined_starts
from rules.daily_minima import DailyMinima
from rules.doubt import Doubt, DoubtKind
from rules.hardiness import FeltDays, Hardiness, HardinessSource, hardiness
from rules.heat_balance import HeatStart, inside_temperatures, spread_c
from rules.history import Timeline, felt_days, sliced, state_series, timeline
from rules.learning import LearnedHardiness, shifted
from rules.margins import TreeMargins, tonight
from rules.members import members
from rules.microclimate import PRIORS, SiteOffset, TreeWeather, at_tree
from rules.nights_ahead import Course, nights_ahead
from rules.plan import HeatAhead, Plan, heat_ahead, plan
from rules.plan_stakes import TreeSituation
from rules.records import Deed, Records, state_now
from rules.soil import site_soil
from rules.surroundings import bare_stem_c
from rules.tree import Phase, Site, Standing, Tree
from rules.weather import Forecast, HourlyWeather

Floats = npt.NDArray[np.float64]

NO_COVER: Final = Cover(name="none")  # stands in for the cover of a tree that has none; only its bare state is used
MEMBERS: Final = 31
NOTHING_PLANNED: Final = Plan(acts=(), chances={}, second_best=None, would_change=(), price_trips=0.0)
KNOWN_SHARE: Final = 0.5  # of the first doubt: with less of it left a tree's spot is no guess any more; assumed
SETTLED_H: Final = 36  # hours before this are told for good: late answers and better past weather come later; assumed


@dataclass(frozen=True, kw_only=True)
class Outlook:
    """All that bedstraw knows of one garden at one moment."""

    now: datetime
    site: Site
    service: str
    issued_utc: datetime | None
    fetched_utc: datetime | None
    credit: str
    trees: Sequence[TreeMargins]
    plan: Plan
    doubts: tuple[Doubt, ...]

    @property
    def acts(self) -> tuple[Act, ...]:
        """What the plan asks for, in the order in which it must be done."""
        return self.plan.acts

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


def restated(seen: Outlook, records: Records, now: datetime) -> Outlook:
    """The same outlook with the covers as they stand now, without the acts that are done and the nights that are over.

    For the words that answer a deed at once; the next round looks anew.
    """
    evening = tonight(now, seen.site.zone)
    trees = [
        replace(
            one,
            state=state_now(records, one.tree.name, now),
            nights=tuple(night for night in one.nights if night.evening >= evening),
        )
        for one in seen.trees
    ]
    states = {one.tree.name: one.state for one in trees}
    acts = tuple(act for act in seen.acts if states.get(act.tree) != act.state)
    return replace(seen, now=now, trees=trees, plan=replace(seen.plan, acts=acts))


@dataclass(frozen=True, kw_only=True, eq=False)
class Ground:
    """What an outlook stands on: the garden, its weather and its records, all as plain values.

    `climate` is the daily minima of past winters, None where nobody knows them; `refused` and `away` as in `plan`.
    `offsets` is what thermometers taught of the air at each tree, by name; a tree that is not among them has the prior
    of its standing. `accepted` is what its winters taught of its wood, as far as the grower accepted it.
    """

    site: Site
    trees: Sequence[Tree]
    covers: Mapping[str, Cover]
    forecast: Forecast | None
    past: HourlyWeather | None
    records: Records
    doubts: tuple[Doubt, ...] = ()
    climate: DailyMinima | None = None
    refused: tuple[tuple[str, datetime], ...] = ()
    away: tuple[tuple[date, date], ...] = ()
    offsets: Mapping[str, SiteOffset] = field(default_factory=dict)
    accepted: Mapping[str, Sequence[LearnedHardiness]] = field(default_factory=dict)


def tree_weathers(
    ground: Ground, weather: HourlyWeather, trees: Sequence[Tree], air_c: Floats | None = None
) -> list[TreeWeather]:
    """Weather at each tree with what is known of its air; trees of one standing and offset share one.

    `air_c` are members of the field's air [°C], shape (members, hours), as in `at_tree`.
    """
    made: dict[tuple[Standing, SiteOffset | None], TreeWeather] = {}
    for tree in trees:
        place = tree.standing, ground.offsets.get(tree.name)
        if place not in made:
            made[place] = at_tree(weather, ground.site, tree.standing, air_c=air_c, offset=place[1])
    return [made[tree.standing, ground.offsets.get(tree.name)] for tree in trees]


def tree_bears(ground: Ground, tree: Tree, felt: FeltDays, today: date) -> Hardiness:
    """What one tree bears in the night that begins `today`: the model's, moved by what was accepted of its winters.

    A grower's own number stands as it is.
    """
    found = hardiness(tree, ground.site, felt, ground.records.sightings, today)
    accepted = [one for one in ground.accepted.get(tree.name, ()) if one.phase is found.phase]
    if not accepted or found.source is HardinessSource.YOUR_NUMBER:
        return found
    return replace(shifted(found, accepted[-1]), source=HardinessSource.YOUR_WINTERS)


def accepted_shift_c(ground: Ground, tree: Tree, phase: Phase) -> float:
    """Change of what a tree bears in one phase [°C] that was accepted of its winters; 0 where none was."""
    accepted = [one.shift_c for one in ground.accepted.get(tree.name, ()) if one.phase is phase]
    return accepted[-1] if accepted else 0.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Carried:
    """What a round hands to the next, so that a long autumn is not marched through twice.

    Parameters
    ----------
    start_utc, wood_c
        First mark, and the wood of each tree from there to the moment of `heat` [°C], shape (trees, hours).
    heat
        What covers and ground held at that moment.
    deeds, trees, offsets
        What it rests on; another deed before that moment, another tree, or another offset of its air, and the march
        begins anew: what a thermometer teaches today holds for the autumn behind as well.
    """

    start_utc: datetime
    wood_c: Floats
    heat: HeatStart
    deeds: tuple[Deed, ...]
    trees: tuple[Tree, ...]
    offsets: Mapping[str, SiteOffset] = field(default_factory=dict)

    def fits(self, ground: Ground, past: HourlyWeather) -> bool:
        """Whether this may be carried on into the past of `ground`."""
        before = tuple(deed for deed in ground.records.deeds if deed.at_utc <= self.heat.at_utc)
        inside = self.start_utc <= past.start_utc < self.heat.at_utc < past.end_utc
        same = tuple(ground.trees) == self.trees and ground.offsets == self.offsets
        return inside and before == self.deeds and same


def outlook(ground: Ground, now: datetime) -> Outlook:
    """The outlook of one garden.

    Without a forecast that reaches beyond `now` the trees have no nights, and the doubts say so.
    """
    return outlook_carried(ground, now, None)[0]


def outlook_carried(ground: Ground, now: datetime, carried: Carried | None) -> tuple[Outlook, Carried | None]:
    """The outlook of one garden, and what the next one may carry on."""
    line = timeline(ground.past, ground.forecast.weather, now) if ground.forecast else None
    if line is None:
        return _assembled(ground, _without_weather(ground, now), NOTHING_PLANNED, None, now), None
    trees, planned, carried = _with_weather(ground, line, now, carried)
    return _assembled(ground, trees, planned, line, now), carried


def _assembled(
    ground: Ground, trees: Sequence[TreeMargins], planned: Plan, line: Timeline | None, now: datetime
) -> Outlook:
    forecast = ground.forecast
    return Outlook(
        now=now,
        site=ground.site,
        service=forecast.service if forecast else "",
        issued_utc=forecast.issued_utc if forecast else None,
        fetched_utc=forecast.fetched_utc if forecast else None,
        credit=forecast.credit if forecast else "",
        trees=trees,
        plan=planned,
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


def bears_now(ground: Ground, tree: Tree, now: datetime) -> Hardiness:
    """What one tree bears in the night that begins today, from all that is on record."""
    line = timeline(ground.past, ground.forecast.weather, now) if ground.forecast else None
    today = now.astimezone(ground.site.zone).date()
    felt = _march_past(replace(ground, trees=(tree,)), line, None)[0][0] if line else FeltDays.nothing(today)
    return tree_bears(ground, tree, felt, today)


def _without_weather(ground: Ground, now: datetime) -> list[TreeMargins]:
    today = now.astimezone(ground.site.zone).date()
    nothing = FeltDays.nothing(today)
    return [_margins(ground, tree, tree_bears(ground, tree, nothing, today), now) for tree in ground.trees]


def _margins(ground: Ground, tree: Tree, bears: Hardiness, now: datetime) -> TreeMargins:
    state = state_now(ground.records, tree.name, now)
    cover = ground.covers.get(tree.cover) if tree.cover else None
    unknown = Doubt(kind=DoubtKind.STATE_UNKNOWN, subject=tree.name)
    doubts = (unknown,) if state is None and cover and not tree.left_bare else ()
    return TreeMargins(tree=tree, cover=cover, state=state, hardiness=bears, nights=(), doubts=doubts)


def _with_weather(
    ground: Ground, line: Timeline, now: datetime, carried: Carried | None
) -> tuple[list[TreeMargins], Plan, Carried | None]:
    past_of, start, carried = _march_past(ground, line, carried)
    today = now.astimezone(ground.site.zone).date()
    margins = [
        _margins(ground, tree, tree_bears(ground, tree, felt, today), now)
        for tree, felt in zip(ground.trees, past_of, strict=True)
    ]
    if ground.forecast is None:
        raise ValueError("a timeline without a forecast cannot be")
    members_c = _members(ground.forecast, line, now)
    weathers = tree_weathers(ground, line.ahead, ground.trees, members_c)
    situations = [_situation(ground, one, weathers[i], start, i) for i, one in enumerate(margins)]
    heat = heat_ahead(situations, ground.site, now)
    courses = _courses(situations, heat)
    seen = [
        replace(
            one,
            nights=nights_ahead(line.ahead, members_c, weathers[i], courses[i], one.hardiness, ground.site),
            doubts=(*one.doubts, *_site_doubts(ground, one.tree, weathers[i]), *_cover_doubt(courses[i], one)),
        )
        for i, one in enumerate(margins)
    ]
    return seen, _plan(ground, situations, courses, heat, now), carried


def _situation(
    ground: Ground, one: TreeMargins, weather: TreeWeather, start: HeatStart | None, i: int
) -> TreeSituation:
    return TreeSituation(
        tree=one.tree,
        cover=one.cover,
        state=one.state_assumed,
        weather=weather,
        hardiness=one.hardiness,
        start=start.of([i]) if start else None,
        soil=site_soil(ground.site.latitude_deg, ground.site.elevation_m),
    )


def _plan(
    ground: Ground,
    situations: Sequence[TreeSituation],
    courses: Sequence[Mapping[CoverState, Course]],
    heat: HeatAhead | None,
    now: datetime,
) -> Plan:
    doubted = [
        replace(one, sd_c={state: float(course.spread_c.max()) for state, course in courses[i].items()})
        for i, one in enumerate(situations)
    ]
    return plan(doubted, ground.site, now, heat=heat, refused=ground.refused, away=ground.away, climate=ground.climate)


def _site_doubts(ground: Ground, tree: Tree, weather: TreeWeather) -> tuple[Doubt, ...]:
    """The doubts of the weather at one tree; a few readings shrink the guess at its spot before they end it."""
    learned = ground.offsets.get(tree.name)
    if learned is None or learned.sd_c(1.0) <= KNOWN_SHARE * PRIORS[tree.standing].sd_c(1.0):
        return weather.doubts
    return (*weather.doubts, Doubt(kind=DoubtKind.SITE_HALF_KNOWN, amount=weather.offset_sd_c))


def _cover_doubt(courses: Mapping[CoverState, Course], one: TreeMargins) -> tuple[Doubt, ...]:
    if one.state_assumed == CoverState.BARE:
        return ()
    amount = float(courses[one.state_assumed].spread_c.max())
    return (Doubt(kind=DoubtKind.COVER_GUESSED, subject=one.tree.name, amount=amount),)


def _members(forecast: Forecast, line: Timeline, now: datetime) -> Floats:
    """Members on the hours ahead; their mean is the joined and filled series, their spread the forecast's own."""
    offset = forecast.weather.index_of(line.ahead.start_utc)
    spread = members(forecast, now, MEMBERS)[:, offset : offset + line.ahead.hours]
    deviations = spread - np.nanmean(spread, axis=0) if spread.size else np.zeros((MEMBERS, line.ahead.hours))
    return line.ahead.air_c + np.where(np.isnan(deviations), 0.0, deviations)


def _march_past(
    ground: Ground, line: Timeline, carried: Carried | None
) -> tuple[list[FeltDays], HeatStart | None, Carried | None]:
    """What each tree's wood felt by day, the heat held now, and what the next round may carry on."""
    if line.past is None or line.past.hours < 2:
        today = line.ahead.start_utc.astimezone(ground.site.zone).date()
        return [FeltDays.nothing(today) for _ in ground.trees], None, None
    past = line.past
    kept = carried if carried and carried.fits(ground, past) else None
    wood_c, start, first = _carried_on(kept, past, len(ground.trees))
    settled = max(first, past.hours - 1 - SETTLED_H)
    marched = [wood_c]
    if settled > first:
        wood, start = _march(ground, past, first, settled, start)
        marched.append(wood[:, 1:] if first else wood)
    new = _carry(ground, past, settled, np.concatenate(marched, axis=1), start)
    wood, start = _march(ground, past, settled, past.hours - 1, start)
    marched.append(wood[:, 1:] if settled else wood)
    whole = np.concatenate(marched, axis=1)
    return [felt_days(past, wood, line.past_known, ground.site.zone) for wood in whole], start, new


def _carried_on(kept: Carried | None, past: HourlyWeather, trees: int) -> tuple[Floats, HeatStart | None, int]:
    """Wood so far (trees, hours), the heat at its end, and the index of that mark; empty, None and 0 to begin anew."""
    if kept is None:
        return np.empty((trees, 0)), None, 0
    skip = int((past.start_utc - kept.start_utc) / timedelta(hours=1))
    return kept.wood_c[:, skip:], kept.heat, past.index_of(kept.heat.at_utc)


def _carry(ground: Ground, past: HourlyWeather, at: int, wood_c: Floats, heat: HeatStart | None) -> Carried | None:
    if heat is None or at == 0:
        return None
    until = past.start_utc + timedelta(hours=at)
    deeds = tuple(deed for deed in ground.records.deeds if deed.at_utc <= until)
    return Carried(
        start_utc=past.start_utc, wood_c=wood_c, heat=heat, deeds=deeds, trees=tuple(ground.trees),
        offsets=dict(ground.offsets),
    )  # fmt: skip


def _march(
    ground: Ground, past: HourlyWeather, first: int, last: int, start: HeatStart | None
) -> tuple[Floats, HeatStart | None]:
    """Wood of each tree from mark `first` to mark `last`, and the heat held at the end."""
    if last <= first:
        return np.empty((len(ground.trees), 1)), start
    hours = sliced(past, first, last + 1)
    times = hours.times_utc()
    inside = inside_temperatures(
        [_cover(ground, tree) for tree in ground.trees],
        np.stack([state_series(ground.records.deeds, tree.name, times) for tree in ground.trees]),
        tree_weathers(ground, hours, ground.trees),
        start,
        soil=site_soil(ground.site.latitude_deg, ground.site.elevation_m),
    )
    return inside.wood_c, inside.finish


def _courses(situations: Sequence[TreeSituation], heat: HeatAhead | None) -> list[dict[CoverState, Course]]:
    """Every tree in every state its cover can take, all members; bare alone where it has none, or is left so."""
    marched = {} if heat is None else {one.tree.name: i for i, one in enumerate(heat.tended)}
    spreads = _spreads(heat) if heat else {}
    found = []
    for one in situations:
        courses = {CoverState.BARE: _bare(one)}
        if heat is not None and one.tree.name in marched:
            row = marched[one.tree.name]
            for index, state in enumerate(STATES):
                courses[state] = Course(
                    wood_c=heat.courses.wood_c[row, index],
                    top_c=heat.courses.top_c[row, index],
                    air_c=heat.courses.air_c[row, index],
                    spread_c=spreads[one.tree.name, state],
                )
        found.append(courses)
    return found


def _bare(one: TreeSituation) -> Course:
    stem_c = bare_stem_c(one.weather)
    return Course(wood_c=stem_c, top_c=stem_c, air_c=one.weather.air_c, spread_c=np.zeros(stem_c.shape[-1]))


def _spreads(heat: HeatAhead) -> dict[tuple[str, CoverState], Floats]:
    """One sd of the wood from the unknown cover [°C], by tree and state, shape (hours,); none of it when bare."""
    hours = heat.courses.wood_c.shape[-1]
    rows = [(one, state) for one in heat.tended for state in (CoverState.VENTED, CoverState.CLOSED)]
    starts = [one.start for one, _ in rows if one.start is not None]
    found = spread_c(
        [one.cover for one, _ in rows if one.cover is not None],
        np.array([[STATE_INDEX[state]] * hours for _, state in rows]),
        [one.weather for one, _ in rows],
        joined_starts(starts) if starts else None,
        soil=heat.tended[0].soil,
    )
    bare = {(one.tree.name, CoverState.BARE): np.zeros(hours) for one in heat.tended}
    return bare | {(one.tree.name, state): found[i] for i, (one, state) in enumerate(rows)}


def _cover(ground: Ground, tree: Tree) -> Cover:
    return ground.covers[tree.cover] if tree.cover else NO_COVER


def air_at(ground: Ground, tree: Tree, moment: datetime) -> float | None:
    """Air [°C] that was expected at a tree at a moment, to the nearest hour; None where nothing was."""
    for weather in (ground.past, ground.forecast.weather if ground.forecast else None):
        if weather is None:
            continue
        at = round((moment - weather.start_utc) / timedelta(hours=1))
        if 0 <= at < weather.hours and not np.isnan(weather.air_c[at]):
            return float(tree_weathers(ground, weather, [tree])[0].air_c[at])
    return None
