"""Every coming night of one tree in every state of its cover: felt, borne, how likely too cold, how much lost."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from rules.cover import CoverState
from rules.hardiness import Hardiness
from rules.injury import Z_TEN_PERCENT, chance_colder, expected_share_lost
from rules.margins import Felt, Night, tonight
from rules.microclimate import TreeWeather
from rules.sun import sun_day
from rules.tree import Site
from rules.weather import HourlyWeather, night_hours

Floats = npt.NDArray[np.float64]

TIP_SHARE: Final = 0.1  # the top 15-20 cm of a stem of 1.8 m; assumed, no source
LEAST_HOURS: Final = 6  # a shorter rest of a night is not judged: it would say nothing of its minimum


@dataclass(frozen=True, kw_only=True, eq=False)
class Course:
    """What one state of a cover would make of the hours to come.

    `wood_c`, `top_c`, `air_c` [°C], shape (members, hours); `spread_c` 1 sd of the wood from the unknown cover [°C],
    shape (hours,).
    """

    wood_c: Floats
    top_c: Floats
    air_c: Floats
    spread_c: Floats


def nights_ahead(
    ahead: HourlyWeather,
    members_c: Floats,
    tree: TreeWeather,
    courses: Mapping[CoverState, Course],
    hardiness: Hardiness,
    site: Site,
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
        What the wood bears; taken as it is today for all of the nights.
    site
        For the sun.
    """
    found = []
    first = tonight(ahead.start_utc, site.zone)
    for evening, hours in night_hours(ahead, site.zone):
        if evening >= first and hours.stop - hours.start >= LEAST_HOURS:
            found.append(_night(evening, hours, ahead, members_c, tree, courses, hardiness, site))
    return found


def _night(
    evening: date,
    hours: slice,
    ahead: HourlyWeather,
    members_c: Floats,
    tree: TreeWeather,
    courses: Mapping[CoverState, Course],
    hardiness: Hardiness,
    site: Site,
) -> Night:
    lowest = np.atleast_2d(tree.air_c)[:, hours].min(axis=1)
    mean_course = np.atleast_2d(tree.air_c).mean(axis=0)
    coldest = hours.start + int(np.argmin(mean_course[hours]))
    sun = sun_day(evening, site)
    day = _daylight(ahead, evening, site.zone)
    spread = float(np.hypot(lowest.std(), tree.offset_sd_c))
    return Night(
        evening=evening,
        field_c=float(members_c[:, hours].min(axis=1).mean()),
        air_c=float(lowest.mean()),
        air_low_c=float(lowest.mean() - Z_TEN_PERCENT * spread),
        air_high_c=float(lowest.mean() + Z_TEN_PERCENT * spread),
        lowest_utc=ahead.start_utc + timedelta(hours=coldest),
        sunset_utc=sun.sunset_utc,
        sunrise_utc=sun.sunrise_utc,
        gust_m_s=_highest(ahead.gust_m_s[day], ahead.wind_m_s[day]),
        day_high_c=float(mean_course[day].max()) if day.stop > day.start else float(mean_course[hours].max()),
        complete=hours.stop - hours.start >= 18,
        felt={state: _felt(course, hours, day, tree, hardiness) for state, course in courses.items()},
    )


def _felt(course: Course, hours: slice, day: slice, tree: TreeWeather, hardiness: Hardiness) -> Felt:
    wood, top = course.wood_c[:, hours].min(axis=1), course.top_c[:, hours].min(axis=1)
    at = int(np.argmin(course.wood_c[:, hours].mean(axis=0)))
    response = _response(wood, np.atleast_2d(tree.air_c)[:, hours].min(axis=1))
    sd = float(np.hypot(response * tree.offset_sd_c, course.spread_c[hours][at]))
    bears, half, bears_sd = hardiness.bears_c, hardiness.half_c, hardiness.sd_c
    middle = expected_share_lost(wood, sd, bears, half, bears_sd)
    tip = expected_share_lost(top, sd, bears, half, bears_sd)
    warmest = course.air_c[:, day if day.stop > day.start else hours].mean(axis=0).max()
    whole = float(np.hypot(wood.std(), sd))
    return Felt(
        wood_c=float(wood.mean()),
        top_c=float(top.mean()),
        low_c=float(wood.mean() - Z_TEN_PERCENT * whole),
        high_c=float(wood.mean() + Z_TEN_PERCENT * whole),
        sd_c=sd,
        chance=float(chance_colder(wood, sd, bears, bears_sd)),
        lost=float((1 - TIP_SHARE) * middle + TIP_SHARE * tip),
        warmest_c=float(warmest),
    )


def _response(wood: Floats, air: Floats) -> float:
    """How much of a change of the outside minimum reaches the wood, read off the members; at most all of it."""
    spread = float(air.std())
    return min(1.0, float(wood.std()) / spread) if spread > 0.05 else 1.0


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
