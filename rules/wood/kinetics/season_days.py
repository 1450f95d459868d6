"""What each day of a season brings to wood besides its warmth, and what was seen on it."""

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

SUM_BASE_C: Final = 10.0  # base of the sum that ends the chill need, as published


@dataclass(frozen=True, kw_only=True, eq=False)
class SeasonDays:
    """What a season gives each of its days, besides warmth; arrays (days, ...) that broadcast with the lanes.

    Parameters
    ----------
    hardening_share
        How far the day lets coolness harden: day length, leaves, frost; 1 is the published step.
    readiness
        How far the wood is ready to wake [0-1]: 0 in deep rest, 1 where warmth acts in full.
    first_day
        The day the course begins on; days before it stay at H0.
    """

    hardening_share: Floats
    readiness: Floats
    first_day: int = 0


@dataclass(frozen=True, kw_only=True, eq=False)
class SeenBounds:
    """What sightings impose at the end of a day, each shape (days,); NaN and False impose nothing.

    `raise_to_c` softens to at least that; `lower_to_c` hardens to at least that; `woke` and `leafed_out` last;
    `gone_to` puts the share of the way to leaf-out that is gone to just that, further or back.
    """

    raise_to_c: Floats
    lower_to_c: Floats
    woke: Flags
    leafed_out: Flags
    gone_to: Floats | None = None


def days_filled(values: Floats) -> Floats:
    """Days nobody knows, bridged along the first axis; the ends hold the nearest known day, an empty lane is 0 °C."""
    if not np.isnan(values).any():
        return values
    lanes = values.reshape(len(values), -1).copy()
    marks = np.arange(len(lanes))
    for lane in range(lanes.shape[1]):
        known = ~np.isnan(lanes[:, lane])
        if not known.all():
            lanes[:, lane] = np.interp(marks, marks[known], lanes[known, lane]) if known.any() else 0.0
    return lanes.reshape(values.shape)
