"""Forecasts that are wrong as published ones are, and get better day by day: for playing past winters."""

from collections.abc import Callable
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.weather.members import lead_sigma_c

Floats = npt.NDArray[np.float64]

LEADS: Final = 9  # days a forecast reaches
NIGHT_TO_NIGHT: Final = 0.21  # correlation of the errors of one lead on successive nights (National Weather Service)
WITHIN_UPDATE: Final = 0.5  # of what one day's news changes in successive valid days; assumed


def sigma_by_lead_c() -> Floats:
    """Published error of each lead, shape (LEADS,) [°C]."""
    return np.asarray(lead_sigma_c(24.0 * np.arange(1, LEADS + 1)))


def forecast_errors_c(
    winters: int, nights: int, chance: np.random.Generator, next_day: Callable[[Floats], Floats] | None = None
) -> Floats:
    """Errors of forecasts that get better day by day, shape (winters, nights, leads) [°C].

    The error of a valid day is that of its last forecast, plus the news of each day before; its variance at lead d is
    sigma(d) squared. The news of one day changes successive valid days alike.

    `next_day` makes of pure noise, shape (winters, nights + LEADS), the errors of each day's last forecast, where
    those are not independent of the weather: published forecasts of the next day hardly are too bold.
    """
    sigma2 = sigma_by_lead_c() ** 2
    days = nights + LEADS
    last = _chained(chance.standard_normal((winters, days)), NIGHT_TO_NIGHT) * np.sqrt(sigma2[0])
    last = last if next_day is None else next_day(last)
    steps = np.sqrt(np.maximum(np.diff(sigma2), 0.0))
    news = _chained(chance.standard_normal((winters, days, LEADS - 1)), WITHIN_UPDATE) * steps
    error = np.empty((winters, nights, LEADS))
    for night in range(nights):
        for lead in range(LEADS):  # valid day night + lead; its news of lead i came on day night + lead - i
            told = [news[:, night + lead - i, i] for i in range(lead)]
            error[:, night, lead] = last[:, night + lead] + np.sum(told, axis=0) if told else last[:, night + lead]
    return error


def _chained(draws: Floats, correlation: float) -> Floats:
    """Standard draws correlated along the last axis, first-order."""
    chained = draws.copy()
    for i in range(1, draws.shape[-1]):
        chained[..., i] = correlation * chained[..., i - 1] + np.sqrt(1 - correlation**2) * draws[..., i]
    return chained
