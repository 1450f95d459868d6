"""Every coming night of one tree in every state of its cover: felt, LT10, how likely too cold, how much lost."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import lru_cache
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from rules.garden.cover import CoverState
from rules.garden.tree import Site
from rules.heat.ahead import StateCourse
from rules.heat.courses import response_to_air
from rules.heat.layers.pot_roots import roots_c
from rules.heat.night_lows import night_lows
from rules.plan.slots import HOUR, NO_FILM_GUST_M_S
from rules.site.microclimate import TreeWeather
from rules.site.sun import sun_day
from rules.weather.hourly import HourlyWeather, night_hours, tonight
from rules.wood.hardiness import Hardiness
from rules.wood.injury import Z_TEN_PERCENT, chance_colder, expected_share_lost, with_tip
from rules.wood.margins import Night, Tissue

Floats = npt.NDArray[np.float64]

POT_L: Final = 40.0  # nobody tells how large a pot is; that of a tree two people can carry, no source
HOURS_A_DAY: Final = 24
LEAST_HOURS: Final = 6  # a shorter rest of a night is not judged: it would say nothing of its minimum


def nights_ahead(
    ahead: HourlyWeather,
    members_c: Floats,
    tree: TreeWeather,
    courses: Mapping[CoverState, StateCourse],
    hardiness: Hardiness,
    site: Site,
    *,
    outside: float = 0.0,
    in_pot: bool = False,
) -> list[Night]:
    """The coming nights of one tree, until five in the morning the present one first.

    Parameters
    ----------
    ahead
        The open field from now on.
    members_c
        Its members' air [°C], shape (members, hours).
    tree
        The weather at the tree under those members.
    courses
        What each state of the cover would make of them.
    hardiness
        What the wood can take; taken as it is today for all of the nights.
    site
        For the sun.
    outside
        Share of the wood above its cover: bare in every state.
    in_pot
        Whether its roots are in a pot, taken as one of POT_L.
    """
    first = tonight(ahead.start_utc, site.zone)
    spans = [
        _Span(evening=evening, hours=hours, day=_daylight(ahead, evening, site.zone))
        for evening, hours in night_hours(ahead, site.zone)
        if evening >= first and hours.stop - hours.start >= LEAST_HOURS
    ]
    tissue = _tissue_c(courses, spans, tree, hardiness, outside)
    if in_pot:
        tissue = _with_roots(tissue, courses, spans)
    mean_c = np.atleast_2d(tree.air_c).mean(axis=0)
    return [_night(span, ahead, members_c, tree, mean_c, tissue[n], site) for n, span in enumerate(spans)]


@dataclass(frozen=True, kw_only=True)
class _Span:
    """A night's hour marks, and those of the day it ends."""

    evening: date
    hours: slice
    day: slice


def _night(
    span: _Span,
    ahead: HourlyWeather,
    members_c: Floats,
    tree: TreeWeather,
    mean_course: Floats,
    tissue: Mapping[CoverState, Tissue],
    site: Site,
) -> Night:
    hours, day = span.hours, span.day
    lowest = np.atleast_2d(tree.air_c)[:, hours].min(axis=1)
    coldest = hours.start + int(np.argmin(mean_course[hours]))
    sun = sun_day(span.evening, site)
    air_c, spread_c = float(lowest.mean()), float(np.hypot(lowest.std(), tree.offset_sd_c))
    return Night(
        evening=span.evening,
        field_c=float(members_c[:, hours].min(axis=1).mean()),
        air_c=air_c,
        air_low_c=air_c - Z_TEN_PERCENT * spread_c,
        air_high_c=air_c + Z_TEN_PERCENT * spread_c,
        lowest_utc=ahead.start_utc + timedelta(hours=coldest),
        sunset_utc=sun.sunset_utc,
        sunrise_utc=sun.sunrise_utc,
        gust_m_s=_highest(ahead.gust_m_s[day], ahead.wind_m_s[day]),
        day_high_c=float(mean_course[day].max()) if day.stop > day.start else float(mean_course[hours].max()),
        complete=hours.stop - hours.start >= 18,
        tissue=tissue,
        calm=calm_stretches(ahead, sun.sunrise_utc, sun.sunset_utc),
    )


@lru_cache(maxsize=32)  # every tree of a garden asks for the same days
def calm_stretches(
    ahead: HourlyWeather, sunrise_utc: datetime | None, sunset_utc: datetime | None
) -> tuple[tuple[datetime, datetime], ...]:
    """The stretches of a day's light without gusts that forbid work with film or on ladders; an unknown gust is calm.

    A gust belongs to the hour before its mark. None where the sun does not rise.
    """
    found: list[tuple[datetime, datetime]] = []
    if sunrise_utc is None or sunset_utc is None:
        return ()
    first, last = (ahead.index_of(at) for at in (sunrise_utc, sunset_utc))
    for mark in range(max(0, first), min(last + 2, ahead.hours)):
        ends = ahead.start_utc + HOUR * mark
        begins, ends = max(ends - HOUR, sunrise_utc), min(ends, sunset_utc)
        if begins >= ends or ahead.gust_m_s[mark] >= NO_FILM_GUST_M_S:
            continue
        joined = found[-1][0] if found and found[-1][1] == begins else None
        found[-1:] = [*([] if joined else found[-1:]), (joined or begins, ends)]
    return tuple(found)


def _tissue_c(
    courses: Mapping[CoverState, StateCourse],
    spans: Sequence[_Span],
    tree: TreeWeather,
    hardiness: Hardiness,
    outside: float,
) -> list[dict[CoverState, Tissue]]:
    """What is felt in each night in each state: all of a tree at once, in arrays (members, states, nights)."""
    if not spans:
        return []
    wood_c, top_c, air_c = (
        np.stack([getattr(one, name) for one in courses.values()], axis=1) for name in ("wood_c", "top_c", "air_c")
    )
    hours = [span.hours for span in spans]
    covered = np.array([state is not CoverState.BARE for state in courses])[:, None]
    each_c = np.stack([wood_c, top_c])
    lows_c, at = night_lows(np.concatenate([each_c, each_c.mean(axis=1, keepdims=True)], axis=1), hours, covered)
    wood, top = lows_c[:, :-1]  # (members, states, nights); the last is the mean of the members
    cover_sd = np.take_along_axis(np.stack([one.spread_c for one in courses.values()]), at[0, -1], axis=1)
    response = response_to_air(wood, wood[:, [list(courses).index(CoverState.BARE)]])
    air_mean_c = air_c.mean(axis=0)
    sd = np.hypot(response * tree.offset_sd_c, cover_sd)
    lt10_c, half, lt10_sd = hardiness.lt10_c, hardiness.lt50_c, hardiness.sd_c
    middle, tip = (expected_share_lost(values, sd, lt10_c, half, lt10_sd) for values in (wood, top))
    lost = with_tip(middle, tip)
    bare = lost[list(courses).index(CoverState.BARE)] if outside else 0.0
    light = [span.day if span.day.stop > span.day.start else span.hours for span in spans]
    mean, whole = wood.mean(axis=0), np.hypot(wood.std(axis=0), sd)
    told = {
        "wood_c": mean,
        "top_c": top.mean(axis=0),
        "low_c": mean - Z_TEN_PERCENT * whole,
        "high_c": mean + Z_TEN_PERCENT * whole,
        "sd_c": sd,
        "chance": chance_colder(wood, sd, lt10_c, lt10_sd),
        "lost": (1.0 - outside) * lost + outside * bare,
        "warmest_c": np.stack([air_mean_c[:, hours].max(axis=1) for hours in light], axis=1),
    }
    return [
        {
            state: Tissue(**{name: float(values[s, n]) for name, values in told.items()})
            for s, state in enumerate(courses)
        }
        for n in range(len(spans))
    ]


def _with_roots(
    tissue: Sequence[Mapping[CoverState, Tissue]], courses: Mapping[CoverState, StateCourse], spans: Sequence[_Span]
) -> list[dict[CoverState, Tissue]]:
    """The same with the roots of a pot, which begins as warm as the mean of the first day round it."""
    air_c = np.stack([course.air_c.mean(axis=0) for course in courses.values()])
    soil_c = dict(zip(courses, roots_c(air_c, POT_L, air_c[:, :HOURS_A_DAY].mean(axis=1)), strict=True))
    return [
        {state: replace(one, roots_c=float(soil_c[state][span.hours].min())) for state, one in by_state.items()}
        for by_state, span in zip(tissue, spans, strict=True)
    ]


def _daylight(ahead: HourlyWeather, evening: date, zone: ZoneInfo) -> slice:
    """The hour marks from 7 to 19 local on the day of the evening, as far as they lie ahead."""
    morning = datetime(evening.year, evening.month, evening.day, 7, tzinfo=zone)
    first = max(0, ahead.index_of(morning))
    return slice(first, max(first, min(ahead.hours, ahead.index_of(morning + timedelta(hours=12)) + 1)))


def _highest(gust_m_s: Floats, wind_m_s: Floats) -> float:
    """The worst gust, or where none is reported the strongest mean wind."""
    for values in (gust_m_s, wind_m_s):
        if len(values) and not np.isnan(values).all():
            return float(np.nanmax(values))
    return 0.0
