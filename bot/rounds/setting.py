"""What the rounds of a garden stand on."""

from dataclasses import dataclass
from pathlib import Path
from typing import Final

from bot.forecasts import Transport
from bot.logbook import Logbook
from bot.settings import Garden
from rules.garden.tree import Site


@dataclass(frozen=True, kw_only=True)
class Bounds:
    """How large a garden may grow by what is said in its chat: trees, and bytes of photos kept."""

    most_trees: int
    most_photo_bytes: int


OWN: Final = Bounds(most_trees=500, most_photo_bytes=2_000_000_000)  # some years of photos; assumed
GUEST: Final = Bounds(most_trees=60, most_photo_bytes=300_000_000)  # of one that began by invitation; assumed


@dataclass(frozen=True, kw_only=True)
class Setting:
    """What a garden's rounds stand on.

    `path` is the garden file, where there is one that the chat may change, within `bounds`. `cell` and `weather_site`
    are given where many gardens share one question to the weather services, and its answer.
    """

    garden: Garden
    logbook: Logbook
    transport: Transport
    path: Path | None = None
    cell: str = ""
    weather_site: Site | None = None
    bounds: Bounds = OWN

    @property
    def weather_of(self) -> str:
        """Under which name the logbook has this garden's weather: the garden's own, or that of its cell."""
        return self.cell or self.garden.name
