"""The night just past: the cold in the open, and what each tree's wood felt as its cover stood."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np

from rules.garden.cover import STATE_INDEX, CoverState
from rules.garden.records import Place, Reading
from rules.garden.tree import Tree
from rules.heat.night_lows import wood_minima
from rules.outlook.inputs import OutlookInputs, timeline_of
from rules.outlook.past import past_of
from rules.weather.hourly import NightMinimum, evening_of, night_minima, tonight


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
    air = _of(night_minima(line.past, inputs.site.zone, air_c=told_c), evening)
    if air is None:
        return None
    past, found = past_of(inputs, line, trees), []
    for row, tree in enumerate(trees if past else ()):
        assert past is not None  # noqa: S101 - asked for above
        wood_c = np.where(line.past_known, past.wood_c[row], np.nan)
        covered = past.states[row] != STATE_INDEX[CoverState.BARE]
        wood = _of(wood_minima(line.past, inputs.site.zone, wood_c, covered), evening)
        if wood is not None:
            found.append(TreeNight(tree=tree, wood=wood, readings=_read(inputs, tree, evening)))
    return NightBehind(evening=evening, air=air, trees=tuple(found))


def _of(nights: Sequence[NightMinimum], evening: date) -> NightMinimum | None:
    return next((night for night in nights if night.evening == evening), None)


def _read(inputs: OutlookInputs, tree: Tree, evening: date) -> tuple[Reading, ...]:
    """What was read in the air at a tree in that night."""
    beside = [one for one in inputs.records.readings if one.tree == tree.name and one.place is Place.AIR]
    zone = inputs.site.zone
    return tuple(one for one in beside if evening_of(one.at_utc, zone, is_minimum=one.is_minimum) == evening)
