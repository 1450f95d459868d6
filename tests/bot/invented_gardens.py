"""Invented gardens for tests that need several, each with trees of names no other garden has."""

from datetime import datetime, timedelta

from bot.forecasts import Transport
from bot.logbook import Logbook
from bot.messages import Incoming, IncomingKind
from bot.rounds import Setting
from bot.rounds.weather_cells import cell_name, cell_site
from bot.settings import Garden, Person, Service
from rules.cover import Cover
from rules.tree import Site, Tree

ZONE = "America/Denver"


class Clock:
    """A clock that stands where it was set."""

    def __init__(self, at: datetime) -> None:
        self.at = at

    def __call__(self) -> datetime:
        return self.at

    def pass_(self, time: timedelta) -> None:
        self.at += time


def garden(name: str, tree: str, *, latitude_deg: float = 38.8, trees: int = 1, zone: str = ZONE) -> Garden:
    """One garden with figs in cages, the first called `tree`."""
    names = [tree, *(f"{tree} {number}" for number in range(2, trees + 1))]
    return Garden(
        name=name,
        site=Site(latitude_deg=latitude_deg, longitude_deg=-107.9, elevation_m=1620, time_zone=zone),
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
