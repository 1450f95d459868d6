"""What to do with each cover and when: the acts that are worth their trip.

Everything is priced in trips to the garden: a visit costs one trip, shared by the trees tended in it; minutes cost
their share; a tree's live wood is worth `Tree.worth_trips`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import Final

from rules.cover import CoverState
from rules.records import DeedKind

MINUTES_PER_TRIP: Final = 20.0  # how many minutes of work weigh as much as one more walk to the garden; assumed


class Reason(StrEnum):
    """Why an act is asked for."""

    COLD = "cold"  # the wood would get colder than it bears
    HARDEN = "harden"  # closed it cannot harden
    SOFTEN = "soften"  # closed it would start to soften or wake
    HOT = "hot"  # closed in the sun it would overheat
    RISK_OVER = "risk over"  # the remaining risk is worth less than the trip


@dataclass(frozen=True, kw_only=True)
class Act:
    """One job at one tree: what, within which daylight, for which night, and what it is worth.

    Parameters
    ----------
    tree, kind, state
        The tree, the deed asked for, and the cover state it leads to.
    reason
        Why.
    night
        Evening date of the night the act is for.
    from_utc, by_utc
        The daylight in which it can be done; `by_utc` leaves time for the minutes.
    minutes
        Working time.
    chance
        Chance that the wood gets colder than it bears if nothing is done.
    chance_after
        The same if the act is done.
    saves_trips, price_trips
        Expected worth of wood saved, and what the act costs.
    """

    tree: str
    kind: DeedKind
    state: CoverState
    reason: Reason
    night: date
    from_utc: datetime
    by_utc: datetime
    minutes: float
    chance: float
    chance_after: float
    saves_trips: float
    price_trips: float


def price_trips(minutes: float, shared_by: int = 1) -> float:
    """Price of an act [trips]: its share of the visit and its minutes.

    >>> price_trips(10.0, shared_by=2)
    1.0
    """
    return 1.0 / shared_by + minutes / MINUTES_PER_TRIP


def first_by_time(acts: Sequence[Act]) -> list[Act]:
    """The acts in the order in which they must be done."""
    return sorted(acts, key=lambda act: (act.by_utc, act.tree))
