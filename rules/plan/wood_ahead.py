"""The wood of the coming days under a cover left in each state: marched on from today's by the mean of the members."""

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.cover import STATES
from rules.garden.tree import Phase
from rules.wood.daily_temperatures import LIGHT
from rules.wood.hardiness import Hardiness
from rules.wood.season import SeasonPlace, day_length_h, hardening_share

Floats = npt.NDArray[np.float64]

HOURS: Final = 24
LEAFY: Final = {Phase.RIPENING: 1.0, Phase.GROWING: 1.0}  # where no season is known: the calendar's leaves


@dataclass(frozen=True, kw_only=True, eq=False)
class WoodCourses:
    """What becomes of a tree's wood under each state of its cover, arrays (marks, states).

    `softer_c` is its 50 % point over today's [°C], `leaves` the share of them still on, `developed` the share of the
    way to leaf-out that is gone.
    """

    softer_c: Floats
    leaves: Floats
    developed: Floats


def wood_ahead(
    hardiness: Hardiness, place: SeasonPlace, latitude_deg: float, air_c: Floats, marks: npt.NDArray[np.int64]
) -> WoodCourses:
    """The wood at some hour marks from now on.

    Parameters
    ----------
    hardiness
        Today's wood; where no season of it is known it stays as it is.
    place, latitude_deg
        Today in the season, and where.
    air_c
        Mean over the members of the air at the tree in each state, shape (states, hours) [°C].
    marks
        Hours, shape (marks,).
    """
    days = -(-air_c.shape[-1] // HOURS)
    path = _by_day(hardiness, place, latitude_deg, air_c, days)
    at = np.arange(days + 1) * HOURS
    softer, leaves, developed = (np.stack([np.interp(marks, at, one) for one in values.T], axis=1) for values in path)
    return WoodCourses(softer_c=softer, leaves=leaves, developed=developed)


def leaves_today(hardiness: Hardiness) -> float:
    """Share of a tree's leaves that is still on."""
    ahead = hardiness.ahead
    return LEAFY.get(hardiness.phase, 0.0) if ahead is None else float(ahead.wood.leaves[-1])


def _by_day(
    hardiness: Hardiness, place: SeasonPlace, latitude_deg: float, air_c: Floats, days: int
) -> tuple[Floats, Floats, Floats]:
    """The same at the start of each day from now and at the last one's end, each (days + 1, states)."""
    ahead, shape = hardiness.ahead, (days + 1, len(STATES))
    if ahead is None:
        green = float(hardiness.phase is Phase.GROWING)
        return np.zeros(shape), np.full(shape, LEAFY.get(hardiness.phase, 0.0)), np.full(shape, green)
    wood, length = ahead.lanes(len(STATES)), hardening_share(day_length_h(place.start, place.day + days, latitude_deg))
    kept = [(wood.lt50_c, wood.leaves, wood.developed)]
    for day in range(days):
        hours = air_c[:, day * HOURS : (day + 1) * HOURS]
        ready = np.full(len(STATES), min(1.0, ahead.ready + day * ahead.ready_per_day))
        at = place.day + day
        wood.day_passes(at, hours.mean(axis=1), hours.min(axis=1), LIGHT, ready, float(length[at]))
        kept.append((wood.lt50_c, wood.leaves, wood.developed))
    half, leaves, developed = (np.stack(values) for values in zip(*kept, strict=True))
    return half - half[0], leaves, developed
