"""The heat of some trees from now on, for the questions a grower asks between two looks ahead: why, and what if."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

import numpy as np

from rules.garden.cover import STATE_INDEX, Cover, CoverState
from rules.garden.tree import SiteSoil, Tree
from rules.heat.marching.start import HeatStart
from rules.heat.surroundings import TreeAir, part
from rules.heat.terms import HeatTerms, heat_terms
from rules.heat.what_if import Stand, made_spell
from rules.outlook.inputs import NO_COVER, OutlookInputs, cover_on, timeline_of, tree_weathers
from rules.outlook.past import past_of
from rules.site.microclimate import TreeWeather
from rules.weather.hourly import night_hours

REMEMBERED_H: Final = 20 * 24  # ten days of past weather wash out an unknown start (see heat_balance); twice that
SPELL_H: Final = 72  # a made spell has the shape of the next three days


@dataclass(frozen=True, kw_only=True, eq=False)
class TreeHeat:
    """One tree from now on.

    Parameters
    ----------
    tree, cover
        Which; a cover that is never used stands in where it has none.
    weather
        At the tree, the mean of the members, arrays (hours,).
    start
        What cover and ground hold now; None where no past is known.
    nights
        Evening date and hour slice of each coming night.
    soil
        Of the site.
    """

    tree: Tree
    cover: Cover
    weather: TreeWeather
    start: HeatStart | None
    nights: tuple[tuple[date, slice], ...]
    soil: SiteSoil

    def spell(self, minimum_c: float | None = None, *, in_the_open: bool = False, windy: bool = False) -> TreeAir:
        """The next three days, as forecast or stretched to a lowest temperature [°C].

        `in_the_open` says that `minimum_c` is of the open field: the tree's own offset at the coldest hour is added.

        Raises
        ------
        ValueError
            The next three days cannot be stretched so far.
        """
        ahead = part(self.weather, 0, min(SPELL_H, self.weather.air_c.shape[-1]))
        if minimum_c is None and not windy:
            return ahead
        coldest = int(np.argmin(ahead.air_c))
        if minimum_c is None:
            return made_spell(ahead, float(ahead.air_c[coldest]), windy=windy)
        offset_c = float(self.weather.offset_c[coldest]) if in_the_open else 0.0
        return made_spell(ahead, minimum_c + offset_c, windy=windy)

    def stand(self, weather: TreeAir) -> Stand:
        """The tree from now on, under such weather."""
        return Stand(self.cover, weather, self.start)

    def night_terms(self, evening: date, state: CoverState, threshold_c: float) -> HeatTerms | None:
        """Why it is as cold as it is inside in one night, the cover vented or closed all the time from now on.

        None where the tree is bare in that state, or the night has no hours ahead.
        """
        hours = next((hours for day, hours in self.nights if day == evening), None)
        if state == CoverState.BARE or self.cover is NO_COVER or hours is None or hours.stop < 2:
            return None
        states = np.full(self.weather.air_c.shape[-1], STATE_INDEX[state])
        night = (max(1, hours.start), hours.stop)
        return heat_terms(self.cover, states, self.weather, night, threshold_c, self.start, soil=self.soil)


def tree_heats(inputs: OutlookInputs, trees: Sequence[Tree], now: datetime) -> list[TreeHeat]:
    """The heat of some trees of a garden; empty where no forecast reaches beyond `now`."""
    line = timeline_of(inputs, now)
    if line is None or not trees:
        return []
    past = past_of(inputs, line, trees, REMEMBERED_H)
    nights = tuple(night_hours(line.ahead, inputs.site.zone))
    weathers = tree_weathers(inputs, line.ahead, trees)
    return [
        TreeHeat(
            tree=tree,
            cover=_cover(inputs, tree),
            weather=weather,
            start=past.finish.of([i]) if past else None,
            nights=nights,
            soil=inputs.soil,
        )
        for i, (tree, weather) in enumerate(zip(trees, weathers, strict=True))
    ]


def _cover(inputs: OutlookInputs, tree: Tree) -> Cover:
    return NO_COVER if tree.left_bare else cover_on(inputs, tree)
