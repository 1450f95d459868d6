"""The nouns of a garden file: what a grower tells bedstraw once."""

from collections.abc import Mapping
from datetime import time
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from bot.weather_services import Service
from rules.garden.cover import Cover
from rules.garden.records import Place
from rules.garden.shed import Shed
from rules.garden.tree import Noun, Site, Tending, Tree
from rules.jobs import JobKind, JobSettings
from rules.plan.grower.free_hours import ANY_TIME, FreeHours


class Role(StrEnum):
    """What a person may do: an owner lets others in and out, a helper answers nudges."""

    OWNER = "owner"
    HELPER = "helper"


def _zoneless(clock: time) -> time:
    if clock.tzinfo is not None:
        raise ValueError('must be a time of the garden\'s own clock like "21:00", without a zone')
    return clock


Clock = Annotated[time, AfterValidator(_zoneless)]


class Units(Noun):
    """The units the grower reads: °F or °C, wind, lengths; and whether a decimal follows a point or a comma."""

    fahrenheit: bool = False
    wind: Literal["mph", "km/h", "m/s"] = "km/h"
    length: Literal["in", "cm"] = "cm"
    decimal: Literal["point", "comma"] = "point"


class Person(Noun):
    """One person of the household, by the name the others call them."""

    name: Annotated[str, Field(min_length=1, max_length=40)]
    role: Role = Role.HELPER


class SensorTopic(Noun):
    """Under which topic of the house's broker a thermometer tells its readings, and where it hangs.

    `value` names the number within a message in JSON, names joined by dots; empty where the message is the number.
    """

    topic: Annotated[str, Field(min_length=1, max_length=200, pattern=r"^[^+#\x00]+$")]  # one thermometer, no wildcard
    tree: Annotated[str, Field(min_length=1, max_length=60)]
    place: Place = Place.AIR
    unit: Literal["c", "f"] = "c"
    value: Annotated[str, Field(max_length=100)] = ""


class Garden(Noun):
    """One garden: where it is, who tends it, which weather it trusts, its trees and their covers.

    `quiet_from` and `quiet_until` are local times between which nothing is sent. `services` are asked in this order,
    the next one where one fails, or all of them each time where they are heard `services_together`; with
    `page_on_saturdays` the page of the garden is sent then;
    `contact` is the address that services want to see in a request. `saved_forecasts` is a saved forecast or a folder
    of them, `past_weather` the same with hours gone by, `past_winters` a file of daily minima. `covers` are known by
    the name the trees use. `tending` is whose way covers are tended, where a tree has no own; `free` when somebody can
    work.
    """

    name: Annotated[str, Field(min_length=1, max_length=60)]
    site: Site
    units: Units = Units()
    quiet_from: Clock = time(21, 0)
    quiet_until: Clock = time(7, 0)
    people: Annotated[tuple[Person, ...], Field(min_length=1, max_length=50)]
    services: Annotated[tuple[Service, ...], Field(min_length=1)]
    services_together: bool = False
    page_on_saturdays: bool = False
    contact: Annotated[str, Field(max_length=200)] = ""
    saved_forecasts: Path | None = None
    past_weather: Path | None = None
    past_winters: Path | None = None
    trees: Annotated[tuple[Tree, ...], Field(min_length=1, max_length=500)]
    covers: Mapping[str, Cover] = {}
    jobs: Mapping[JobKind, JobSettings] = {}
    tending: Tending = Tending.FEWEST_TRIPS
    free: FreeHours = ANY_TIME
    shed: Shed = Shed()
    sensors: Annotated[tuple[SensorTopic, ...], Field(max_length=100)] = ()

    @property
    def trees_tended(self) -> tuple[Tree, ...]:
        """The trees, each with the way its cover is tended."""
        return tuple(tree if tree.tending else tree.model_copy(update={"tending": self.tending}) for tree in self.trees)

    def tree_called(self, name: str) -> Tree | None:
        """The tree of this name or short name, whatever the case; None when there is none."""
        wanted = name.strip().casefold()
        for tree in self.trees:
            if wanted in {word.casefold() for word in (tree.name, *tree.short_names)}:
                return tree
        return None

    def cover_of(self, tree: Tree) -> Cover | None:
        """The cover of a tree; None for a tree that has none."""
        return self.covers[tree.cover] if tree.cover is not None else None
