"""An invented climate: hourly truth and a forecast each morning, drawn from a seed at run time. Nothing is stored.

Truth is a seasonal curve, spells of weather that last some days, and a daily curve that is steeper under a clear sky.
A forecast is the truth with an error that grows with its lead as a good service's does.
"""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.tree import Site
from rules.site.sun import cloudy_sun_w_m2, elevation_sine
from rules.weather.hourly import Forecast, HourlyWeather
from rules.weather.members import lead_sigma_c

Floats = npt.NDArray[np.float64]

CREDIT: Final = "Invented weather of the Larkmoor demo"
# The invented place: a high dry valley. Assumed, as everything below, no source.
YEAR_MEAN_C, YEAR_SWING_C = 11.5, 11.5
COLDEST_DAY: Final = 17  # day of the year, 17 January
SPELL_SUMMER_C, SPELL_WINTER_C, SPELL_KEEPS = 2.2, 3.6, 0.72
CLEAR_RANGE_C, CLOUDY_RANGE_C = 16.0, 7.0
LOW_AT_H, HIGH_AT_H = 6.5, 14.5  # by the sun
WET_CLOUD, MM_PER_CLOUD = 0.75, 3.5  # rain or snow falls from thicker cloud, this much in an hour for all of it more
ERROR_LASTS_H: Final = 18.0
PAST_H, FORECAST_H = 8 * 24, 10 * 24


@dataclass(frozen=True, kw_only=True, eq=False)
class InventedDays:
    """Highest and lowest air [°C], cloud and wind of each day; every array has the shape (days,)."""

    high_c: Floats
    low_c: Floats
    cloud_fraction: Floats
    wind_m_s: Floats


def invented_days(first: date, count: int, chance: np.random.Generator) -> InventedDays:
    """The days of the invented climate from `first` on."""
    day_of_year = (first.timetuple().tm_yday + np.arange(count)) % 365.25
    winter = np.cos(2 * np.pi * (day_of_year - COLDEST_DAY) / 365.25)  # 1 in January, -1 in July
    spell_sd_c = np.where(winter > 0, SPELL_WINTER_C, SPELL_SUMMER_C)
    spell_c = spell_sd_c * lasting(chance, count, SPELL_KEEPS)
    cloud = np.clip(0.32 + 0.28 * lasting(chance, count, 0.5) + 0.03 * spell_c * (winter > 0), 0.0, 1.0)
    mean_c = YEAR_MEAN_C - YEAR_SWING_C * winter + spell_c
    lt50_c = (CLEAR_RANGE_C + (CLOUDY_RANGE_C - CLEAR_RANGE_C) * cloud) / 2
    wind = np.clip(1.4 + 1.3 * cloud + chance.gamma(1.3, 0.7, count), 0.5, 11.0)
    return InventedDays(high_c=mean_c + lt50_c, low_c=mean_c - lt50_c, cloud_fraction=cloud, wind_m_s=wind)


def invented_truth(site: Site, first: date, count: int, chance: np.random.Generator) -> HourlyWeather:
    """What really happens from `first` on, hour by hour, for `count` days."""
    days = invented_days(first, count, chance)
    start = datetime.combine(first, time(), site.zone).astimezone(UTC)
    hours = 24 * (count - 1)
    by_sun_h: Floats = start.timestamp() / 3600 % 24 + site.longitude_deg / 15 + np.arange(hours, dtype=np.float64)
    by_sun_h -= 24 * np.floor(by_sun_h[0] / 24)
    day = np.minimum((by_sun_h // 24).astype(np.int64), count - 1)
    air: Floats = _air_c(days, by_sun_h) + 0.15 * chance.normal(size=hours)
    cloud = np.clip(days.cloud_fraction[day] + 0.1 * lasting(chance, hours, 0.8), 0.0, 1.0)
    afternoon = np.maximum(0.0, np.sin(np.pi * (by_sun_h % 24 - 8) / 12))
    wind = np.maximum(0.2, days.wind_m_s[day] * (0.7 + 0.6 * afternoon) + 0.25 * chance.normal(size=hours))
    dew = np.minimum(days.low_c[day] - 2.5 + 0.2 * (air - days.low_c[day]), air - 0.3)
    middles = start.timestamp() - 1800.0 + 3600.0 * np.arange(hours)
    return HourlyWeather(
        start_utc=start,
        air_c=air,
        dew_point_c=dew,
        wind_m_s=wind,
        gust_m_s=1.6 * wind + 0.5,
        cloud_fraction=cloud,
        sun_w_m2=cloudy_sun_w_m2(elevation_sine(middles, site), cloud),
        precipitation_mm=np.clip(cloud - WET_CLOUD, 0.0, None) * MM_PER_CLOUD,
    )


def _air_c(days: InventedDays, by_sun_h: Floats) -> Floats:
    """Air between each day's low and high: up like a sine, down ever more slowly."""
    lows_h = 24.0 * np.arange(len(days.low_c)) + LOW_AT_H
    knots_h = np.stack([lows_h, lows_h + HIGH_AT_H - LOW_AT_H], axis=1).ravel()
    knots_c = np.stack([days.low_c, days.high_c], axis=1).ravel()
    left = np.clip(np.searchsorted(knots_h, by_sun_h, side="right") - 1, 0, len(knots_h) - 2)
    share = np.clip((by_sun_h - knots_h[left]) / (knots_h[left + 1] - knots_h[left]), 0.0, 1.0)
    rising = np.sin(np.pi / 2 * share)
    falling = (1 - np.exp(-2.2 * share)) / (1 - np.exp(-2.2))
    way = np.where(left % 2 == 0, rising, falling)
    air_c: Floats = knots_c[left] + (knots_c[left + 1] - knots_c[left]) * way
    return air_c


def invented_forecast(truth: HourlyWeather, issued_utc: datetime, site: Site, seed: int, past_h: int) -> Forecast:
    """What a service says of this truth at one time: the last `past_h` hours as they were, then truth and error."""
    at = int((issued_utc - truth.start_utc).total_seconds() // 3600)
    cut = slice(max(0, at - past_h), at + FORECAST_H)
    lead_h = np.arange(cut.start - at, cut.stop - at)[: len(truth.air_c[cut])]
    keep = float(np.exp(-1.0 / ERROR_LASTS_H))
    shared = lasting(np.random.default_rng(seed), len(truth.air_c), keep)[cut]  # two forecasts of one day err alike
    own = lasting(np.random.default_rng([seed, at]), len(lead_h), keep)
    error_c = np.where(lead_h > 0, lead_sigma_c(np.maximum(lead_h, 0)) * (0.8 * shared + 0.6 * own), 0.0)
    air: Floats = truth.air_c[cut] + error_c
    dew: Floats = np.minimum(truth.dew_point_c[cut] + error_c, air - 0.3)
    cloud: Floats = np.round(truth.cloud_fraction[cut], 2)
    start = truth.start_utc + timedelta(hours=cut.start)
    middles = start.timestamp() - 1800.0 + 3600.0 * np.arange(len(lead_h))
    weather = HourlyWeather(
        start_utc=start,
        air_c=np.round(air, 1),
        dew_point_c=np.round(dew, 1),
        wind_m_s=np.round(truth.wind_m_s[cut], 1),
        gust_m_s=np.round(truth.gust_m_s[cut], 1),
        cloud_fraction=cloud,
        sun_w_m2=np.round(cloudy_sun_w_m2(elevation_sine(middles, site), cloud)),
        precipitation_mm=np.round(truth.precipitation_mm[cut], 1),
    )
    return Forecast(service="saved", issued_utc=issued_utc, fetched_utc=issued_utc, weather=weather, credit=CREDIT)


def invented_winters(first: date, count: int, chance: np.random.Generator) -> str:
    """Daily minima and maxima of past years as the table of text a grower may give."""
    days = invented_days(first, count, chance)
    rows = zip(days.low_c.tolist(), days.high_c.tolist(), strict=True)
    lines = [f"{first + timedelta(days=i)},{low:.1f},{high:.1f}" for i, (low, high) in enumerate(rows)]
    return "\n".join(["date,min_c,max_c", *lines, ""])


def lasting(chance: np.random.Generator, count: int, keep: float) -> Floats:
    """Unit noise of which each value keeps the share `keep` of the one before."""
    fresh = np.sqrt(1 - keep**2) * chance.normal(size=count)
    noise = np.empty(count)
    value = float(chance.normal())
    for i in range(count):
        value = keep * value + float(fresh[i])
        noise[i] = value
    return noise
