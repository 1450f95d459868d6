"""The night just past: the cold in the open, and what each tree's wood felt as its cover stood."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np

from rules.garden.records import Place, Reading
from rules.garden.tree import Tree
from rules.outlook.inputs import OutlookInputs, timeline_of
from rules.outlook.past import past_of
from rules.weather.hourly import HourlyWeather, NightMinimum, evening_of, night_minima, tonight


@dataclass(frozen=True, kw_only=True)
class TreeNight:
    """One tree in one night: the lowest its wood felt, reckoned, and what was read in the air beside it."""

    tree: Tree
    wood: NightMinimum
    readings: tuple[Reading, ...]


@dataclass(frozen=True, kw_only=True)
class NightBehind:
    """A night that is over: the lowest air in the open, and the trees."""

    evening: date
    air: NightMinimum
    trees: tuple[TreeNight, ...]


def night_behind(inputs: OutlookInputs, trees: Sequence[Tree], now: datetime) -> NightBehind | None:
    """The last night before "tonight"; None where none of its hours is known.

    From the service's own past hours, which are nearer the truth than a forecast and still no thermometer.
    """
    line = timeline_of(inputs, now)
    if line is None or line.past is None:
        return None
    evening = tonight(now, inputs.site.zone) - timedelta(days=1)
    told_c = np.where(line.past_known, line.past.air_c, np.nan)
    air = _lowest(line.past, inputs, evening, told_c)
    if air is None:
        return None
    past, found = past_of(inputs, line, trees), []
    for tree, wood_c in zip(trees, past.wood_c if past else (), strict=False):
        wood = _lowest(line.past, inputs, evening, np.where(line.past_known, wood_c, np.nan))
        if wood is not None:
            found.append(TreeNight(tree=tree, wood=wood, readings=_read(inputs, tree, evening)))
    return NightBehind(evening=evening, air=air, trees=tuple(found))


def _lowest(
    weather: HourlyWeather, inputs: OutlookInputs, evening: date, air_c: np.typing.NDArray[np.float64]
) -> NightMinimum | None:
    nights = night_minima(weather, inputs.site.zone, air_c=air_c)
    return next((night for night in nights if night.evening == evening), None)


def _read(inputs: OutlookInputs, tree: Tree, evening: date) -> tuple[Reading, ...]:
    """What was read in the air at a tree in that night."""
    beside = [one for one in inputs.records.readings if one.tree == tree.name and one.place is Place.AIR]
    zone = inputs.site.zone
    return tuple(one for one in beside if evening_of(one.at_utc, zone, is_minimum=one.is_minimum) == evening)
