"""Leaves in autumn, and what they have to do with hardening: short days harden through them, frost without them.

Two stages (Howell & Weiser 1970, Plant Physiol. 45:390, abstract): short days call the first, in the leaf; frost calls
the second, which needs no leaf. Leafless wood hardens faster (Irving & Lanphear 1967, abstract), leaves in the dark
hold it back, low light suffices (Steponkus & Lanphear 1968, abstracts). Amounts are assumed, with their ranges.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

FULL_FROST_C: Final = -3.0  # a night as cold as this calls the second stage in full; assumed
FROST_GAIN: Final = 2.0  # how much faster coolness hardens in it: 1 to 3, assumed
DARK_SHARE: Final = 0.3  # what a leafy tree in the dark still hardens by short days: 0 to 0.8, assumed; hardly matters
ENOUGH_LIGHT: Final = 0.3  # share of daylight that leaves need for it; assumed after Steponkus & Lanphear
KILLS_LEAVES_C: Final = -3.0  # a night as cold as this takes the leaves; assumed
LAST_LEAVES_DAY: Final = 69  # 15 November (15 May in the south): whatever still hangs does nothing; assumed
CHILLS_LEAVES_C: Final = 8.0  # days under it take a twenty-fifth of the leaves, days in the dark a twentieth; assumed
KEPT_COLD: Final = 0.96
KEPT_DARK: Final = 0.95
DARK_LIGHT: Final = 0.2  # less daylight than this is the dark


@dataclass(frozen=True, kw_only=True, eq=False)
class AutumnDays:
    """What hardening meets each day, arrays (days, ...).

    Parameters
    ----------
    mean_c, night_c
        Mean of the air at the tree and its lowest [°C]; NaN is a day nobody knows, which calls no frost.
    light
        Share of daylight that reaches leaves [0-1]; one number where it never changes.
    off_day
        Day of the season from which on leaves are off as seen; None while nobody said so.
    evergreen
        Whether leaves stay on all winter.
    """

    mean_c: Floats
    night_c: Floats
    light: Floats | float = 1.0
    off_day: int | None = None
    evergreen: bool = False


def leaf_share(days: AutumnDays) -> Floats:
    """Share of the leaves still on at the end of each day [0-1], shape as the days."""
    if days.evergreen:
        return np.ones_like(days.mean_c)
    light = np.broadcast_to(days.light, days.mean_c.shape)
    kept = np.where(days.mean_c < CHILLS_LEAVES_C, KEPT_COLD, 1.0) * np.where(light < DARK_LIGHT, KEPT_DARK, 1.0)
    kept = np.where(days.night_c <= KILLS_LEAVES_C, 0.0, kept)
    kept[LAST_LEAVES_DAY:] = 0.0
    if days.off_day is not None:
        kept[days.off_day :] = 0.0
    return np.cumprod(kept, axis=0)


def hardening_by_stage(
    days: AutumnDays, *, frost_gain: float | Floats = FROST_GAIN, dark_share: float = DARK_SHARE
) -> Floats:
    """How far coolness hardens each day, 1 being short days alone, shape as the days, or (days, ..., gains) of many.

    >>> bare = AutumnDays(mean_c=np.full(1, 5.0), night_c=np.array([-1.5]))
    >>> hardening_by_stage(bare).tolist()
    [2.0]
    """
    frost = np.clip(np.nan_to_num(days.night_c, nan=0.0) / FULL_FROST_C, 0.0, 1.0)
    lit = np.minimum(1.0, np.asarray(days.light) / ENOUGH_LIGHT)
    by_days = 1.0 - leaf_share(days) * (1.0 - dark_share) * (1.0 - lit)
    shape = (*frost.shape, *(1 for _ in np.shape(frost_gain)))
    return np.asarray((by_days + (1.0 - by_days) * frost).reshape(shape) * (1.0 + frost_gain * frost.reshape(shape)))
