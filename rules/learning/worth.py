"""What more readings would be worth: the doubt now, and the doubt after some nights of them."""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.learning.cover_gain import BIAS_SD_C, RANDOM_SD_C, LearnedCover
from rules.learning.cover_moves import CoverMoves
from rules.learning.pairs import FIELD_SD_C, THERMOMETER_SD_C
from rules.learning.site_offset import LEAST_SD_C, NIGHT_CORRELATION, NIGHT_COUNTS, LearnedOffset

Floats = npt.NDArray[np.float64]

MOST_NIGHTS: Final = 60  # more are not asked of anyone


@dataclass(frozen=True, kw_only=True)
class Worth:
    """One sd [°C] of a temperature now, and after `nights` nights of readings."""

    nights: int
    sd_now_c: float
    sd_then_c: float

    @property
    def share_left(self) -> float:
        """Share of the doubt that would be left [0-1]."""
        return self.sd_then_c / self.sd_now_c


def worth_at_tree(learned: LearnedOffset, nights: int = 5, *, factor: float = 1.0) -> Worth:
    """What lows of the tree's air on nights like this would be worth.

    Parameters
    ----------
    learned
        What is known now; without readings the noise is taken as stated.
    nights
        How many more.
    factor
        Clear and calm share of those nights and of the one in question [0-1].
    """
    stated_c = float(np.hypot(THERMOMETER_SD_C, FIELD_SD_C))
    noise_c = learned.noise_sd_c if np.isfinite(learned.noise_sd_c) else stated_c
    now_c = learned.sd_c(factor)
    then_c = 1 / np.sqrt(1 / now_c**2 + nights * NIGHT_COUNTS / noise_c**2)
    return Worth(nights=nights, sd_now_c=now_c, sd_then_c=max(float(then_c), min(now_c, LEAST_SD_C)))


def worth_inside(learned: LearnedCover, moves: CoverMoves, nights: int = 5, *, field_sd_c: float = FIELD_SD_C) -> Worth:
    """What lows read inside a cover would be worth to the wood's temperature on a night like the coldest of `moves`."""
    at = int(np.argmin(moves.wood_c))
    asked, column = moves.wood_moves_c[:, [at]], moves.air_moves_c[:, at]
    days_c = field_sd_c * moves.air_days_c[:, at]
    apart = np.abs(np.subtract.outer(np.arange(len(days_c)), np.arange(len(days_c))))
    weather_c2 = float(days_c @ NIGHT_CORRELATION**apart @ days_c)
    told_c2 = BIAS_SD_C**2 + (RANDOM_SD_C**2 + weather_c2) / (nights * NIGHT_COUNTS) if nights else np.inf
    pull = learned.covariance @ column / (column @ learned.covariance @ column + told_c2)
    then = learned.covariance - np.outer(pull, column @ learned.covariance)
    after = replace(learned, covariance=then)
    return Worth(nights=nights, sd_now_c=float(learned.spread_c(asked)[0]), sd_then_c=float(after.spread_c(asked)[0]))
