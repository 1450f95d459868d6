"""Work that is too long for the light of its day, begun on days before: many wraps before one freeze."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np
import numpy.typing as npt

from rules.plan.cover_costs import minutes_of_change
from rules.plan.garden_stakes import AtStake
from rules.plan.slots import Slot

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, kw_only=True)
class _Job:
    """One cover put on or shut: which tree, at which slot, from which state to which, how long [min]."""

    tree: int
    slot: int
    before: int
    after: int
    minutes: float


def begun_in_time(at: AtStake, states: Ints, likely: Floats) -> tuple[Ints, Floats]:
    """The planned states, and how likely each act is, with covers put on earlier where the light of a day is too short.

    What is worth most is done first. What finds room on no day stays where it was: then it is told what is left out.

    Parameters
    ----------
    at
        What is at stake.
    states
        States of each tree now and after each slot, shape (trees, 1 + slots).
    likely
        How likely the change at each slot is, shape (trees, slots) [0-1].
    """
    states, likely = states.copy(), likely.copy()
    days = _days(at.slots)
    room = [max(at.slots[k].room_minutes for k in day) for day in days]
    full = [sum(job.minutes for job in _jobs(at, states, day)) for day in days]
    for d in range(len(days) - 1, 0, -1):
        for job in sorted(_jobs(at, states, days[d]), key=lambda one: -at.stakes.worth[one.tree]):
            if full[d] <= room[d]:
                break
            earlier = [e for e in range(d) if full[e] + job.minutes <= room[e] and _slot_for(at, states, job, days[e])]
            if earlier:
                slot = _slot_for(at, states, job, days[earlier[-1]])[-1]
                states[job.tree, slot + 1 : job.slot + 1] = job.after
                likely[job.tree, slot] = likely[job.tree, job.slot]
                full[earlier[-1]] += job.minutes
                full[d] -= job.minutes
    return states, likely


def _days(slots: Sequence[Slot]) -> list[list[int]]:
    """The slots of each day: they share its light."""
    return [list(day) for _, day in groupby(range(len(slots)), key=lambda k: slots[k].day)]


def _jobs(at: AtStake, states: Ints, day: Sequence[int]) -> list[_Job]:
    """The covers put on or shut on one day."""
    return [
        _Job(tree=i, slot=k, before=before, after=after, minutes=float(minutes_of_change(one.cover)[before, after]))
        for k in day
        for i, one in enumerate(at.tended)
        for before, after in [(int(states[i, k]), int(states[i, k + 1]))]
        if after > before
    ]


def _slot_for(at: AtStake, states: Ints, job: _Job, day: Sequence[int]) -> list[int]:
    """The slots of a day at which it could be done as well."""
    return [
        k for k in day
        if np.isfinite(at.stakes.work[job.tree, k, job.before, job.after])
        and (states[job.tree, k : job.slot + 1] == job.before).all()
    ]  # fmt: skip
