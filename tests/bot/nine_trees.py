"""An invented garden of nine trees under covers of every kind, and weeks of weather made for it."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np

from bot.forecasts import dump_forecast
from bot.settings import Garden, read_garden
from rules.weather.hourly import Forecast
from tests.hourly import hours_of

ZONE: Final = ZoneInfo("America/Denver")
GARDEN: Final = """
name = "Tanglewick"
services = ["saved"]
saved_forecasts = "forecast.json"

[site]
latitude_deg = 39
longitude_deg = -109
elevation_m = 1620
time_zone = "America/Denver"

[[people]]
name = "Rowan"
role = "owner"

[[trees]] # wire, straw, film; its leader sticks out at the top
name = "Well"
species = "fig"
planted_year = 2017
cover = "double cage"

[[trees]]
name = "Gate"
species = "fig"
planted_year = 2018
cover = "tall one"

[[trees]] # goes into the garage
name = "Tub"
species = "satsuma"
planted_year = 2020
standing = "pot"
cover = "garage"

[[trees]]
name = "Ditch"
species = "fig"
planted_year = 2019
cover = "mound"

[[trees]]
name = "Barn"
species = "pomegranate"
planted_year = 2020
standing = "wall"
cover = "blanket outside"

[[trees]] # nobody knows its name
name = "Stray"
species = "fig"
planted_year = 2021
cover = "wrap"

[[trees]]
name = "Trial"
species = "fig"
planted_year = 2017
purpose = "trial"
left_bare = true
twin = "Well"

[[trees]]
name = "Crate"
species = "kaki"
planted_year = 2020
cover = "lid box"

[[trees]]
name = "Patch"
species = "satsuma"
planted_year = 2021
cover = "tent"

[covers."double cage"]
preset = "straw cage with film"

[covers."tall one"]
preset = "straw cage with film"
tree_height_cm = 220

[covers.garage]
preset = "garage"

[covers.mound]
preset = "bent down and mounded"

[covers."blanket outside"]
preset = "straw cage"
blanket = "moving blanket"
blanket_place = "outside"

[covers.wrap]
preset = "burlap wrap"

[covers."lid box"]
preset = "box with fill"
lid_cm = 2
cap = "none"

[covers.tent]
preset = "film alone"
"""


def tanglewick(folder: Path, weather: Forecast) -> Garden:
    """The garden as its file has it, with one saved forecast."""
    (folder / "forecast.json").write_text(dump_forecast(weather), encoding="utf-8")
    file = folder / "tanglewick.toml"
    file.write_text(GARDEN, encoding="utf-8")
    return read_garden(file)


def week(
    now: datetime, lows_c: list[float], *, past_c: Sequence[float] = (), rise_c: float = 10.0, gust_m_s: float = 4.0
) -> Forecast:
    """A week from `now` with these night lows; behind it `past_c`, oldest first, and +3 °C nights before those."""
    start = now.replace(minute=0, second=0, microsecond=0) - timedelta(days=21)
    hours = (21 + len(lows_c)) * 24
    clock = np.array([(start + timedelta(hours=h)).astimezone(ZONE).hour for h in range(hours)])
    day = np.arange(hours) // 24 - 21
    nights_c = np.array([*[3.0] * (21 - len(past_c)), *past_c, *lows_c])
    low = nights_c[np.clip(day + 21, 0, len(nights_c) - 1)]
    air_c = low + rise_c / 2 + rise_c / 2 * np.cos(2 * np.pi * (clock - 18) / 24)
    light = np.where((clock > 7) & (clock < 17), np.sin(np.pi * (clock - 7) / 10), 0.0)
    weather = hours_of(
        start, air_c, dew_point_c=air_c - 4, wind_m_s=gust_m_s / 3, gust_m_s=np.where(day < 0, 3.0, gust_m_s),
        cloud_fraction=0.1, sun_w_m2=450.0 * light,
    )  # fmt: skip
    return Forecast(service="saved", issued_utc=now, fetched_utc=now, weather=weather)
