"""What the roots in a pot feel: the air round it, late, and held at freezing while the water in the soil freezes."""

from math import pi
from typing import Final

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

SOIL_J_M3K: Final = 2.0e6  # moist potting soil, assumed
SOIL_W_MK: Final = 0.5  # the same, assumed
WALL_W_M2K: Final = 8.0  # air and sky to a pot out of the wind, assumed
WATER_M3M3: Final = 0.25  # what of it freezes, assumed
MELT_J_M3: Final = 1000 * 334e3
STEP_S: Final = 3600.0


def lag_h(pot_l: float) -> float:
    """Time constant of the soil in a pot [h], as high as wide and standing on the ground: heat held over heat lost.

    >>> round(lag_h(40.0), 1)
    10.2
    """
    if not 0.1 <= pot_l <= 5000:
        raise ValueError(f"pot_l is {pot_l:g} l, it must be 0.1 to 5000 l")
    volume_m3 = pot_l / 1000
    radius_m = (volume_m3 / (2 * pi)) ** (1 / 3)
    loss_w_m2k = 1 / (1 / WALL_W_M2K + radius_m / 3 / SOIL_W_MK)
    return float(SOIL_J_M3K * volume_m3 / (loss_w_m2k * 5 * pi * radius_m**2) / STEP_S)


def roots_c(air_c: Floats, pot_l: float, start_c: Floats | float | None = None) -> Floats:
    """Temperature of the soil in a pot [°C], shape (..., hours), in air of that shape on hour marks.

    One heat capacity behind one resistance, exact over each hour of steady air; latent heat as in the ground, spread
    over one degree below zero. `start_c` is that of the first mark, one or shape (...); None takes the first air.
    """
    kept = np.empty_like(air_c)
    kept[..., 0] = air_c[..., 0] if start_c is None else start_c
    plain_h = lag_h(pot_l)
    freezing_h = plain_h * (1 + MELT_J_M3 * WATER_M3M3 / SOIL_J_M3K)
    for hour in range(1, air_c.shape[-1]):
        now = kept[..., hour - 1]
        around = (air_c[..., hour - 1] + air_c[..., hour]) / 2
        late_h = np.where((now > -1) & (now < 0), freezing_h, plain_h)
        after = around + (now - around) * np.exp(-1 / late_h)
        # whoever comes to the freezing point waits there for the next hour
        kept[..., hour] = np.where((now >= 0) & (after < 0), np.maximum(after, -0.01), after)
    return kept
