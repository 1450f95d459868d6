"""How ready wood is to wake: not at all in deep rest, in full once its chill is met well beyond the need.

The chill response of deacclimation grows with chill from 0 to 1 (Kovaleski 2021/22, NYUS.1, abstracts); sensitivity to
warmth grows from December to March (Gu et al. 2001, grape, abstract). The straight line is assumed: from half the need
on, half ready at the need, in full at one and a half times.
"""

from typing import Final

import numpy as np
import numpy.typing as npt

from rules.wood.kinetics.chill import dynamic_chill_portions
from rules.wood.kinetics.season_days import SUM_BASE_C, days_filled

Floats = npt.NDArray[np.float64]

WIDTH_DAYS: Final = 90.0  # of a readiness that goes by the calendar: December to March, as Gu et al. 2001 found grape's
EARLIEST_DAY: Final = 85  # 1 December: a cold week in autumn must not bring wood nearer to waking; assumed
OPENS_DAYS: Final = 30.0
HOURS: Final = np.arange(24.0)
WARMEST_H: Final = 15.0  # hour of a day's warmest air in the wave through its extremes; assumed


def ready_by_date(days: int, half_day: float) -> Floats:
    """Readiness of each day of the season where no chill need is published, shape (days,): half on `half_day`.

    >>> ready_by_date(200, 130.0)[[84, 130, 176]].tolist()
    [0.0, 0.5, 1.0]
    """
    return np.clip((np.arange(days) - half_day) / WIDTH_DAYS + 0.5, 0.0, 1.0)


def ready_by_sum(mean_c: Floats, need_c_days: float) -> Floats:
    """Readiness by the sum of coolness below 10 °C, counted in days before each (Ferguson et al. 2011, from memory).

    Parameters
    ----------
    mean_c
        Daily means [°C], shape (days, ...); unknown days are bridged.
    need_c_days
        The sum that ends the chill need [°C-days], below 0.
    """
    gone = np.cumsum(np.minimum(0.0, days_filled(mean_c) - SUM_BASE_C), axis=0)
    return _by_share(np.concatenate([np.zeros_like(gone[:1]), gone[:-1]]) / need_c_days)


def ready_by_portions_met(portions: Floats, need: float) -> Floats:
    """Readiness by the chill portions of `daily_portions`, against the published need of a species."""
    return _by_share(portions / need)


def daily_portions(min_c: Floats, max_c: Floats) -> Floats:
    """Chill portions (Dynamic Model) banked by the end of each day, shape as the extremes (days, ...).

    Unknown days are bridged; a day's hours are a wave through its extremes.
    """
    low, high = days_filled(min_c), days_filled(max_c)
    wave = np.cos(2.0 * np.pi * (HOURS - WARMEST_H) / 24.0)
    hours = (low + high)[..., None] / 2 + (high - low)[..., None] / 2 * wave
    flat = np.moveaxis(hours, 0, -2).reshape(*low.shape[1:], -1)
    return np.moveaxis(dynamic_chill_portions(flat)[..., 23::24], -1, 0)


def _by_share(met: Floats) -> Floats:
    opens = np.clip((np.arange(len(met)) - EARLIEST_DAY) / OPENS_DAYS, 0.0, 1.0)
    return np.minimum(np.clip(met - 0.5, 0.0, 1.0), opens.reshape(-1, *(1 for _ in met.shape[1:])))
