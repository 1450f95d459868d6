"""Where the sun stands, when it rises and sets, and what it sends onto a tree.

Position: NOAA's low-precision routine after Meeus. Sun without cloud: Haurwitz 1945; cloud: Kasten & Czeplak 1980,
from memory; diffuse share: Erbs et al. 1982, from memory.
"""

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from enum import StrEnum
from functools import lru_cache
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from rules.garden.tree import Site

Floats = npt.NDArray[np.float64]

HORIZON_ZENITH_DEG: Final = 90.833  # NOAA: refraction 34' and the sun's radius 16'
SOLAR_CONSTANT_W_M2: Final = 1361.0  # Kopp & Lean 2011, from memory
ALBEDO: Final = 0.2  # bare or grassed ground, common practice, no source; snow throws back more
LOWEST_SINE: Final = 0.03  # below this height of the sun a direct beam on a plane is not worth dividing for
ROUNDS: Final = 3  # within 5.2 s of the JPL DE421 ephemeris at 0-60 degrees north (compared for 2026)


class Daylight(StrEnum):
    """Whether the sun rises and sets on a day."""

    RISES_AND_SETS = "rises and sets"
    POLAR_DAY = "polar day"
    POLAR_NIGHT = "polar night"


@dataclass(frozen=True, kw_only=True)
class SunDay:
    """The sun's events on one local day; sunrise and sunset are None in polar day and polar night."""

    day: date
    daylight: Daylight
    sunrise_utc: datetime | None
    noon_utc: datetime
    sunset_utc: datetime | None


def declination_and_equation_of_time(unix_s: npt.ArrayLike) -> tuple[Floats, Floats]:
    """Declination [radians] and equation of time [minutes] at times in seconds since 1970 UTC (NOAA after Meeus).

    >>> delta, minutes = declination_and_equation_of_time(datetime(2026, 12, 21, 17, tzinfo=UTC).timestamp())
    >>> round(float(np.degrees(delta)), 3), round(float(minutes), 2)
    (-23.438, 1.82)
    """
    T = (np.asarray(unix_s, dtype=np.float64) / 86400.0 + 2440587.5 - 2451545.0) / 36525.0
    L0 = np.radians(280.46646 + T * (36000.76983 + 0.0003032 * T))
    M = np.radians(357.52911 + T * (35999.05029 - 0.0001537 * T))
    e = 0.016708634 - T * (0.000042037 + 0.0000001267 * T)
    centre = np.sin(M) * (1.914602 - T * (0.004817 + 0.000014 * T))
    centre = centre + np.sin(2 * M) * (0.019993 - 0.000101 * T) + 0.000289 * np.sin(3 * M)
    node = np.radians(125.04 - 1934.136 * T)
    longitude = L0 + np.radians(centre - 0.00569 - 0.00478 * np.sin(node))
    arc_seconds = 21.448 - T * (46.815 + T * (0.00059 - 0.001813 * T))
    obliquity = np.radians(23 + (26 + arc_seconds / 60) / 60 + 0.00256 * np.cos(node))
    declination = np.arcsin(np.sin(obliquity) * np.sin(longitude))
    y = np.tan(obliquity / 2) ** 2
    equation = y * np.sin(2 * L0) - 2 * e * np.sin(M) + 4 * e * y * np.sin(M) * np.cos(2 * L0)
    equation = equation - y**2 / 2 * np.sin(4 * L0) - 1.25 * e**2 * np.sin(2 * M)
    return declination, 4 * np.degrees(equation)


def elevation_sine(unix_s: npt.ArrayLike, site: Site) -> Floats:
    """Sine of the sun's elevation, no refraction, at times in seconds since 1970 UTC; any shape, same shape out."""
    seconds = np.asarray(unix_s, dtype=np.float64)
    declination, equation_min = declination_and_equation_of_time(seconds)
    minutes = np.mod(seconds, 86400.0) / 60.0
    hour_angle = np.radians((minutes + equation_min + 4 * site.longitude_deg) / 4 - 180)
    latitude = np.radians(site.latitude_deg)
    pole, equator = np.sin(latitude) * np.sin(declination), np.cos(latitude) * np.cos(declination)
    sine: Floats = pole + equator * np.cos(hour_angle)
    return sine


@lru_cache(maxsize=8)  # the trees of a garden stand under one sun
def sines_at(start_s: float, every_s: float, count: int, site: Site) -> Floats:
    """The same at so many times from `start_s` on, evenly apart, not to be written into."""
    sine = elevation_sine(start_s + every_s * np.arange(count), site)
    sine.flags.writeable = False
    return sine


def sines_before_marks(start_s: float, hours: int, site: Site) -> Floats:
    """The same amid each ten minutes of the two hours before each hour mark, the latest first, shape (hours, 12)."""
    sine = sines_at(start_s - 7200.0 + 300.0, 600.0, 6 * (hours + 1), site)
    return np.lib.stride_tricks.sliding_window_view(sine, 12)[::6, ::-1]


def sun_day(day: date, site: Site) -> SunDay:
    """Sunrise, solar noon and sunset of the site's local day, in UTC.

    Declination and equation of time are taken at the event itself, found in three rounds from local mean noon.

    Parameters
    ----------
    day
        The date on the site's own calendar. East of the date line's bend (Tonga) that is not the UTC day.
    site
        Latitude, longitude and time zone.

    Returns
    -------
    SunDay
        Sunrise and sunset None where the sun does not cross the horizon; `daylight` tells which way.
    """
    return _sun_day(day, site.latitude_deg, site.longitude_deg, site.time_zone)


@lru_cache(maxsize=1024)  # a garden's trees and slots ask for the same week again and again
def _sun_day(day: date, latitude_deg: float, longitude_deg: float, time_zone: str) -> SunDay:
    midnight = datetime(day.year, day.month, day.day, tzinfo=UTC)
    noon = _event(midnight, latitude_deg, longitude_deg, 0)[0]
    days_off = (day - noon.astimezone(ZoneInfo(time_zone)).date()).days
    midnight += timedelta(days=days_off)
    noon = _event(midnight, latitude_deg, longitude_deg, 0)[0]
    rise, cos_rise = _event(midnight, latitude_deg, longitude_deg, -1)
    sunset, cos_set = _event(midnight, latitude_deg, longitude_deg, 1)
    if max(abs(cos_rise), abs(cos_set)) <= 1:
        light = Daylight.RISES_AND_SETS
        return SunDay(day=day, daylight=light, sunrise_utc=rise, noon_utc=noon, sunset_utc=sunset)
    light = Daylight.POLAR_NIGHT if max(cos_rise, cos_set) > 1 else Daylight.POLAR_DAY
    return SunDay(day=day, daylight=light, sunrise_utc=None, noon_utc=noon, sunset_utc=None)


def _event(midnight_utc: datetime, latitude_deg: float, longitude_deg: float, side: int) -> tuple[datetime, float]:
    """Time of rise (side -1), noon (0) or set (1), and the cosine of its hour angle (beyond ±1: no event)."""
    latitude = np.radians(latitude_deg)
    minutes, cosine = 720.0 - 4 * longitude_deg, 0.0
    for _ in range(ROUNDS):
        declination, equation_min = declination_and_equation_of_time(midnight_utc.timestamp() + 60 * minutes)
        top = np.cos(np.radians(HORIZON_ZENITH_DEG)) - np.sin(latitude) * np.sin(declination)
        cosine = float(top / np.maximum(np.cos(latitude) * np.cos(declination), 1e-12))
        half_day_min = 4 * float(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))
        minutes = 720.0 - 4 * longitude_deg - float(equation_min) + side * half_day_min
    return midnight_utc + timedelta(minutes=minutes), cosine


def clear_sky_sun_w_m2(sine: npt.ArrayLike) -> Floats:
    """Sun on a horizontal plane without cloud [W/m²] from the sine of the elevation (Haurwitz 1945); 0 at night.

    >>> clear_sky_sun_w_m2(np.sin(np.radians([-5, 30]))).round(4).tolist()
    [0.0, 487.8941]
    """
    s = np.maximum(np.asarray(sine, dtype=np.float64), 1e-6)  # exp(-0.059e6) is 0: night needs no branch
    return 1098.0 * s * np.exp(-0.059 / s)


def cloudy_sun_w_m2(sine: npt.ArrayLike, cloud_fraction: npt.ArrayLike) -> Floats:
    """Sun on a horizontal plane under cloud [W/m²]: Haurwitz times Kasten & Czeplak 1980, from memory."""
    dimmed: Floats = clear_sky_sun_w_m2(sine) * (1 - 0.75 * np.asarray(cloud_fraction, dtype=np.float64) ** 3.4)
    return dimmed


def diffuse_share(clearness: npt.ArrayLike) -> Floats:
    """Share of the horizontal sun that is diffuse, from the clearness index (Erbs et al. 1982, from memory)."""
    k = np.clip(np.asarray(clearness, dtype=np.float64), 0.0, 1.0)
    middle = 0.9511 - 0.1604 * k + 4.388 * k**2 - 16.638 * k**3 + 12.336 * k**4
    return np.where(k <= 0.22, 1 - 0.09 * k, np.where(k <= 0.80, middle, 0.165))


def side_sun_w_m2(horizontal_w_m2: npt.ArrayLike, sine: npt.ArrayLike) -> Floats:
    """Mean sun over the wall of a vertical cylinder [W/m²], with ground albedo 0.2.

    Parameters
    ----------
    horizontal_w_m2
        Global sun on a horizontal plane [W/m²].
    sine
        Sine of the sun's elevation, broadcastable to it.
    """
    top = np.asarray(horizontal_w_m2, dtype=np.float64)
    s = np.asarray(sine, dtype=np.float64)
    share = diffuse_share(top / (SOLAR_CONSTANT_W_M2 * np.maximum(s, LOWEST_SINE)))
    diffuse = np.where(s > LOWEST_SINE, share * top, top)
    beam = (top - diffuse) / np.maximum(s, LOWEST_SINE)
    side: Floats = beam * np.sqrt(np.clip(1 - s**2, 0.0, 1.0)) / np.pi + diffuse / 2 + ALBEDO * top / 2
    return side


def sun_at_marks_w_m2(start_s: float, hour_mean_w_m2: Floats, cloud_fraction: Floats, site: Site) -> Floats:
    """Horizontal sun at the hour marks [W/m²] from a service's means of the hour before each mark.

    A mean over the hour before a mark lags it by half an hour and smears over sunrise. So each mean becomes a ratio to
    the cloudless mean of its own hour, and a mark takes the cloudless sun at its own time times the mean ratio of the
    hours before and after it. Where no ratio is known (not given, or the hour too dim to divide by), cloud decides.

    Parameters
    ----------
    start_s
        First mark, seconds since 1970 UTC.
    hour_mean_w_m2, cloud_fraction
        Shape (hours,); NaN sun where the service does not say; cloud must be known.
    site
        Where.
    """
    hours = len(hour_mean_w_m2)
    sine = sines_at(start_s, 3600.0, hours, site)
    clear_mean = clear_sky_sun_w_m2(sines_before_marks(start_s, hours, site)[:, :6]).mean(axis=1)
    bright = np.where(clear_mean > 20.0, clear_mean, np.nan)  # W/m²; dimmer hours carry no energy worth a ratio
    before = hour_mean_w_m2 / bright
    after = np.append(before[1:], np.nan)
    both = np.where(np.isnan(before), after, np.where(np.isnan(after), before, (before + after) / 2))
    told = np.minimum(both * clear_sky_sun_w_m2(sine), SOLAR_CONSTANT_W_M2 * np.maximum(sine, 0.0))
    return np.where(np.isnan(both), cloudy_sun_w_m2(sine, cloud_fraction), told)
