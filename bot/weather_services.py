"""The weather services, in one table: what settings, checks, refusals, help and the environment say of each.

To add one: a line of `Service`, its entry in `SERVICES`, and the file in `bot/forecasts/services` that asks it.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Final


class Service(StrEnum):
    """The weather services a garden may ask, and saved forecasts, as the garden file calls them."""

    OPEN_METEO = "open-meteo"
    MET_NORWAY = "met-norway"
    US_NWS = "us-nws"
    SAVED = "saved"


@dataclass(frozen=True, kw_only=True)
class WeatherService:
    """What is to be known of one service without asking it.

    Parameters
    ----------
    title
        What a grower calls it, inside a sentence.
    listed
        What `bedstraw check` calls it in its list; the title where empty.
    file
        The file in `bot/forecasts/services` that asks it and reads its answers; it holds `CALLS`.
    address
        Start of its public address; empty for one that needs no network.
    parts
        Further addresses, where it answers in several parts, by the name of the part.
    needs_contact
        Whether its terms of use ask for a mail address or web page in every request.
    region
        The only country it forecasts for; empty for the whole world.
    boxes_deg
        Boxes round that country: south, north, west, east [degrees]; empty for the whole world.
    """

    title: str
    file: str
    listed: str = ""
    address: str = ""
    parts: Mapping[str, str] = field(default_factory=dict)
    needs_contact: bool = False
    region: str = ""
    boxes_deg: tuple[tuple[float, float, float, float], ...] = ()

    def covers(self, latitude_deg: float, longitude_deg: float) -> bool:
        """Whether a place [degrees] seems to lie where it forecasts."""
        inside = (
            south <= latitude_deg <= north and west <= longitude_deg <= east
            for south, north, west, east in self.boxes_deg
        )
        return not self.boxes_deg or any(inside)


SERVICES: Final[Mapping[Service, WeatherService]] = {
    Service.OPEN_METEO: WeatherService(
        title="Open-Meteo",
        file="open_meteo",
        address="https://api.open-meteo.com",
        parts={
            "ensemble": "https://ensemble-api.open-meteo.com",
            "archive": "https://archive-api.open-meteo.com",
        },
    ),
    Service.MET_NORWAY: WeatherService(
        title="MET Norway", file="met_norway", address="https://api.met.no", needs_contact=True
    ),
    Service.US_NWS: WeatherService(
        title="the US National Weather Service",
        file="us_nws",
        address="https://api.weather.gov",
        needs_contact=True,
        region="the United States",
        boxes_deg=(  # rough, from an atlas, from memory
            (24.0, 50.0, -125.5, -66.0),
            (51.0, 72.0, -180.0, -129.0),
            (18.5, 22.5, -160.5, -154.5),
            (17.5, 18.7, -67.5, -64.5),
            (13.0, 15.5, 144.5, 146.0),
        ),
    ),
    Service.SAVED: WeatherService(title="the saved forecast", listed="saved forecasts (no network)", file="saved_file"),
}


def service_of(name: str) -> Service:
    """The service of an answer's name.

    >>> str(service_of("open-meteo/ensemble"))
    'open-meteo'
    """
    return Service(name.partition("/")[0])


def public_address(name: str) -> str:
    """Start of the public address of a service, or of a part of it.

    Raises
    ------
    KeyError
        The service has no such part.

    >>> public_address("open-meteo/archive")
    'https://archive-api.open-meteo.com'
    """
    service, part = SERVICES[service_of(name)], name.partition("/")[2]
    return service.parts[part] if part else service.address


def offered() -> str:
    """The services with an address, as the garden file names them, with where they forecast."""
    named = ((f'"{name}"', one.region) for name, one in SERVICES.items() if one.address)
    return ", ".join(f"{name} ({region} only)" if region else name for name, region in named)
