"""Heat sums: how far warmth has brought a tree, from hours or from a day's two extremes."""

from typing import Final

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

# Anderson, Richardson & Kesner 1986, from memory.
GDH_BASE_C: Final = 4.0
GDH_BEST_C: Final = 25.0
GDH_LIMIT_C: Final = 36.0
# Richardson, Seeley, Walker, Anderson & Ashcroft 1975, from memory.
LINEAR_BASE_C: Final = 4.5
LINEAR_PLATEAU_C: Final = 25.0

LEAST_HALF_RANGE_C: Final = 1e-9  # a day without a wave; keeps the division finite, its result is not used


def growing_degree_hours_anderson(air_c: npt.ArrayLike, stress_factor: float = 1.0) -> Floats:
    """Growing degree hours on the asymmetric curve: best at 25 °C, none below 4 or above 36 °C.

    Anderson, Richardson & Kesner 1986, Acta Hort. 184:71, constants from memory.

    Parameters
    ----------
    air_c
        Air, one value per hour [°C], any shape; NaN is a missing hour and stays NaN.
    stress_factor
        Share of the growth an unstressed tree would make; normally 1.

    Returns
    -------
    Floats
        Growing degree hours of each hour [°C h], same shape.

    >>> round(float(growing_degree_hours_anderson(14.5)), 6)
    10.5
    """
    air = np.asarray(air_c, float)
    span = GDH_BEST_C - GDH_BASE_C
    rising = span / 2 * (1 + np.cos(np.pi + np.pi * (air - GDH_BASE_C) / span))
    falling = span * (1 + np.cos(np.pi / 2 * (1 + (air - GDH_BEST_C) / (GDH_LIMIT_C - GDH_BEST_C))))
    hours = np.where(air <= GDH_BEST_C, rising, falling)
    outside = (air < GDH_BASE_C) | (air > GDH_LIMIT_C)
    return np.asarray(stress_factor * np.where(outside, 0.0, hours), float)


def growing_degree_hours_richardson(air_c: npt.ArrayLike) -> Floats:
    """Growing degree hours on the straight line: degrees above 4.5 °C, level from 25 °C up.

    Richardson et al. 1975, from memory; one later paraphrase has zero instead of the plateau above 25 °C.
    Parameters and shape as `growing_degree_hours_anderson`.

    >>> growing_degree_hours_richardson([3.0, 10.0, 30.0]).tolist()
    [0.0, 5.5, 20.5]
    """
    above = np.minimum(np.asarray(air_c, float), LINEAR_PLATEAU_C) - LINEAR_BASE_C
    return np.asarray(np.maximum(above, 0.0), float)


def degree_days_simple(min_c: npt.ArrayLike, max_c: npt.ArrayLike, base_c: float) -> Floats:
    """Degree-days of a day from the mean of its extremes: (min + max) / 2 above the base, never below nought.

    Parameters
    ----------
    min_c, max_c
        A day's extremes [°C], shapes that broadcast; NaN is a missing day and stays NaN.
    base_c
        The temperature where development begins [°C].

    Returns
    -------
    Floats
        Degree-days of each day [°C d].

    Raises
    ------
    ValueError
        A minimum above its maximum.
    """
    low, high = _extremes(min_c, max_c)
    return np.asarray(np.maximum((low + high) / 2 - base_c, 0.0), float)


def degree_days_single_sine(min_c: npt.ArrayLike, max_c: npt.ArrayLike, base_c: float) -> Floats:
    """Degree-days under one sine wave through the day's extremes (Baskerville & Emin 1969, from memory).

    Parameters, result and refusal as `degree_days_simple`.

    >>> round(float(degree_days_single_sine(0.0, 20.0, 10.0)), 4)  # ten over pi
    3.1831
    """
    low, high = _extremes(min_c, max_c)
    mean, half = (low + high) / 2, (high - low) / 2
    steep = np.maximum(half, LEAST_HALF_RANGE_C)
    crossing = np.arcsin(np.clip((base_c - mean) / steep, -1.0, 1.0))
    partly = ((mean - base_c) * (np.pi / 2 - crossing) + half * np.cos(crossing)) / np.pi
    return _three_cases(low, high, base_c, partly)


def degree_days_double_sine(
    min_c: npt.ArrayLike, max_c: npt.ArrayLike, next_min_c: npt.ArrayLike, base_c: float
) -> Floats:
    """Degree-days under two half waves: up from this morning's minimum, down to the next (Allen 1976, from memory).

    Parameters, result and refusal as `degree_days_simple`; `next_min_c` is the next day's minimum [°C].
    """
    up = degree_days_single_sine(min_c, max_c, base_c)
    down = degree_days_single_sine(np.minimum(next_min_c, max_c), max_c, base_c)
    return np.asarray((up + down) / 2)


def degree_days_triangle(min_c: npt.ArrayLike, max_c: npt.ArrayLike, base_c: float) -> Floats:
    """Degree-days under straight lines between the extremes (single triangle, from memory; exact for them).

    Parameters, result and refusal as `degree_days_simple`.
    """
    low, high = _extremes(min_c, max_c)
    width = np.maximum(high - low, LEAST_HALF_RANGE_C)
    return _three_cases(low, high, base_c, (high - base_c) ** 2 / (2 * width))


def degree_days_four_cases(min_c: npt.ArrayLike, max_c: npt.ArrayLike, base_c: float) -> Floats:
    """Degree-days by the four cases of the Irish weather service, Met Éireann.

    Parameters, result and refusal as `degree_days_simple`.
    """
    low, high = _extremes(min_c, max_c)
    mostly = (high - base_c) / 2 - (base_c - low) / 4
    return _three_cases(low, high, base_c, np.where((low + high) / 2 >= base_c, mostly, (high - base_c) / 4))


def _three_cases(low: Floats, high: Floats, base_c: float, partly: Floats) -> Floats:
    """The whole day above the base, the whole day below, or the part the method itself reckons."""
    whole = (low + high) / 2 - base_c
    cases = np.where(low >= base_c, whole, np.where(high <= base_c, 0.0, partly))
    return np.where(np.isnan(low + high), np.nan, cases)


def _extremes(min_c: npt.ArrayLike, max_c: npt.ArrayLike) -> tuple[Floats, Floats]:
    low, high = np.broadcast_arrays(np.asarray(min_c, float), np.asarray(max_c, float))
    swapped = low > high
    if swapped.any():
        at = int(np.argmax(swapped))
        raise ValueError(f"min_c {low.flat[at]:g} °C of day {at} lies above max_c {high.flat[at]:g} °C")
    return low, high
