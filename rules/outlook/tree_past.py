"""What one tree has gone through up to now: hour by hour, with the heat its cover and ground hold at the end."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from rules.garden.records import state_series
from rules.garden.tree import Tree
from rules.heat.balance import HeatStart, inside_temperatures
from rules.outlook.inputs import OutlookInputs, cover_on, tree_weathers
from rules.site.soil import site_soil
from rules.weather.hourly import HourlyWeather, Hours
from rules.weather.timeline import Timeline


@dataclass(frozen=True, kw_only=True, eq=False)
class TreePast:
    """The hours gone by at one tree.

    Parameters
    ----------
    weather
        The open field, without gaps; `known` says which hours were told.
    known, wood_c
        Shape (hours,); what the wood felt with its cover as the deeds left it [°C].
    finish
        What cover and ground hold at the last hour.
    """

    weather: HourlyWeather
    known: npt.NDArray[np.bool_]
    wood_c: Hours
    finish: HeatStart


def tree_past(inputs: OutlookInputs, line: Timeline, tree: Tree) -> TreePast | None:
    """The past of one tree; None where fewer than two hours are known."""
    return next(iter(tree_pasts(inputs, line, [tree])), None)


def tree_pasts(inputs: OutlookInputs, line: Timeline, trees: Sequence[Tree]) -> list[TreePast]:
    """The past of each tree, in one march; empty where fewer than two hours are known."""
    past = line.past
    if past is None or past.hours < 2 or not trees:
        return []
    times = past.times_utc()
    inside = inside_temperatures(
        [cover_on(inputs, tree) for tree in trees],
        np.stack([state_series(inputs.records.deeds, tree.name, times) for tree in trees]),
        tree_weathers(inputs, past, trees),
        soil=site_soil(inputs.site.latitude_deg, inputs.site.elevation_m),
    )
    return [
        TreePast(weather=past, known=line.past_known, wood_c=inside.wood_c[row], finish=inside.finish.of([row]))
        for row in range(len(trees))
    ]


def tree_named(inputs: OutlookInputs, name: str) -> Tree:
    """The tree called `name`.

    Raises
    ------
    KeyError
        If the garden has no such tree.
    """
    for tree in inputs.trees:
        if tree.name == name:
            return tree
    raise KeyError(name)
