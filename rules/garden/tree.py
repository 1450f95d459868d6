"""The trees of a garden and where they stand."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, Final
from zoneinfo import ZoneInfo

from pydantic import BaseModel, ConfigDict, Field


class Noun(BaseModel):
    """A value that cannot change and refuses what it does not know."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Phase(StrEnum):
    """Where a tree is in its year."""

    GROWING = "growing"
    RIPENING = "ripening"
    HARDENING = "hardening"
    RESTING = "resting"
    WAKING = "waking"


class Standing(StrEnum):
    """The kind of spot a tree stands in; each has its own prior offset from the open field."""

    OPEN = "open"
    WALL = "wall"  # against the wall of a heated house
    EAVE = "eave"
    HOLLOW = "hollow"
    SLOPE = "slope"  # mid-slope
    COURT = "court"  # paved court
    POT = "pot"


class Purpose(StrEnum):
    """Why the tree is grown; a trial tree left bare is never nagged about."""

    KEEP = "keep"
    TRIAL = "trial"
    GIVE_AWAY = "give away"


class Tending(StrEnum):
    """Whose way a cover is tended: ours, which asks for the fewest trips, one for an earlier start, or the grower's."""

    FEWEST_TRIPS = "fewest trips"
    EARLY = "early"
    AS_TAUGHT = "as I was taught"


class Site(Noun):
    """Where the garden is."""

    latitude_deg: Annotated[float, Field(ge=-90, le=90)]
    longitude_deg: Annotated[float, Field(ge=-180, le=180)]
    elevation_m: Annotated[float, Field(ge=-450, le=6000)]
    time_zone: str

    @property
    def zone(self) -> ZoneInfo:
        """The IANA zone as an object."""
        return ZoneInfo(self.time_zone)


class Tree(Noun):
    """One tree: what it is, where it stands, what it is worth, how it is covered.

    `worth_trips` is how many trips to the garden its live wood is worth to the grower. `safe_to_c` holds the
    grower's own 10 % injury temperatures [°C] by phase, which override the species table. `cover` names one of
    the garden's covers; None is a tree that has none. `tending` None is the garden's way.
    `height_m` is how high it stands [m]; None as high as its cover.
    """

    name: Annotated[str, Field(min_length=1, max_length=40)]
    short_names: Annotated[tuple[Annotated[str, Field(max_length=40)], ...], Field(max_length=10)] = ()
    species: str
    cultivar: str = ""
    planted_year: Annotated[int | None, Field(ge=1900, le=2200)] = None
    standing: Standing = Standing.OPEN
    purpose: Purpose = Purpose.KEEP
    worth_trips: Annotated[float, Field(ge=0, le=1000)] = 40.0
    safe_to_c: dict[Phase, Annotated[float, Field(ge=-45, le=5)]] = {}
    cover: str | None = None
    left_bare: bool = False
    twin: str | None = None
    tending: Tending | None = None
    height_m: Annotated[float | None, Field(ge=0.1, le=20)] = None


COLDEST_DAY: Final = 25.0  # of a northern year, assumed


@dataclass(frozen=True, kw_only=True)
class SiteSoil:
    """The soil of a site through the year.

    Parameters
    ----------
    mean_c, amplitude_c
        Yearly mean of the surface and half its yearly swing [°C].
    coldest_day
        Day of the year, 1 January = 1.
    mean_sd_c
        One sd of what is not known of the mean [°C].
    conductivity_w_mk, heat_capacity_j_m3k
        Of the soil [W/mK, J/m³K].
    """

    mean_c: float
    amplitude_c: float
    coldest_day: float = COLDEST_DAY
    mean_sd_c: float = 0.0
    conductivity_w_mk: float = 1.0
    heat_capacity_j_m3k: float = 2.0e6
