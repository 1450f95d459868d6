"""Depth of new snow where a service tells only of the water that fell: by how cold the falling drops are."""

from typing import Final

import numpy as np

from rules.weather.hourly import HourlyWeather, Hours

# Susong, Marks & Garen 1999, as the Image Processing Workbench's calc_snow has it: below each temperature of what falls
# [°C] the share that is snow and the density of that snow [kg/m³]; above the last all is rain. The dew point stands for
# that temperature (from memory).
BELOW_C: Final = np.array([-5.0, -3.0, -1.5, -0.5, 0.0, 0.5])
SNOW_SHARE: Final = np.array([1.0, 1.0, 1.0, 1.0, 0.75, 0.25, 0.0])
SNOW_KG_M3: Final = np.array([75.0, 100.0, 150.0, 175.0, 200.0, 250.0, 250.0])


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
