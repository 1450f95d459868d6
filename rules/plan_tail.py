"""What the state a cover is left in is worth beyond the forecast: will it have to be changed again soon?"""

from datetime import date, timedelta
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.cold_nights import chance_of_night_below
from rules.cover import Cover
from rules.daily_minima import DailyMinima
from rules.hardiness import Hardiness
from rules.plan_prices import PlanPrices
from rules.tree import Phase, Tree

Floats = npt.NDArray[np.float64]

TAIL_DAYS: Final = 14  # how far beyond the forecast the season is looked at; assumed
LOST_IN_SUCH_A_NIGHT: Final = 0.3  # of a bare tree's wood, once a night is colder than it bears; assumed
# Chance that within TAIL_DAYS some night is colder than the wood bears, where no past winters are known; assumed.
ASSUMED_CHANCE: Final = {
    Phase.GROWING: 0.1,
    Phase.RIPENING: 0.2,
    Phase.HARDENING: 0.5,
    Phase.RESTING: 0.5,
    Phase.WAKING: 0.3,
}


def chance_beyond(bears: Hardiness, gain_c: float, end: date, climate: DailyMinima | None) -> float:
    """Chance that in the days beyond the forecast a night gets colder than the wood bears [0-1].

    Parameters
    ----------
    bears
        What the wood bears, and its phase.
    gain_c
        How much warmer than the open field the wood is on a cold night [°C].
    end
        Last day of the forecast.
    climate
        Past winters; None, or fewer than ten of them, takes an assumed chance by phase.
    """
    first = end + timedelta(days=1)
    last = end + timedelta(days=TAIL_DAYS)
    past = chance_of_night_below(climate, bears.bears_c, first, last, offset_c=gain_c).year
    return ASSUMED_CHANCE[bears.phase] if past is None else past


def tail_trips(tree: Tree, cover: Cover, chance: tuple[float, float], prices: PlanPrices) -> Floats:
    """What a bare, a vented and a closed cover cost beyond the forecast, shape (3,) [trips].

    An open cap will have to be closed where such a night comes, a closed one opened where none does; a bare tree will
    have to be wrapped, or loses wood.

    Parameters
    ----------
    tree, cover
        The tree and its cover.
    chance
        Chance of a night that is too cold with the cover off, and with it on and vented.
    prices
        Prices.
    """
    cap = prices.visit + prices.of_work(cover.minutes_to_close)
    wrap = cap + prices.of_work(cover.minutes_to_wrap)
    bare, vented = chance
    return np.array([bare * min(wrap, LOST_IN_SUCH_A_NIGHT * tree.worth_trips), vented * cap, (1.0 - vented) * cap])
