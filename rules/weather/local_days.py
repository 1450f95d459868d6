"""The weather by local day, as the rules look at it: what was told of it, and None where nobody told."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.tree import Site
from rules.weather.hourly import HourlyWeather, Hours

LEAST_HOURS: Final = 12  # a day known for less says nothing of its highest air; assumed, no source
LEAST_HOURS_OF_RAIN: Final = 18  # nor of what fell in it; assumed, no source
# Worst three seconds of ten minutes against their mean, inland (Harper, Kepert & Ginger 2010, WMO, from memory).
GUST_PER_WIND: Final = 1.66
# Susong, Marks & Garen 1999, as the Image Processing Workbench's calc_snow has it: below each temperature of what falls
# [°C] the share that is snow and the density of that snow [kg/m³]; above the last all is rain. The dew point stands for
# that temperature (from memory).
BELOW_C: Final = np.array([-5.0, -3.0, -1.5, -0.5, 0.0, 0.5])
SNOW_SHARE: Final = np.array([1.0, 1.0, 1.0, 1.0, 0.75, 0.25, 0.0])
SNOW_KG_M3: Final = np.array([75.0, 100.0, 150.0, 175.0, 200.0, 250.0, 250.0])


@dataclass(frozen=True, kw_only=True)
class DayWeather:
    """One local day in the open, gone or coming; None where no service tells.

    Parameters
    ----------
    high_c, mean_c
        Highest and mean air [°C].
    gust_m_s
        Worst gust [m/s]; where only the mean wind is told, the gusts that go with it.
    fallen_mm
        Rain and melted snow [mm].
    snow_m, snow_c
        New snow [m], and the mean air of the hours in which it fell [°C].
    """

    high_c: float
    mean_c: float | None = None
    gust_m_s: float | None = None
    fallen_mm: float | None = None
    snow_m: float | None = None
    snow_c: float | None = None


def days_of(weather: HourlyWeather, site: Site) -> dict[date, DayWeather]:
    """The weather of each local day whose air is known for at least twelve hours.

    What fell counts for the day its hour ends in.
    """
    hours_of: dict[date, list[int]] = {}
    for hour, day in enumerate(weather.local_days(site.zone)):
        if not np.isnan(weather.air_c[hour]):
            hours_of.setdefault(day, []).append(hour)
    snow_m = new_snow_m(weather)
    gust_m_s = np.where(np.isnan(weather.gust_m_s), GUST_PER_WIND * weather.wind_m_s, weather.gust_m_s)
    return {
        day: DayWeather(
            high_c=float(weather.air_c[hours].max()),
            mean_c=float(weather.air_c[hours].mean()),
            gust_m_s=_worst(gust_m_s[hours]),
            fallen_mm=_sum(weather.precipitation_mm[hours]),
            snow_m=_sum(snow_m[hours]),
            snow_c=_mean_c(weather.air_c[hours], snow_m[hours] > 0),
        )
        for day, hours in hours_of.items()
        if len(hours) >= LEAST_HOURS
    }


def _worst(values: Hours) -> float | None:
    known = values[~np.isnan(values)]
    return float(known.max()) if known.size else None


def _sum(values: Hours) -> float | None:
    known = values[~np.isnan(values)]
    return float(known.sum()) if known.size >= LEAST_HOURS_OF_RAIN else None


def _mean_c(air_c: Hours, when: npt.NDArray[np.bool_]) -> float | None:
    return float(air_c[when].mean()) if when.any() else None


def runs(days: Sequence[date]) -> list[list[date]]:
    """Days, earliest first, as unbroken runs.

    >>> [len(run) for run in runs([date(2027, 1, 1), date(2027, 1, 2), date(2027, 1, 5)])]
    [2, 1]
    """
    found: list[list[date]] = []
    for day in days:
        if found and (day - found[-1][-1]).days == 1:
            found[-1].append(day)
        else:
            found.append([day])
    return found


def new_snow_m(weather: HourlyWeather) -> Hours:
    """Depth of the snow that fell in the hour before each mark [m]: as told, else from the water that fell.

    NaN where neither is told, or where it is not known how cold it was; where no water fell, no snow did.

    >>> from datetime import UTC, datetime
    >>> nan = np.full(3, np.nan)
    >>> weather = HourlyWeather(start_utc=datetime(2027, 1, 1, tzinfo=UTC), air_c=np.array([-6.0, 3.0, -6.0]),
    ...     dew_point_c=nan, wind_m_s=nan, gust_m_s=nan, cloud_fraction=nan, sun_w_m2=nan,
    ...     precipitation_mm=np.array([1.5, 1.5, np.nan]))
    >>> new_snow_m(weather).tolist()
    [0.02, 0.0, nan]
    """
    falls_c = np.where(np.isnan(weather.dew_point_c), weather.air_c, weather.dew_point_c)
    row = np.searchsorted(BELOW_C, falls_c, side="right")
    fallen_mm = weather.precipitation_mm
    depth_m = fallen_mm * SNOW_SHARE[row] / SNOW_KG_M3[row]
    unsure = np.isnan(falls_c) & (fallen_mm > 0)
    return np.where(np.isnan(weather.new_snow_m), np.where(unsure, np.nan, depth_m), weather.new_snow_m)
