"""What the grower did, saw and measured: the values a round reads from the logbook."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from functools import cached_property
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.condition import AS_BUILT, ConditionKind, ConditionTold, CoverCondition, Top, after_told
from rules.garden.cover import STATE_INDEX, Cover, CoverState, Preset

LONGEST_STEM_M = 20.0  # assumed: no fruit tree of a garden is taller


class DeedKind(StrEnum):
    """Acts at a cover; each leaves the cover in a known state, a blanket for one night the cover as it was."""

    WRAPPED = "wrapped"
    VENTED = "vented"
    CLOSED = "closed"
    STRIPPED = "stripped"
    BLANKETED = "blanketed"  # a sheet or blanket thrown over a tree for the night


class SightingKind(StrEnum):
    """What a grower may see on a tree that corrects the model of its phase."""

    LEAVES_YELLOW = "leaves yellow"
    LEAVES_DROPPED = "leaves dropped"
    LEAVES_FROZEN_GREEN = "leaves frozen green"
    BUDS_SWELLING = "buds swelling"
    FIRST_BLOOM = "first bloom"
    FULL_BLOOM = "full bloom"
    PETALS_FALLEN = "petals fallen"
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
    sight: SightingKind
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
class Dieback:
    """What a winter took of one tree, as its grower told it: a share of the wood, a length of dead stem, or both.

    `share` [0-1] of the live wood; `length_m` [m] of dead stem, of `whole_m` [m] that stood in autumn.

    Raises
    ------
    ValueError
        Neither share nor length is given, or one is out of its bounds.
    """

    tree: str
    at_utc: datetime
    share: float | None = None
    length_m: float | None = None
    whole_m: float | None = None

    def __post_init__(self) -> None:
        if self.share is None and self.length_m is None:
            raise ValueError(f"dieback of '{self.tree}' needs a share or a length, got neither")
        if self.share is not None and not 0 <= self.share <= 1:
            raise ValueError(f"share of '{self.tree}' lost is {self.share:g}, it must be 0 to 1")
        if self.length_m is not None and not 0 <= self.length_m <= (self.whole_m or LONGEST_STEM_M):
            longest_m = self.whole_m or LONGEST_STEM_M
            raise ValueError(f"dieback of '{self.tree}' is {self.length_m:g} m, it must be 0 to {longest_m:g} m")

    @property
    def lost(self) -> float | None:
        """Share of the wood lost [0-1]: as told, else dead stem over whole stem; None where neither is known."""
        if self.share is not None:
            return self.share
        return self.length_m / self.whole_m if self.length_m is not None and self.whole_m else None


@dataclass(frozen=True, kw_only=True)
class Records:
    """All that stands in the logbook about one garden, undone entries left out, oldest first."""

    deeds: Sequence[Deed] = ()
    sightings: Sequence[Sighting] = ()
    readings: Sequence[Reading] = ()
    diebacks: Sequence[Dieback] = ()
    conditions: Sequence[ConditionTold] = ()

    @cached_property
    def of_covers(self) -> Mapping[str, Sequence[Deed | ConditionTold]]:
        """Deeds and conditions by tree, oldest first; of one moment the deed first: what is left undone follows."""
        told: list[Deed | ConditionTold] = [*self.deeds, *self.conditions]
        by_tree: dict[str, list[Deed | ConditionTold]] = {}
        for one in sorted(told, key=lambda one: one.at_utc):  # a stable sort keeps deeds before the rest
            by_tree.setdefault(one.tree, []).append(one)
        return by_tree

    @cached_property
    def stood(self) -> Mapping[str, Sequence[tuple[datetime, CoverState]]]:
        """How each tree's cover stood from when on: after each deed, and open where its top was found open or gone."""
        return {tree: _stood(told) for tree, told in self.of_covers.items()}

    @cached_property
    def stood_s(self) -> Mapping[str, tuple[npt.NDArray[np.float64], npt.NDArray[np.int64]]]:
        """The same as arrays: seconds since 1970 of each change, and the state before the first and after each."""
        return {
            tree: (
                np.array([at.timestamp() for at, _ in stood]),
                np.array([STATE_INDEX[state] for state in (CoverState.BARE, *(state for _, state in stood))]),
            )
            for tree, stood in self.stood.items()
        }

    @cached_property
    def found_changed(self) -> frozenset[str]:
        """The trees of whose covers something was told besides deeds."""
        return frozenset(one.tree for one in self.conditions)


# Rooms a pot is carried into, as they are spoken of; "to the house wall" names none.
ROOM_WORDS: Final[Mapping[Preset, str]] = {
    Preset.GARAGE: "garage|shed|barn|house|indoors",
    Preset.CELLAR: "cellar|basement",
    Preset.PORCH: "porch",
    Preset.GREENHOUSE: "greenhouse|glasshouse",
}
_INTO: Final = r"(?:back )?(?:into|inside|in|to)? ?(?:the|a|my|our)? ?(?:cold|unheated)? ?"


def room_named(place: str) -> Preset | None:
    """The room that a pot was moved to; None where it stands outdoors.

    >>> room_named("to the garage"), room_named("to the south side of the house")
    (<Preset.GARAGE: 'garage'>, None)
    """
    return next(
        (room for room, words in ROOM_WORDS.items() if re.fullmatch(f"{_INTO}(?:{words})", place.strip().lower())),
        None,
    )


def shelter_of(records: Records, tree: str, cover: Cover | None, at: datetime) -> Cover | None:
    """The room a tree stands in at a moment, where it was moved into one and not taken out or covered since; else
    the cover it has."""
    if tree not in records.found_changed:
        return cover
    room: Preset | None = None
    for one in records.of_covers.get(tree, ()):
        if one.at_utc > at:
            break
        if isinstance(one, ConditionTold):
            room = room_named(one.place) if one.kind is ConditionKind.MOVED else room
        elif one.kind in (DeedKind.WRAPPED, DeedKind.STRIPPED):
            room = None
    return Cover(name=str(room), preset=room) if room else cover


OPENED_UNASKED = (ConditionKind.TOP_GONE, ConditionKind.TOP_OPEN)
CHANGES_STATE: Final = (*OPENED_UNASKED, ConditionKind.NOT_ON, ConditionKind.MOVED)


def _stood(told: Sequence[Deed | ConditionTold]) -> list[tuple[datetime, CoverState]]:
    stood: list[tuple[datetime, CoverState]] = []
    carried_in = False
    for one in told:
        if isinstance(one, Deed) and one.kind is DeedKind.BLANKETED:
            continue
        if isinstance(one, Deed):
            carried_in = carried_in and one.kind not in (DeedKind.WRAPPED, DeedKind.STRIPPED)
            stood.append((one.at_utc, one.state))
        elif one.kind is ConditionKind.NOT_ON:
            stood.append((one.at_utc, CoverState.BARE))
        elif one.kind is ConditionKind.MOVED:
            stood += _moved(one, carried_in)
            carried_in = room_named(one.place) is not None
        elif one.kind in OPENED_UNASKED and (not stood or stood[-1][1] is not CoverState.BARE):
            stood.append((one.at_utc, CoverState.CLOSED if one.is_over else CoverState.VENTED))
    return stood


def _moved(told: ConditionTold, was_in: bool) -> list[tuple[datetime, CoverState]]:
    """Shut in where it was moved into a room, bare where it came out of one; elsewhere its cover stands as it stood."""
    if room_named(told.place) is not None:
        return [(told.at_utc, CoverState.CLOSED)]
    return [(told.at_utc, CoverState.BARE)] if was_in else []


def cover_conditions(records: Records, tree: str, cover: Cover) -> list[CoverCondition]:
    """Each condition of a tree's cover from its moment on, oldest first.

    A cover that is put on is as built, until what was found says otherwise; who closes it has found its top again.
    """
    told = [AS_BUILT]
    if tree not in records.found_changed:
        return told
    for one in records.of_covers.get(tree, ()):
        if isinstance(one, ConditionTold) and room_named(one.place):
            after = AS_BUILT
        elif isinstance(one, ConditionTold):
            after = after_told(told[-1], one, cover.height_m)
        elif one.kind in (DeedKind.WRAPPED, DeedKind.STRIPPED):
            after = AS_BUILT
        elif one.kind is DeedKind.CLOSED and told[-1].top is Top.GONE:
            after = told[-1].model_copy(update={"top": Top.SHUT})
        else:
            continue
        if after.model_copy(update={"since_utc": None}) != told[-1].model_copy(update={"since_utc": None}):
            told.append(after.model_copy(update={"since_utc": one.at_utc}))
    return told


def mould_seen(records: Records, tree: str, now: datetime) -> bool:
    """Whether mould was found under a tree's cover since it was put on, and nobody said that it is gone."""
    found = False
    for one in records.of_covers.get(tree, ()):
        if one.at_utc <= now and isinstance(one, ConditionTold) and one.kind is ConditionKind.MOULD:
            found = not one.is_over
        elif one.at_utc <= now and one.kind is DeedKind.STRIPPED:
            found = False
    return found


def state_now(records: Records, tree: str, now: datetime) -> CoverState | None:
    """The cover state of a tree after all that was told up to `now`; None when nobody has said."""
    stood = records.stood.get(tree, ())
    return next((state for at, state in reversed(stood) if at <= now), None)


def state_series(records: Records, tree: str, first_utc: datetime, hours: int) -> npt.NDArray[np.int64]:
    """State index of a tree's cover at each hour mark: as what was told last left it, bare before the first."""
    if tree not in records.stood_s:
        return np.full(hours, STATE_INDEX[CoverState.BARE])
    told_s, states = records.stood_s[tree]
    marks = np.ceil((told_s - first_utc.timestamp()) / 3600)  # the first at or after it
    return states[np.searchsorted(marks, np.arange(hours), side="right")]
