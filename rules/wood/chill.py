"""Chill: how much of winter's rest a tree has had, each count by its published name."""

from typing import Final

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

CHILLING_LIMIT_C: Final = (45.0 - 32.0) / 1.8  # 45 °F, Bennett 1949 and Weinberger 1950, printed as 7.2 °C

# Utah model, continuous °F form (Richardson, Seeley & Walker 1974 as tabulated by the University of California, Davis).
# Chosen over the °C form because its bands meet; the two sets of bounds differ by up to 0.4 °C.
UTAH_UPPER_F: Final = np.array([34.0, 36.0, 48.0, 54.0, 60.0, 65.0])  # a bound belongs to the band below it
UTAH_UNITS: Final = np.array([0.0, 0.5, 1.0, 0.5, 0.0, -0.5, -1.0])

# Dynamic Model (Fishman, Erez & Couvillon 1987; Erez et al. 1990), constants from memory.
E0_K: Final = 4153.5  # activation energy of the building step over the gas constant
E1_K: Final = 12888.8  # the same of the destroying step
A0_PER_H: Final = 139500.0
A1_PER_H: Final = 2.567e18
SLOPE: Final = 1.6
TRANSITION_K: Final = 277.0
ZERO_K: Final = 273.0  # the model counts kelvin from 273, not from 273.15

SLACK: Final = 1e-9  # degrees; swallows the rounding of a conversion between °C and °F at a bound


def chilling_hours_bennett(air_c: npt.ArrayLike) -> Floats:
    """One for each hour between 0 °C and 45 °F, both included (Bennett 1949).

    Parameters
    ----------
    air_c
        Air or wood, one value per hour [°C], any shape; NaN is a missing hour and stays NaN.

    Returns
    -------
    Floats
        Chilling hours of each hour [h], same shape.

    >>> float(chilling_hours_bennett([-1.0, 0.0, 7.0, 8.0]).sum())
    2.0
    """
    air = np.asarray(air_c, float)
    counted = (air >= 0.0) & (air <= CHILLING_LIMIT_C + SLACK)
    return _unless_missing(counted, air)


def chilling_hours_weinberger(air_c: npt.ArrayLike) -> Floats:
    """One for each hour below 45 °F, frost included (Weinberger 1950).

    Parameters and result as `chilling_hours_bennett`.
    """
    air = np.asarray(air_c, float)
    return _unless_missing(air < CHILLING_LIMIT_C - SLACK, air)


def utah_chill_units(air_c: npt.ArrayLike) -> Floats:
    """Chill units of each hour, -1 to 1: warm hours take back (Richardson, Seeley & Walker 1974).

    The continuous °F bounds are used. Parameters and shape as `chilling_hours_bennett`.

    >>> utah_chill_units([6.0, 20.0]).tolist()
    [1.0, -1.0]
    """
    air = np.asarray(air_c, float)
    band = np.searchsorted(UTAH_UPPER_F + SLACK, air * 1.8 + 32.0, side="left")
    return _unless_missing(UTAH_UNITS[band], air)


def dynamic_chill_portions(air_c: npt.ArrayLike) -> Floats:
    """Chill portions banked so far, hour by hour, by the Dynamic Model (Fishman et al. 1987).

    Cold builds an intermediate product, warmth destroys it; once it reaches 1 a share is banked and cannot be lost.

    Parameters
    ----------
    air_c
        Air or wood, one value per hour [°C], shape (..., hours); leading axes are computed side by side.

    Returns
    -------
    Floats
        Running total of portions, same shape; the last entry is the season's sum.

    Raises
    ------
    ValueError
        An hour is missing: a gap would pass for warmth, so it must be filled and owned to first.
    """
    air = np.asarray(air_c, float)
    if np.isnan(air).any():
        at = int(np.argwhere(np.isnan(air))[0][-1])
        raise ValueError(f"chill portions need every hour, but air_c of hour {at} is missing: fill the gap first")
    share, balance, kept = _dynamic_rates(air)
    banked = np.zeros_like(air)
    built = np.zeros(air.shape[:-1])
    for hour in range(air.shape[-1]):
        built = balance[..., hour] - (balance[..., hour] - built) * kept[..., hour]
        banked[..., hour] = np.where(built >= 1.0, share[..., hour] * built, 0.0)
        built = built - banked[..., hour]
    return np.cumsum(banked, axis=-1)


def _dynamic_rates(air_c: Floats) -> tuple[Floats, Floats, Floats]:
    """Share banked at the threshold, level the product tends to, and what an hour leaves of the distance to it."""
    kelvin = air_c + ZERO_K
    share = 1.0 / (1.0 + np.exp(-SLOPE * TRANSITION_K * (kelvin - TRANSITION_K) / kelvin))
    balance = (A0_PER_H / A1_PER_H) * np.exp((E1_K - E0_K) / kelvin)
    kept = np.exp(-A1_PER_H * np.exp(-E1_K / kelvin))
    return share, balance, kept


def _unless_missing(units: npt.ArrayLike, air: Floats) -> Floats:
    return np.where(np.isnan(air), np.nan, units)
