"""From temperature and hardiness to injury: how likely, and what share of the wood."""

from math import erf, sqrt
from typing import Final

import numpy as np
import numpy.typing as npt

Z_TEN_PERCENT: Final = 1.2815515655446004  # the 10 % point of the standard normal, tables of the normal integral

Values = npt.NDArray[np.float64]


def normal_share(z: Values | float) -> Values:
    """Share of a standard normal population below `z` (the normal integral, by the error function).

    >>> round(float(normal_share(-Z_TEN_PERCENT)), 6)
    0.1
    """
    share = np.frompyfunc(lambda x: 0.5 * (1.0 + erf(x / sqrt(2.0))), 1, 1)(z)
    return np.asarray(share, dtype=np.float64)


def dose_width_c(bears_c: float, half_c: float) -> float:
    """Width of the dose curve: one standard deviation [°C] of a normal curve through its 10 % and 50 % points.

    Parameters
    ----------
    bears_c, half_c
        Temperatures that injure 10 % and 50 % of the tissue [°C]; the second must be the colder.

    Raises
    ------
    ValueError
        If the 50 % point is not colder than the 10 % point.

    Notes
    -----
    A normal dose curve is an assumption; 'Elberta' peach buds are steeper on the cold side (Proebsting & Mills
    1966, read in a quotation).

    >>> round(dose_width_c(-9.0, -12.0), 2)
    2.34
    """
    if not half_c < bears_c:
        raise ValueError(
            f"the 50 % point must be colder than the 10 % point: {half_c:g} °C is not below {bears_c:g} °C"
        )
    return (bears_c - half_c) / Z_TEN_PERCENT


def chance_colder(felt_c: Values, spread_c: Values | float, bears_c: Values | float, bears_sd_c: float) -> Values:
    """Chance that the wood gets colder than it bears, averaged over the members.

    Parameters
    ----------
    felt_c
        Lowest temperature of the wood in each member [°C], shape (members, ...).
    spread_c
        One standard deviation of it besides the forecast: site and cover [°C].
    bears_c, bears_sd_c
        What the wood bears, and its own spread [°C].

    Returns
    -------
    numpy.ndarray
        Chances 0-1, shape (...).
    """
    width = np.sqrt(np.square(spread_c) + bears_sd_c**2)
    return np.asarray(normal_share((np.asarray(bears_c) - felt_c) / np.maximum(width, 0.05)).mean(axis=0))


def expected_share_lost(
    felt_c: Values, spread_c: Values | float, bears_c: float, half_c: float, bears_sd_c: float
) -> Values:
    """Expected share of the wood lost, averaged over the members.

    A normal dose curve seen through normal doubts is again a normal curve, with the squares of the widths added.

    Parameters
    ----------
    felt_c
        Lowest temperature of the wood in each member [°C], shape (members, ...).
    spread_c
        One standard deviation of it besides the forecast [°C].
    bears_c, half_c, bears_sd_c
        10 % and 50 % points of the wood and their spread [°C].

    Returns
    -------
    numpy.ndarray
        Shares 0-1, shape (...).

    >>> float(expected_share_lost(np.array([-12.0]), 0.0, -9.0, -12.0, 0.0))
    0.5
    """
    width = np.sqrt(np.square(spread_c) + bears_sd_c**2 + dose_width_c(bears_c, half_c) ** 2)
    return np.asarray(normal_share((half_c - felt_c) / width).mean(axis=0))
