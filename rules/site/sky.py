"""What the night sky takes: vapour pressure, and the emissivity of a clear or cloudy sky."""

from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.units import ABSOLUTE_ZERO_C

Floats = npt.NDArray[np.float64]

CLOUD_CLOSES: Final = 0.84  # share of the clear sky's window an overcast closes; Campbell & Norman; open codes 0.47-0.9


def vapour_pressure_hpa(dew_point_c: npt.ArrayLike) -> Floats:
    """Vapour pressure [hPa] of air with this dew point over water [°C] (Alduchov & Eskridge 1996)."""
    t = np.asarray(dew_point_c, dtype=np.float64)
    return 6.1094 * np.exp(17.625 * t / (t + 243.04))


def clear_sky_emissivity(air_c: npt.ArrayLike, dew_c: npt.ArrayLike) -> Floats:
    """Emissivity of the cloudless sky [0-1] (Prata 1996), from air and dew point [°C].

    >>> round(float(clear_sky_emissivity(-10, -12)), 3)
    0.705
    """
    w = 46.5 * vapour_pressure_hpa(dew_c) / (np.asarray(air_c, dtype=np.float64) - ABSOLUTE_ZERO_C)
    return 1 - (1 + w) * np.exp(-np.sqrt(1.2 + 3 * w))


def sky_emissivity(air_c: npt.ArrayLike, dew_c: npt.ArrayLike, cloud_fraction: npt.ArrayLike) -> Floats:
    """Emissivity of the sky with cloud [0-1]: Prata 1996, cloud term of Campbell & Norman."""
    clear = clear_sky_emissivity(air_c, dew_c)
    cloudy: Floats = clear + (1 - clear) * CLOUD_CLOSES * np.asarray(cloud_fraction, dtype=np.float64)
    return cloudy
