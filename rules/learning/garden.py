"""All that was learned of one tree, and what a grower said of it: forget this, hold that threshold."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from rules.garden.records import Reading
from rules.learning.cover_gain import ColdestInside, LearnedCover
from rules.learning.site_offset import LearnedOffset
from rules.learning.tree_hardiness import LearnedHardiness
from rules.learning.worth import Worth


@dataclass(frozen=True, kw_only=True)
class LearnedTree:
    """One tree: its air, its cover, its wood, and what more readings would be worth.

    `air_worth`, `inside_worth` are of some nights, `air_next`, `inside_next` of one more reading. `cover` is None where
    it has none; `inside` and the worth of readings there None where no cold night behind can tell.
    """

    tree: str
    offset: LearnedOffset
    air_worth: Worth
    cover: LearnedCover | None = None
    inside: ColdestInside | None = None
    inside_worth: Worth | None = None
    air_next: Worth | None = None
    inside_next: Worth | None = None
    hardiness: tuple[LearnedHardiness, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Forgotten:
    """The word that what a tree taught up to a moment shall not count: its readings and its accepted thresholds."""

    tree: str
    at_utc: datetime


@dataclass(frozen=True, kw_only=True)
class ThresholdAnswer:
    """Yes or no to a proposal: hold from now on for this tree, in its phase, what its winters taught."""

    tree: str
    at_utc: datetime
    learned: LearnedHardiness
    is_accepted: bool


def forgotten_since(words: Sequence[Forgotten | ThresholdAnswer]) -> dict[str, datetime]:
    """The last moment up to which each tree's teaching was forgotten."""
    return {one.tree: one.at_utc for one in sorted(words, key=lambda one: one.at_utc) if isinstance(one, Forgotten)}


def accepted_of(words: Sequence[Forgotten | ThresholdAnswer]) -> dict[str, tuple[LearnedHardiness, ...]]:
    """What is held of each tree's wood: in each phase what was accepted last, unless it was forgotten since."""
    gone = forgotten_since(words)
    held: dict[str, dict[str, LearnedHardiness]] = {}
    for one in sorted(words, key=lambda one: one.at_utc):
        stands = one.tree not in gone or one.at_utc > gone[one.tree]
        if isinstance(one, ThresholdAnswer) and one.is_accepted and stands:
            held.setdefault(one.tree, {})[one.learned.phase] = one.learned
    return {tree: tuple(phases.values()) for tree, phases in held.items()}


def remembered(readings: Sequence[Reading], forgotten: Mapping[str, datetime]) -> tuple[Reading, ...]:
    """Readings without those a grower asked to forget: of each tree named, all up to that moment.

    The readings themselves stay in the logbook, so to take the word back is to know again.
    """
    return tuple(one for one in readings if one.tree not in forgotten or one.at_utc > forgotten[one.tree])
