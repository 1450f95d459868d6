"""All that was learned of one tree, and what a grower asked to forget."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from rules.learning.cover_gain import LearnedCover
from rules.learning.site_offset import LearnedOffset
from rules.learning.tree_hardiness import LearnedHardiness
from rules.learning.worth import Worth
from rules.records import Reading


@dataclass(frozen=True, kw_only=True)
class LearnedTree:
    """One tree: its air, its cover, its wood, and what more readings would be worth.

    `cover` is None where it has none; `inside_worth` None where no cold night ahead or behind can tell.
    """

    tree: str
    offset: LearnedOffset
    air_worth: Worth
    cover: LearnedCover | None = None
    inside_worth: Worth | None = None
    hardiness: tuple[LearnedHardiness, ...] = ()


def remembered(readings: Sequence[Reading], forgotten: Mapping[str, datetime]) -> tuple[Reading, ...]:
    """Readings without those a grower asked to forget: of each tree named, all up to that moment.

    The readings themselves stay in the logbook, so to take the word back is to know again.
    """
    return tuple(one for one in readings if one.tree not in forgotten or one.at_utc > forgotten[one.tree])
