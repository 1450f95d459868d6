"""What past winters say of a forecast: how such nights came out when so much was told, instead of a lean to the usual.

Of the lows of past winters round a day, those near to what is told count most: each by how likely the forecast's own
error makes it (Bayes' rule with the past as prior). So the season's own spread and its cold tail come with it: on
nights told far below the usual what came was colder than the forecast's mean leant to the usual has it.
"""

from typing import Final

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

WINDOW_DAYS: Final = 15  # days of the year on either side whose lows count; assumed
SPREAD_BOUNDS: Final = (0.6, 1.6)  # of the spread a normal past would give: few winters say no more; assumed


def as_it_came(told_c: Floats, sigma_c: Floats, past_c: Floats) -> tuple[Floats, Floats]:
    """Mean and one sd of the lows that come when these are told.

    Parameters
    ----------
    told_c, sigma_c
        Lows told and the published error of such forecasts [°C], shapes that broadcast.
    past_c
        Lows of past winters round those days [°C], shape (..., lows) that broadcasts with a last axis added.

    Returns
    -------
    tuple
        Mean and sd [°C], shape as `told_c`.
    """
    told, sigma = np.asarray(told_c)[..., None], np.broadcast_to(sigma_c, np.shape(told_c))[..., None]
    nearness = -np.square((told - past_c) / sigma) / 2.0
    weight = np.exp(nearness - nearness.max(axis=-1, keepdims=True))
    weight /= weight.sum(axis=-1, keepdims=True)
    mean = (weight * past_c).sum(axis=-1)
    spread = np.sqrt((weight * np.square(past_c - mean[..., None])).sum(axis=-1))
    past_sd = past_c.std(axis=-1)
    normal = past_sd * sigma[..., 0] / np.hypot(past_sd, sigma[..., 0])
    low, high = (bound * normal for bound in SPREAD_BOUNDS)
    return np.asarray(mean), np.clip(spread, low, high)
