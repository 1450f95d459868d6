"""What the night sky takes: vapour pressure, dew and frost point, and the emissivity of a clear or cloudy sky."""

from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.units import ABSOLUTE_ZERO_C

Floats = npt.NDArray[np.float64]

CLOUD_CLOSES: Final = 0.84  # share of the clear sky's window an overcast closes; Campbell & Norman; open codes 0.47-0.9
EMISSIVITY_SD: Final = 0.05  # clear-sky formulas differ by this much at -10 °C, dew point -12 (six compared)


def vapour_pressure_hpa(dew_point_c: npt.ArrayLike) -> Floats:
    """Vapour pressure [hPa] of air with this dew point over water [°C] (Alduchov & Eskridge 1996)."""
    t = np.asarray(dew_point_c, dtype=np.float64)
    return 6.1094 * np.exp(17.625 * t / (t + 243.04))


def saturation_water_hpa(air_c: npt.ArrayLike) -> Floats:
    """Saturation vapour pressure over water [hPa], also below 0 °C (Sonntag 1990, WMO recommended).

    >>> saturation_water_hpa([-10, 0, 20]).round(3).tolist()
    [2.87, 6.112, 23.326]
    """
    t = np.asarray(air_c, dtype=np.float64)
    return 6.112 * np.exp(17.62 * t / (243.12 + t))


def saturation_ice_hpa(air_c: npt.ArrayLike) -> Floats:
    """Saturation vapour pressure over ice [hPa] (WMO's simplified form, read in two public codes)."""
    t = np.asarray(air_c, dtype=np.float64)
    return 6.112 * np.exp(22.46 * t / (272.62 + t))


def dew_point_c(vapour_hpa: npt.ArrayLike) -> Floats:
    """Dew point over water [°C] of a vapour pressure [hPa]: the inverse of `saturation_water_hpa`.

    >>> round(float(dew_point_c(0.5 * saturation_water_hpa(20))), 2)
    9.26
    """
    x = np.log(np.asarray(vapour_hpa, dtype=np.float64) / 6.112)
    point: Floats = 243.12 * x / (17.62 - x)
    return point


def frost_point_c(vapour_hpa: npt.ArrayLike) -> Floats:
    """Frost point [°C] of a vapour pressure [hPa]; a surface colder than this grows frost.

    Nearer to 0 than the dew point, which services give over water even in frost.
    """
    x = np.log(np.asarray(vapour_hpa, dtype=np.float64) / 6.112)
    point: Floats = 272.62 * x / (22.46 - x)
    return point


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
