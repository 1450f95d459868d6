"""Chill: how much of winter's rest a tree has had, in chill portions."""

from typing import Final

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]


# Dynamic Model (Fishman, Erez & Couvillon 1987; Erez et al. 1990), constants from memory.
E0_K: Final = 4153.5  # activation energy of the building step over the gas constant
E1_K: Final = 12888.8  # the same of the destroying step
A0_PER_H: Final = 139500.0
A1_PER_H: Final = 2.567e18
SLOPE: Final = 1.6
TRANSITION_K: Final = 277.0
ZERO_K: Final = 273.0  # the model counts kelvin from 273, not from 273.15


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
    if air.ndim == 1:
        return np.cumsum(_banked_singly(share.tolist(), balance.tolist(), kept.tolist()))
    banked = np.zeros_like(air)
    built = np.zeros(air.shape[:-1])
    for hour in range(air.shape[-1]):
        built = balance[..., hour] - (balance[..., hour] - built) * kept[..., hour]
        banked[..., hour] = np.where(built >= 1.0, share[..., hour] * built, 0.0)
        built = built - banked[..., hour]
    return np.cumsum(banked, axis=-1)


def _banked_singly(share: list[float], balance: list[float], kept: list[float]) -> list[float]:
    """The same for one series: plain numbers are twenty times as fast as arrays of one."""
    banked, built = [], 0.0
    for part, level, left in zip(share, balance, kept, strict=True):
        built = level - (level - built) * left
        gained = part * built if built >= 1.0 else 0.0
        banked.append(gained)
        built -= gained
    return banked


def _dynamic_rates(air_c: Floats) -> tuple[Floats, Floats, Floats]:
    """Share banked at the threshold, level the product tends to, and what an hour leaves of the distance to it."""
    kelvin = air_c + ZERO_K
    share = 1.0 / (1.0 + np.exp(-SLOPE * TRANSITION_K * (kelvin - TRANSITION_K) / kelvin))
    balance = (A0_PER_H / A1_PER_H) * np.exp((E1_K - E0_K) / kelvin)
    kept = np.exp(-A1_PER_H * np.exp(-E1_K / kelvin))
    return share, balance, kept
