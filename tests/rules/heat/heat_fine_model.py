"""Weather and covers with known outcomes for the tests of the heat model, and the fine grid they are judged by.

The spells are made, not measured; sun, sky and day curve are written out here so that the heat model is tested without
the rooms that feed it (Haurwitz 1945, Kasten and Czeplak 1980, Erbs et al. 1982, Prata 1996, Spencer 1971).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import numpy.typing as npt

from rules.garden.tree import SiteSoil
from rules.heat.marching.forcing import forcing
from rules.heat.marching.march import march
from rules.heat.marching.marched import CLOSED, Marched
from rules.heat.network import Grid
from rules.heat.properties import CoverProperties
from rules.heat.surroundings import Surroundings
from rules.site.soil import at_depths, soil_profiles_c

Array = npt.NDArray[np.float64]
SUNRISE_H, NOONISH_H, SUNSET_H, EVENING_H = 7.3, 14.5, 17.0, 19.0
SPELL_SOIL = SiteSoil(mean_c=12, amplitude_c=12)
FIRST_JUDGED = 9 * 24 + 16  # 16 h of the last mild day


@dataclass(frozen=True, kw_only=True)
class Spell:
    """Cold days after mild ones: minima and maxima [°C], cloud, wind by night and day [m/s], where and when."""

    minima_c: Sequence[float] = (-7, -12, -7)
    maxima_c: Sequence[float] = (3, 0, 4)
    mild_c: tuple[float, float] = (0, 6)
    mild_cloud: float = 0.5
    cloud: float = 0.0
    night_wind_m_s: float = 1.0
    day_wind_m_s: float = 3.0
    mild_wind_m_s: tuple[float, float] | None = (1.0, 3.0)  # None: as in the cold days
    mild_days: int = 10
    first_cold_day: int = 15
    latitude_deg: float = 40.5
    soil: SiteSoil = SPELL_SOIL

    def weather(self) -> Surroundings:
        """Hour marks from the first mild midnight to the midnight after the last cold day."""
        days = self.mild_days + len(self.minima_c) + 1
        low = np.array([self.mild_c[0]] * self.mild_days + [*self.minima_c, self.minima_c[-1]], float)
        high = np.array([self.mild_c[1]] * self.mild_days + [*self.maxima_c, self.maxima_c[-1]], float)
        hours = np.arange((days - 1) * 24 + 1)
        day, clock = hours // 24, (hours % 24).astype(np.float64)
        mild = day < self.mild_days
        cloud = np.where(mild, self.mild_cloud, self.cloud).astype(np.float64)
        night = (clock < SUNRISE_H) | (clock > SUNSET_H)
        wind = np.where(night, self.night_wind_m_s, self.day_wind_m_s)
        if self.mild_wind_m_s is not None:
            wind = np.where(mild, np.where(night, *self.mild_wind_m_s), wind)
        air = day_curve_c(low, high, day, clock)
        doy = self.first_cold_day - self.mild_days + day
        side, top = sun_w_m2(self.latitude_deg, doy, clock, cloud)
        start = datetime(2026, 1, 1, tzinfo=UTC) + timedelta(days=self.first_cold_day - self.mild_days - 1)
        return Surroundings(
            start_utc=start,
            air_c=air,
            wind_m_s=wind.astype(float),
            sky_emissivity=sky_emissivity(air, low[day] - 2, cloud),
            sun_side_w_m2=side,
            sun_top_w_m2=top,
        )


def day_curve_c(low: Array, high: Array, day: npt.NDArray[np.int64], clock: Array) -> Array:
    """Sine to the afternoon, half a cosine to the evening, square root to sunrise."""
    following = np.append(low[1:], low[-1])
    evening = high - 0.55 * (high - following)
    before = np.append(high[0] - 0.55 * (high[0] - low[0]), evening[:-1])
    rise = low[day] + (high - low)[day] * np.sin(np.pi / 2 * (clock - SUNRISE_H) / (NOONISH_H - SUNRISE_H))
    share = 0.5 * (1 + np.cos(np.pi * np.clip((clock - NOONISH_H) / (EVENING_H - NOONISH_H), 0, 1)))
    fall = evening[day] + (high - evening)[day] * share
    late = evening[day] + (following - evening)[day] * np.sqrt(np.maximum(clock - EVENING_H, 0) / 12.3)
    early = before[day] + (low - before)[day] * np.sqrt((clock + 24 - EVENING_H) / 12.3)
    choices = [early, rise, fall, late]
    return np.select([clock < SUNRISE_H, clock <= NOONISH_H, clock <= EVENING_H, clock > EVENING_H], choices)


def sun_w_m2(latitude_deg: float, doy: npt.NDArray[np.int64], clock: Array, cloud: Array) -> tuple[Array, Array]:
    """Mean over a vertical cylinder, and the horizontal; albedo 0.2."""
    b = 2 * np.pi * (doy - 1) / 365
    declination = 0.006918 - 0.399912 * np.cos(b) + 0.070257 * np.sin(b) - 0.006758 * np.cos(2 * b)
    declination = declination + 0.000907 * np.sin(2 * b) - 0.002697 * np.cos(3 * b) + 0.00148 * np.sin(3 * b)
    latitude = np.radians(latitude_deg)
    across = np.cos(latitude) * np.cos(declination) * np.cos(np.radians(15 * (clock - 12)))
    s = np.sin(latitude) * np.sin(declination) + across
    up = np.maximum(s, 1e-9)
    ghi = np.where(s > 0, 1098 * up * np.exp(-0.059 / up) * (1 - 0.75 * cloud**3.4), 0.0)
    kt = np.clip(ghi / (1361 * np.maximum(s, 0.03)), 0, 1)
    middle = 0.9511 - 0.1604 * kt + 4.388 * kt**2 - 16.638 * kt**3 + 12.336 * kt**4
    kd = np.where(kt <= 0.22, 1 - 0.09 * kt, np.where(kt <= 0.80, middle, 0.165))
    high = s > 0.03
    dhi = np.where(high, kd * ghi, ghi)
    dni = np.where(high, (ghi - dhi) / np.maximum(s, 0.03), 0.0)
    return dni * np.sqrt(1 - s**2) / np.pi + dhi / 2 + 0.1 * ghi, ghi


def sky_emissivity(air_c: Array, dew_point_c: Array, cloud: Array) -> Array:
    """Prata with the cloud term of Campbell and Norman."""
    e = 6.1094 * np.exp(17.625 * dew_point_c / (dew_point_c + 243.04))
    w = 46.5 * e / (air_c + 273.15)
    clear = 1 - (1 + w) * np.exp(-np.sqrt(1.2 + 3 * w))
    return clear + (1 - clear) * 0.84 * cloud


NO_FILL: dict[str, Any] = {"outer_radius_m": 0.31, "fill_w_mk": 5.0, "fill_j_m3k": 3e5, "blanket_m2k_w": 0.0}
FILM_DRY: dict[str, Any] = NO_FILL | {
    "cap_m2k_w": 0.0,
    "sun_passed": 0.85,
    "sun_inside": 0.6,
    "long_wave_passed": 0.65,
    "emissivity": 0.2,
    "inside_m2k_w": 0.2,
    "side_absorbed": 0.08,
    "cap_absorbed": 0.5,
}
FILM_WET: dict[str, Any] = NO_FILL | {
    "cap_m2k_w": 0.0,
    "sun_passed": 0.75,
    "sun_inside": 0.6,
    "side_absorbed": 0.1,
    "cap_absorbed": 0.5,
}


def cover(**changes: Any) -> CoverProperties:
    """Straw + blanket + film, closed, with changes."""
    return replace(CoverProperties(), **changes)


def stay(
    properties: CoverProperties,
    weather: Surroundings,
    grid: Grid,
    steps_per_hour: int,
    soil: SiteSoil = SPELL_SOIL,
    rows: int = 1,
    keep_history: bool = False,
) -> Marched:
    """Closed covers left alone through the weather."""
    states = np.full((rows, weather.air_c.shape[-1]), CLOSED)
    forced = forcing(weather, undisturbed_c(weather, grid, soil), steps_per_hour)
    return march(
        properties, properties, states, forced, grid, history_marks=range(states.shape[1]) if keep_history else ()
    )


def undisturbed_c(weather: Surroundings, grid: Grid, soil: SiteSoil = SPELL_SOIL) -> Array:
    """Undisturbed soil at the depths of a grid, shape (hours, depths, 1)."""
    one = [np.atleast_2d(v) for v in (weather.air_c, weather.wind_m_s, weather.sky_emissivity, weather.sun_top_w_m2)]
    return np.moveaxis(at_depths(soil_profiles_c(soil, weather.start_utc, *one), grid.depths_m), 1, 2)


def night_minima_c(judged: Array, nights: int = 3) -> Array:
    """Lowest of 00-13 h of each night, from a record that begins at 16 h."""
    return np.array([judged[8 + 24 * n : 8 + 24 * n + 14].min(axis=0) for n in range(nights)])


FOUR_SPELLS = (
    Spell(),
    Spell(
        minima_c=(-10, -10, -11, -12, -12),
        maxima_c=(-3, -4, -3, -5, -4),
        night_wind_m_s=4,
        day_wind_m_s=6,
        cloud=0.9,
    ),
    Spell(minima_c=(2, -14, -6), maxima_c=(12, -2, 8), mild_c=(3, 12)),
    Spell(minima_c=(-4, -3, -2), maxima_c=(8, 10, 14), first_cold_day=45),
)


def random_covers(count: int, seed: int) -> CoverProperties:
    """Covers drawn evenly over all that people build, as arrays over the covers."""
    rng = np.random.default_rng(seed)

    def even(low: float, high: float) -> Array:
        return rng.uniform(low, high, count)

    inner, absorbed = even(0.15, 0.6), even(0.05, 0.9)
    passed = np.where(absorbed > 0.3, 0.0, rng.choice([0.0, 0.5, 0.85], count))
    return CoverProperties(
        inner_radius_m=inner,
        outer_radius_m=inner + even(0.08, 0.40),
        height_m=even(0.8, 2.5),
        blanket_m2k_w=rng.choice([0.0, 0.2, 0.7, 1.5], count),
        fill_w_mk=even(0.05, 0.15),
        fill_j_m3k=even(40, 150) * even(1500, 2500),
        cap_m2k_w=even(0, 2.5),
        leaks_per_h=even(0.2, 3),
        wind_leaks_per_h=even(0, 1.5),
        vent_hole_m=rng.choice([0.0, 0.0, 0.1, 0.2, 0.4], count),
        wood_j_k=even(5e3, 80e3),
        wood_link_w_k=even(4, 20),
        ground_w_mk=even(0.4, 2),
        ground_j_m3k=even(1.4e6, 2.8e6),
        side_absorbed=absorbed,
        cap_absorbed=even(0.1, 0.9),
        sun_passed=passed,
        air_multiplier=even(1.5, 20),
        wind_exposure=even(0.2, 1),
    )
