"""What a cover stands in: air, wind, sky and sun at its tree, checked, and read at any instant between the hours."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any, Final, Protocol

import numpy as np
import numpy.typing as npt

from rules.garden.units import ABSOLUTE_ZERO_C, STEFAN_BOLTZMANN_W_M2_K4

Array = npt.NDArray[np.float64]

# Believable ranges: air and wind beyond the records of the earth's surface (WMO, from memory); the sky of a hot cloudy
# night radiates as a black body, of the coldest dry one about 0.5; sun above the solar constant is an error.
BELIEVABLE: Final = {
    "air_c": (-60.0, 58.0, "°C"),
    "wind_m_s": (0.0, 75.0, "m/s"),
    "sky_emissivity": (0.3, 1.0, ""),
    "sun_side_w_m2": (0.0, 1500.0, "W/m²"),
    "sun_top_w_m2": (0.0, 1500.0, "W/m²"),
}
STEM_DIAMETER_M: Final = 0.02  # the wood of one to two years that winter kills; assumed
STEM_SUN_ABSORBED: Final = 0.7  # bark, assumed
STEM_EMISSIVITY: Final = 0.95  # bark, assumed
CALMEST_M_S: Final = 0.3  # air about a stem is never stiller, assumed
STEM_SKY_SHARE: Final = 0.5 / 0.45  # a thin stem sees half the sky where the side of a cover sees 0.45 of it


class TreeAir(Protocol):
    """Anything that holds the weather at one tree, arrays of shape (..., hours) on hour marks."""

    @property
    def start_utc(self) -> datetime: ...
    @property
    def air_c(self) -> Array: ...
    @property
    def wind_m_s(self) -> Array: ...
    @property
    def sky_emissivity(self) -> Array: ...
    @property
    def sun_side_w_m2(self) -> Array: ...
    @property
    def sun_top_w_m2(self) -> Array: ...
    @property
    def sky_share_side(self) -> float: ...
    @property
    def sky_share_top(self) -> float: ...
    @property
    def sun_share(self) -> float: ...


@dataclass(frozen=True, kw_only=True, eq=False)
class Surroundings:
    """The weather at one tree as the heat balance needs it.

    Parameters
    ----------
    start_utc
        Time of the first hour mark, aware.
    air_c, wind_m_s, sky_emissivity
        Air [°C], wind [m/s] and emissivity of the sky [0-1], shape (..., hours).
    sun_side_w_m2, sun_top_w_m2
        Sun on a vertical cylinder (mean over its side) and on a horizontal top [W/m²], before any shade.
    sky_share_side, sky_share_top, sun_share
        Shares of sky and sun that this place sees [0-1].
    """

    start_utc: datetime
    air_c: Array
    wind_m_s: Array
    sky_emissivity: Array
    sun_side_w_m2: Array
    sun_top_w_m2: Array
    sky_share_side: float = 0.45
    sky_share_top: float = 0.9
    sun_share: float = 1.0


def checked(weather: TreeAir) -> TreeAir:
    """The same weather, if it can be marched through.

    Raises
    ------
    ValueError
        Unequal shapes, fewer than two hours, a missing hour, or a value outside its believable range.
    """
    shape = np.shape(weather.air_c)
    if shape[-1] < 2:
        raise ValueError(f"weather has {shape[-1]} hour, it must have at least 2")
    for name, (low, high, unit) in BELIEVABLE.items():
        values = np.broadcast_to(np.asarray(getattr(weather, name), dtype=float), shape)
        wrong = ~((values >= low) & (values <= high))
        if wrong.any():
            at = np.unravel_index(int(np.argmax(wrong)), shape)
            found = f"{name} of hour {at[-1]} is {values[at]:g} {unit}".rstrip()
            raise ValueError(f"{found}, it must be {low:g} to {high:g}")
    return weather


def part(weather: TreeAir, first: int, last: int) -> Surroundings:
    """Hour marks `first` to `last` - 1 of a weather, as a value of its own."""
    hours = slice(first, last)
    return replace(changed(weather, lambda row: row[..., hours]), start_utc=weather.start_utc + timedelta(hours=first))


def changed(weather: TreeAir, change: Callable[[Array], Array]) -> Surroundings:
    """A weather with every one of its hourly rows changed alike; what its place sees of sky and sun stays."""
    return Surroundings(
        start_utc=weather.start_utc,
        air_c=change(weather.air_c),
        wind_m_s=change(weather.wind_m_s),
        sky_emissivity=change(weather.sky_emissivity),
        sun_side_w_m2=change(weather.sun_side_w_m2),
        sun_top_w_m2=change(weather.sun_top_w_m2),
        sky_share_side=weather.sky_share_side,
        sky_share_top=weather.sky_share_top,
        sun_share=weather.sun_share,
    )


def bare_stem_c(weather: TreeAir, diameter_m: float = STEM_DIAMETER_M) -> Array:
    """Temperature of an uncovered stem [°C], shape (..., hours), by default of 2 cm. A real one lags by 20 minutes."""
    radiative = 4 * STEFAN_BOLTZMANN_W_M2_K4 * (weather.air_c - ABSOLUTE_ZERO_C) ** 3
    sky = radiative * (weather.air_c - ABSOLUTE_ZERO_C) / 4 * (1 - weather.sky_emissivity)
    point = (radiative, weather.wind_m_s, weather.sky_share_side * sky, weather.sun_share * weather.sun_side_w_m2)
    return np.asarray(weather.air_c + stem_excess_c(*point, diameter_m=diameter_m))


def stem_excess_c(
    radiative: Any, wind_m_s: Any, side_sky: Any, side_sun: Any, mouth: Any = 1.0, diameter_m: float = STEM_DIAMETER_M
) -> Any:
    """How much warmer than the air round it an upright stem is [°C].

    Quasi-steady balance of sun, long-wave loss and wind; film coefficient in the manner of Churchill and Bernstein at
    Prandtl number 0.71, low-Reynolds form, from memory.

    Parameters
    ----------
    radiative, wind_m_s, side_sky, side_sun
        As in `instants`.
    mouth
        Share of sky, sun and wind that comes to it [0-1]: that wind and sun come as the sky does is assumed.
    """
    wind = mouth * wind_m_s - CALMEST_M_S
    reynolds = (CALMEST_M_S + 0.5 * (wind + abs(wind))) * diameter_m / 1.33e-5
    convective = (0.024 / diameter_m) * (0.3 + 0.62 * reynolds**0.5 * 0.89 / 1.14)
    gained = STEM_SUN_ABSORBED * side_sun - STEM_SKY_SHARE * STEM_EMISSIVITY * side_sky
    return mouth * gained / (convective + STEM_EMISSIVITY * radiative)


def instants(weather: TreeAir, hour_offsets: Array) -> Array:
    """What the outer surface needs at instants between the hour marks.

    Parameters
    ----------
    weather
        Arrays of shape (members, hours) or (hours,); linear between the marks.
    hour_offsets
        Offsets within each hour [h], 0 < offset <= 1, shape (points,).

    Returns
    -------
    Array of shape (hours - 1, points, 7, members), columns as `points` gives them.
    """
    return points(between(hourly(weather), hour_offsets), shares_seen(weather))


def hourly(weather: TreeAir) -> Array:
    """The rows of a weather in the order of BELIEVABLE, shape (hours, 5, members)."""
    shape = np.atleast_2d(weather.air_c).shape
    rows = [np.broadcast_to(np.asarray(getattr(weather, name), dtype=float), shape) for name in BELIEVABLE]
    return np.stack(rows).transpose(2, 0, 1)


def shares_seen(weather: TreeAir) -> Array:
    """The shares of sky at the side and at the top and of the sun, shape (3, 1)."""
    return np.array([[weather.sky_share_side], [weather.sky_share_top], [weather.sun_share]])


def between(marks: Array, hour_offsets: Array) -> Array:
    """Values at hour marks, shape (hours, ...), read at offsets [h] within each hour; (hours - 1, *offsets, ...)."""
    apart = (slice(None), *[None] * hour_offsets.ndim)
    early, late = marks[:-1][apart], marks[1:][apart]
    return np.asarray(early + (late - early) * hour_offsets[(..., *[None] * (marks.ndim - 1))])


def points(told: Array, shares: Array) -> Array:
    """What the outer surface needs, of rows as `hourly` has them, shape (..., 5, weathers), and what each sees.

    Returns
    -------
    Array of shape (..., 7, weathers): air [°C]; black radiative coefficient 4 σ T³ [W/m²K], T of the outdoor air; wind
    [m/s]; long-wave loss of a black side to the sky, F (1 - ε_sky) σ T⁴ [W/m²], and its sun [W/m²]; the same two of a
    top.
    """
    air, wind, emissivity, side_sun, top_sun = np.moveaxis(told, -2, 0)
    side_share, top_share, sun_share = shares
    radiative = 4 * STEFAN_BOLTZMANN_W_M2_K4 * (air - ABSOLUTE_ZERO_C) ** 3
    sky = radiative * (air - ABSOLUTE_ZERO_C) / 4 * (1 - emissivity)
    columns = [air, radiative, wind, side_share * sky, sun_share * side_sun, top_share * sky, sun_share * top_sun]
    return np.stack(columns, axis=-2)
