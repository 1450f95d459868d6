"""Time beyond the forecast in a replay: the rest of the season for one who knows past winters, and not this one.

Backward from the season's end: each night of each past winter is met knowing its own last forecast, and beyond it only
the mean of what all winters bring. Whoever plans can do that too, so the plan never counts on care it will not manage.
Each past winter's own best course would know in October that January kills the tree, or that nothing does: trips then
go to trees that the plan cannot save. What is left out: a cold night makes the next one likely cold too, here each is
drawn anew, so hard and mild winters are a little too alike.
"""

from typing import Final

import numpy as np
import numpy.typing as npt

from rules.backtest_rules import season_end
from rules.backtest_winters import FIRST_DAY, Garden, season_holding
from rules.plan_prices import PlanPrices
from rules.plan_search import LOST_LEVELS, lost_after, tail_at
from rules.reduced_heat import daily_features

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

FOLDS: Final = 4  # groups of winters: the time beyond is told to each by the others, never by itself


def season_tails(
    garden: Garden, told_c: tuple[Floats, Floats], width_c: Floats, unforeseen_c: Floats, prices: PlanPrices
) -> Floats:
    """Cost from each night on to the season's end, shape (lanes, nights + 1, states, LOST_LEVELS) [trips].

    The state is the one the cover stands in before that evening's choice. Heat kept from an earlier state is left out.

    Parameters
    ----------
    garden
        Trees and winters; a single winter has none but itself to tell of it.
    told_c
        Minimum and maximum of each day as the last forecast tells them, each (winters, days) [°C].
    width_c, unforeseen_c
        Width of the dose curve with the lasting doubts, (lanes, nights, states), and one sd of what the last forecast
        does not tell, (lanes, states) [°C].
    prices
        Prices.
    """
    winters = garden.winters
    felt = garden.felt(daily_features(*told_c, season=winters.season)[0])[:, FIRST_DAY : FIRST_DAY + winters.nights]
    holding = season_holding(felt[..., 2], felt[..., 3], 0, prices)
    step = (garden.work + prices.visit * (1.0 - np.eye(3)))[..., None]
    folds = min(FOLDS, len(winters.years))
    fold = np.arange(len(winters.years)) % folds
    tails = np.empty((garden.lanes, winters.nights + 1, 3, len(LOST_LEVELS)))
    tails[:, -1] = season_end(garden, prices)
    for own in (fold == one for one in range(folds)):
        tail = tails[:, -1]
        for night in range(winters.nights - 1, -1, -1):
            lost = _lost(garden, felt[:, night], width_c[:, night], unforeseen_c, night)
            wood = garden.worth[:, None, None] * (lost - LOST_LEVELS)
            onward = holding[:, night, :, None] + wood + tail_at(tail, lost)
            tail = _mean(garden, (step + onward[:, None]).min(axis=2), ~own if folds > 1 else own)
            mine = np.tile(own, len(garden.trees))
            tails[mine, night] = tail[mine]
    return tails


def _lost(garden: Garden, felt_c: Floats, width_c: Floats, unforeseen_c: Floats, night: int) -> Floats:
    """Share lost after one night from each share before it, shape (lanes, states, LOST_LEVELS)."""
    half = garden.half_c[:, night, None, None]
    return lost_after(
        LOST_LEVELS, half, width_c[..., None], unforeseen_c[..., None], felt_c[..., 0, None], felt_c[..., 1, None]
    )


def _mean(garden: Garden, cost: Floats, others: Flags) -> Floats:
    """The mean over some winters of each tree, for all of its lanes."""
    by_tree = cost.reshape(len(garden.trees), len(others), *cost.shape[1:])
    return np.repeat(by_tree[:, others].mean(axis=1), len(others), axis=0)
