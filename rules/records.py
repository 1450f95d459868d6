"""What the grower did, saw and measured: the values a round reads from the logbook."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from rules.cover import CoverState


class DeedKind(StrEnum):
    """Acts at a cover; each leaves the cover in a known state."""

    WRAPPED = "wrapped"
    VENTED = "vented"
    CLOSED = "closed"
    STRIPPED = "stripped"


class Sight(StrEnum):
    """What a grower may see on a tree that corrects the model of its phase."""

    LEAVES_YELLOW = "leaves yellow"
    LEAVES_DROPPED = "leaves dropped"
    LEAVES_FROZEN_GREEN = "leaves frozen green"
    BUDS_SWELLING = "buds swelling"
    LEAFED_OUT = "leafed out"
    FRUIT_PEA_SIZE = "fruit pea size"


class Place(StrEnum):
    """Where a thermometer hung."""

    AIR = "air"
    INSIDE = "inside"


@dataclass(frozen=True, kw_only=True)
class Deed:
    """One act at one tree: what was done, when, and how it left the cover."""

    tree: str
    kind: DeedKind
    state: CoverState
    at_utc: datetime


@dataclass(frozen=True, kw_only=True)
class Sighting:
    """One thing seen on one tree."""

    tree: str
    sight: Sight
    at_utc: datetime


@dataclass(frozen=True, kw_only=True)
class Reading:
    """One temperature read at one tree; `is_minimum` when it is the low of the night, not the present value."""

    tree: str
    air_c: float
    at_utc: datetime
    place: Place = Place.AIR
    is_minimum: bool = False


@dataclass(frozen=True, kw_only=True)
class Records:
    """All that stands in the logbook about one garden, undone entries left out, oldest first."""

    deeds: Sequence[Deed] = ()
    sightings: Sequence[Sighting] = ()
    readings: Sequence[Reading] = ()


def state_now(records: Records, tree: str, now: datetime) -> CoverState | None:
    """The cover state of a tree after its last deed up to `now`; None when nobody has said."""
    known = [deed.state for deed in records.deeds if deed.tree == tree and deed.at_utc <= now]
    return known[-1] if known else None
