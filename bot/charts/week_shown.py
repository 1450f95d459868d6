"""What of a tree's week is shown: which nights and hours, which courses inside, and between which temperatures."""

from collections.abc import Mapping
from datetime import timedelta
from typing import Final

import numpy as np

from bot.wording.covers.words import has_top
from rules.garden.cover import CoverState
from rules.outlook.views.week import WEEK_H, Band, WeekOfTree
from rules.wood.margins import Night

LEAST_SHOWN_H: Final = 24
# How warm the plot reaches at most: what threatens lies below, and a hot inside is told in words. Assumed, no source
WARMEST_SHOWN_C: Final = 9.0
HOT_ABOVE_C: Final = 2.0  # how far above the warmest air outside the sun must heat closed wood to be worth a word


def nights_shown(week: WeekOfTree) -> list[Night]:
    """Nights of the week; of one that the forecast's end cuts off the low is not known yet."""
    if week.hours < 2:
        return []
    end = week.start_utc + timedelta(hours=shown_h(week))
    nights = enumerate(week.margins.nights)
    return [night for place, night in nights if night.lowest_utc <= end and (night.complete or place == 0)][:8]


def shown_h(week: WeekOfTree) -> int:
    """How many hours of it are shown."""
    return min(WEEK_H, max(LEAST_SHOWN_H, week.hours - 1))


def coldest_shown(week: WeekOfTree) -> Night | None:
    """The coldest of these nights; None where there is none."""
    return min(nights_shown(week), key=lambda night: night.air_c, default=None)


def hot_inside_c(week: WeekOfTree) -> float | None:
    """How hot the wood gets in the closed cover, where that is hotter than bare or outside [°C]."""
    if CoverState.CLOSED not in week.inside:
        return None
    highest = float(week.inside[CoverState.CLOSED].mean_c.max())
    bare_c = week.inside[CoverState.BARE].mean_c.max() if CoverState.BARE in week.inside else -np.inf
    usual = max(3.0, float(bare_c) + 1.0, float(week.outside.high_c.max()) + HOT_ABOVE_C)
    return highest if highest > usual else None


def highest_c(week: WeekOfTree) -> float:
    """How far up the plot reaches [°C]."""
    lows = [week.outside.mean_c, *(band.mean_c for band in inside_shown(week).values())]
    warmest_low = max(float(line.min()) for line in lows)
    return max(3.0, warmest_low + 1.0, min(WARMEST_SHOWN_C, max(float(line.max()) for line in lows) + 1.0))


def lowest_c(week: WeekOfTree) -> float:
    """How far down it reaches [°C]."""
    lows = [week.outside.low_c.min(), week.margins.hardiness.lt10_c - week.margins.hardiness.sd_c]
    return float(min(*lows, *(band.mean_c.min() for band in inside_shown(week).values()))) - 1.0


def inside_shown(week: WeekOfTree) -> Mapping[CoverState, Band]:
    """The states its cover can be in: one without a top is on or not."""
    opens = has_top(week.margins.cover)
    return {state: band for state, band in week.inside.items() if opens or state is not CoverState.VENTED}
