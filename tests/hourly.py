"""Hourly weather made up for a test."""

from collections.abc import Sequence
from datetime import datetime

import numpy as np

from rules.weather.hourly import HourlyWeather, Hours

REST = ("dew_point_c", "wind_m_s", "gust_m_s", "cloud_fraction", "sun_w_m2")


def hours_of(start_utc: datetime, air_c: Hours | Sequence[float], **told: Hours | float) -> HourlyWeather:
    """Weather of which nothing is known but what is told: a number for each hour, or one for all of them."""
    air = np.array(air_c, dtype=np.float64)
    rest = {**dict.fromkeys(REST, np.nan), **told}
    whole = {name: np.array(np.broadcast_to(each, air.shape), dtype=np.float64) for name, each in rest.items()}
    return HourlyWeather(start_utc=start_utc, air_c=air, **whole)
