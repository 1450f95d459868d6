"""Time beyond the forecast in a replay: each winter is told of it by the others, never by itself."""

from functools import partial
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.backtest.plain_rules import season_end
from rules.backtest.reduced_heat import daily_features
from rules.backtest.winters import FIRST_DAY, Garden, season_standing_cost
from rules.plan.costs_to_go import NightsToCome, costs_to_go
from rules.plan.prices import PlanPrices
from rules.wood.night_losses import LOST_LEVELS, harms

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

FOLDS: Final = 4  # groups of winters


def season_tails(
    garden: Garden, told_c: tuple[Floats, Floats], width_c: Floats, unforeseen_c: Floats, prices: PlanPrices
) -> Floats:
    """Cost from each night on to the season's end, shape (lanes, nights + 1, states, LOST_LEVELS) [trips].

    The state is the one the cover stands in before that evening's choice.

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
    nights = _nights_to_come(garden, told_c, width_c, unforeseen_c, prices)
    count = garden.winters.nights
    folds = min(FOLDS, len(garden.winters.years))
    fold = np.arange(len(garden.winters.years)) % folds
    tails = np.empty((garden.lanes, count + 1, 3, len(LOST_LEVELS)))
    tails[:, -1] = nights.end
    for own in (fold == one for one in range(folds)):
        others, mine = ~own if folds > 1 else own, np.tile(own, len(garden.trees))
        for i, tail in enumerate(costs_to_go(nights, partial(_mean, garden, others))):
            tails[mine, count - 1 - i] = tail[mine]
    return tails


def _nights_to_come(
    garden: Garden, told_c: tuple[Floats, Floats], width_c: Floats, unforeseen_c: Floats, prices: PlanPrices
) -> NightsToCome:
    winters = garden.winters
    tissue = garden.tissue(daily_features(*told_c, season=winters.season)[0])[:, FIRST_DAY : FIRST_DAY + winters.nights]
    colder, milder = harms(garden.lt50_c[..., None], width_c, unforeseen_c[:, None], tissue[..., 0], tissue[..., 1])
    return NightsToCome(
        colder=colder,
        milder=milder,
        standing_cost=season_standing_cost(tissue[..., 2], tissue[..., 3], 0, prices),
        step=garden.work + prices.visit * (1.0 - np.eye(3)),
        worth=garden.worth,
        end=season_end(garden, prices),
    )


def _mean(garden: Garden, others: Flags, cost: Floats) -> Floats:
    """The mean over some winters of each tree, for all of its lanes."""
    by_tree = cost.reshape(len(garden.trees), len(others), *cost.shape[1:])
    return np.repeat(by_tree[:, others].mean(axis=1), len(others), axis=0)
