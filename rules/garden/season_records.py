"""What a grower tells of a tree's season besides the cold: fruit, prunings, cuttings, gifts, photos."""

from dataclasses import dataclass
from datetime import datetime

from rules.garden.records import Dieback


@dataclass(frozen=True, kw_only=True)
class Harvest:
    """Ripe fruit picked from one tree."""

    tree: str
    count: int
    at_utc: datetime


@dataclass(frozen=True, kw_only=True)
class Pruning:
    """One tree pruned; the words tell how."""

    tree: str
    text: str
    at_utc: datetime


@dataclass(frozen=True, kw_only=True)
class Cuttings:
    """Cuttings taken from one tree; `text` tells for whom, or is empty."""

    tree: str
    count: int
    text: str
    at_utc: datetime


@dataclass(frozen=True, kw_only=True)
class Gift:
    """A tree promised or given to somebody."""

    tree: str
    to: str
    at_utc: datetime


@dataclass(frozen=True, kw_only=True)
class Photo:
    """A photo of one tree (or of the garden: ""): its id at the messenger, and the file's name once it is kept."""

    tree: str
    file_id: str
    file: str | None
    text: str
    at_utc: datetime


SeasonEntry = Dieback | Harvest | Pruning | Cuttings | Gift | Photo
