"""One question to the weather services for all gardens of a small piece of country."""

from typing import Final

from bot.settings import Garden, Service
from rules.garden.tree import Site

# About 2 km, near the mesh of the finest services named here (US NWS 2.5 km, MET Norway 1 km; their documentation,
# from memory); 50 m is at most 25 m off, 0.16 °C at 6.5 °C a kilometre. Both chosen here, no source.
CELL_DEG: Final = 0.02
CELL_M: Final = 50.0


def has_weather_of_its_own(garden: Garden) -> bool:
    """Whether the garden brings weather that is nobody else's: saved forecasts, or hours gone by."""
    return Service.SAVED in garden.services or garden.past_weather is not None


def cell_site(garden: Garden) -> Site:
    """The middle of the weather cell a garden lies in, for which the services are asked.

    Close by only for the weather: the sun, the frost and the trees are reckoned at the garden itself. A garden with
    weather of its own is a cell of its own.
    """
    if has_weather_of_its_own(garden):
        return garden.site
    site = garden.site
    middle = {
        "latitude_deg": min(90.0, max(-90.0, _rounded(site.latitude_deg, CELL_DEG))),
        "longitude_deg": min(180.0, max(-180.0, _rounded(site.longitude_deg, CELL_DEG))),
        "elevation_m": min(6000.0, max(-450.0, _rounded(site.elevation_m, CELL_M))),
    }
    return site.model_copy(update=middle)


def cell_name(garden: Garden) -> str:
    """What gardens of one cell have in common: the place that is asked for, and the clock its nights go by."""
    if has_weather_of_its_own(garden):
        return f"garden {garden.name}"
    site = cell_site(garden)
    return f"cell {site.latitude_deg:.2f},{site.longitude_deg:.2f},{site.elevation_m:.0f} {site.time_zone}"


def _rounded(value: float, step: float) -> float:
    return round(round(value / step) * step, 6)
