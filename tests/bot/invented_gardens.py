"""Invented gardens for tests that need several, each with trees of names no other garden has."""

from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

from bot.forecasts import Transport, dump_forecast
from bot.hosting.weather_cells import cell_name, cell_site
from bot.logbook import Logbook
from bot.messages import Incoming, IncomingKind
from bot.rounds import Setting
from bot.settings import Garden, Person, Service
from rules.garden.cover import Cover
from rules.garden.tree import Site, Tree
from rules.weather.hourly import Forecast
from tests.hourly import hours_of

ZONE = "America/Denver"


class Clock:
    """A clock that stands where it was set."""

    def __init__(self, at: datetime) -> None:
        self.at = at

    def __call__(self) -> datetime:
        return self.at

    def pass_(self, time: timedelta) -> None:
        self.at += time


def garden(name: str, tree: str, *, latitude_deg: float = 39, trees: int = 1, zone: str = ZONE) -> Garden:
    """One garden with figs in cages, the first called `tree`."""
    names = [tree, *(f"{tree} {number}" for number in range(2, trees + 1))]
    return Garden(
        name=name,
        site=Site(latitude_deg=latitude_deg, longitude_deg=-109, elevation_m=1620, time_zone=zone),
        people=(Person(name="Rowan"),),
        services=(Service.OPEN_METEO,),
        contact="grower@example.org",
        trees=tuple(Tree(name=one, species="fig", planted_year=2010, cover="cage") for one in names),
        covers={"cage": Cover(name="cage")},
    )


def setting(one: Garden, logbook: Logbook, address: str, **transport: object) -> Setting:
    """As one deployment of many gardens has it: asking on loopback, never waiting."""
    addresses = dict.fromkeys(("open-meteo", "open-meteo/ensemble", "open-meteo/archive"), address)
    how = Transport(contact=one.contact, addresses=addresses, pause=lambda _: None, **transport)  # type: ignore[arg-type]  # keywords vary by test
    return Setting(garden=one, logbook=logbook, transport=how, cell=cell_name(one), weather_site=cell_site(one))


def said(update_id: int, chat_id: int, text: str, at: datetime, **more: object) -> Incoming:
    """Something a person typed."""
    given: dict[str, object] = {"kind": IncomingKind.TEXT, "message_id": update_id, **more}
    return Incoming(update_id=update_id, chat_id=chat_id, person="Rowan", text=text, at_utc=at, **given)  # type: ignore[arg-type]  # keywords vary by test


def cold_forecast(now: datetime, low_c: float = -9.0) -> Forecast:
    """A week of clear cold nights from `now`, with three weeks of the same behind it."""
    start = now.replace(minute=0, second=0, microsecond=0) - timedelta(days=21)
    hours = 28 * 24
    clock = (start.hour - 7 + np.arange(hours)) % 24  # mountain time, near enough
    air_c = low_c + 6.0 + 6.0 * np.cos(2 * np.pi * (clock - 18) / 24)
    light = np.where((clock > 7) & (clock < 17), np.sin(np.pi * (clock - 7) / 10), 0.0)
    weather = hours_of(
        start, air_c, dew_point_c=air_c - 4, wind_m_s=1.5, gust_m_s=3.0, cloud_fraction=0.1, sun_w_m2=450.0 * light
    )
    return Forecast(service="saved", issued_utc=now, fetched_utc=now, weather=weather)


def write_garden_file(folder: Path, name: str, tree: str, now: datetime, *, trees: int = 1) -> Path:
    """A garden file in `folder` with figs in cages, the first called `tree`, which lives on a saved forecast of now."""
    saved = folder / f"{name}.json"
    saved.write_text(dump_forecast(cold_forecast(now)), encoding="utf-8")
    path = folder / f"{name.replace(' ', '_').lower()}.toml"
    names = [tree, *(f"{tree} {number}" for number in range(2, trees + 1))]
    figs = "".join(
        f'[[trees]]\nname = "{one}"\nspecies = "fig"\nplanted_year = 2010\ncover = "cage"\n' for one in names
    )
    path.write_text(
        f"""name = "{name}"
services = ["saved"]
saved_forecasts = "{saved.name}"
[site]
latitude_deg = 39
longitude_deg = -109
elevation_m = 1620
time_zone = "{ZONE}"
[[people]]
name = "Rowan"
role = "owner"
{figs}[covers.cage]
""",
        encoding="utf-8",
    )
    return path
