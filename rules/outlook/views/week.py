"""The coming week at one tree, hour by hour: outside with its doubt, and inside in every state its cover can take."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.cover import STATE_INDEX, CoverState
from rules.garden.tree import Site
from rules.heat.balance import HeatStart, inside_with_spread
from rules.outlook.garden_outlook import Outlook
from rules.outlook.inputs import NO_COVER, OutlookInputs, members_ahead, tree_weathers
from rules.outlook.past import past_of
from rules.plan.garden_plan import Act
from rules.site.microclimate import TreeWeather, night_share
from rules.site.sun import HORIZON_ZENITH_DEG, elevation_sine
from rules.weather.hourly import Hours
from rules.weather.timeline import sliced, timeline
from rules.wood.injury import Z_TEN_PERCENT
from rules.wood.margins import TreeMargins

WEEK_H: Final = 7 * 24
DUSK_STEP_S: Final = 300.0  # how finely sunset and sunrise are looked for
Span = tuple[datetime, datetime]


@dataclass(frozen=True, kw_only=True, eq=False)
class Band:
    """A temperature with its doubt, hour by hour: 10 % point, mean and 90 % point [°C], each shape (hours,)."""

    low_c: Hours
    mean_c: Hours
    high_c: Hours


@dataclass(frozen=True, kw_only=True, eq=False)
class WeekOfTree:
    """One tree's coming week.

    Parameters
    ----------
    margins
        What the outlook says of its nights and of what its wood can take.
    now, start_utc
        The moment it was looked at, and the time of the first hour.
    outside
        Air at the tree, forecast and site in doubt.
    inside
        The wood at mid-height in each state its cover can take, the cover in doubt too. Empty without a forecast.
    dark
        From sunset to sunrise, within the week.
    acts
        What is asked for at this tree.
    credit
        The line the weather service's terms ask for.
    """

    margins: TreeMargins
    now: datetime
    start_utc: datetime
    outside: Band
    inside: Mapping[CoverState, Band]
    dark: tuple[Span, ...]
    acts: tuple[Act, ...]
    credit: str

    @property
    def hours(self) -> int:
        """How many hour marks there are; 0 without a forecast."""
        return len(self.outside.mean_c)


def week_ahead(inputs: OutlookInputs, seen: Outlook, name: str) -> WeekOfTree:
    """The coming week at the tree called `name`; no hours where no forecast reaches beyond now.

    Parameters
    ----------
    inputs
        The garden, its weather and its records.
    seen
        The outlook that was made from it.
    name
        The tree.

    Raises
    ------
    KeyError
        If the garden has no such tree.
    """
    margins, tree = seen.tree(name), inputs.tree(name)
    acts = tuple(act for act in seen.acts if act.tree == name)
    forecast = inputs.forecast
    line = timeline(inputs.past, forecast.weather, seen.now) if forecast else None
    if line is None or forecast is None:
        nothing = Band(low_c=np.empty(0), mean_c=np.empty(0), high_c=np.empty(0))
        return WeekOfTree(
            margins=margins, now=seen.now, start_utc=seen.now, outside=nothing, inside={}, dark=(), acts=acts,
            credit=seen.credit,
        )  # fmt: skip
    ahead = sliced(line.ahead, 0, WEEK_H + 1)
    past = past_of(inputs, line, [tree])
    members_c = members_ahead(inputs, forecast, line.ahead, seen.now)[:, : ahead.hours]
    weather = tree_weathers(inputs, ahead, [tree], members_c)[0]
    site_sd_c = weather.offset_sd_c * night_share(ahead, inputs.site)
    return WeekOfTree(
        margins=margins,
        now=seen.now,
        start_utc=ahead.start_utc,
        outside=_band(weather.air_c, site_sd_c),
        inside=_inside(inputs, margins, weather, site_sd_c, past.finish if past else None),
        dark=dark_spans(ahead.start_utc, ahead.hours, inputs.site),
        acts=acts,
        credit=seen.credit,
    )


def _band(values_c: npt.NDArray[np.float64], other_sd_c: Hours) -> Band:
    mean, reach = values_c.mean(axis=0), Z_TEN_PERCENT * np.hypot(values_c.std(axis=0), other_sd_c)
    return Band(low_c=mean - reach, mean_c=mean, high_c=mean + reach)


def _inside(
    inputs: OutlookInputs, margins: TreeMargins, weather: TreeWeather, site_sd_c: Hours, start: HeatStart | None
) -> dict[CoverState, Band]:
    alone = margins.cover is None or margins.tree.left_bare
    states = [CoverState.BARE] if alone else list(CoverState)
    found = inside_with_spread(
        [margins.cover or NO_COVER] * len(states),
        np.array([[STATE_INDEX[state]] * weather.air_c.shape[-1] for state in states]),
        weather,
        start.of([0] * len(states)) if start else None,
        soil=inputs.soil,
    )
    if found.spread_c is None:
        raise ValueError("the heat balance gave no spread")
    cover_sd_c = [
        np.zeros_like(site_sd_c) if s == CoverState.BARE else row for s, row in zip(states, found.spread_c, strict=True)
    ]
    met_c = [found.air_c[i] if s == CoverState.BARE else found.wood_c[i] for i, s in enumerate(states)]
    return {s: _band(met_c[i], np.hypot(site_sd_c, cover_sd_c[i])) for i, s in enumerate(states)}


def dark_spans(start_utc: datetime, hours: int, site: Site) -> tuple[Span, ...]:
    """When the sun is down between the first and the last of some hour marks, to five minutes; polar nights whole."""
    steps = np.arange(round((hours - 1) * 3600 / DUSK_STEP_S) + 1)
    sine = elevation_sine(start_utc.timestamp() + DUSK_STEP_S * steps, site)
    down = np.concatenate([[False], sine < np.cos(np.radians(HORIZON_ZENITH_DEG)), [False]])
    turns = np.flatnonzero(down[1:] != down[:-1])
    marks = [start_utc + timedelta(seconds=DUSK_STEP_S * float(min(turn, steps[-1]))) for turn in turns]
    return tuple(zip(marks[::2], marks[1::2], strict=True))
