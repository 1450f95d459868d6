"""What to do with each cover and when: the acts that are worth their trip.

Everything is priced in trips to the garden: a visit costs one trip, shared by the trees tended in it; minutes cost
their share; a tree's live wood is worth `Tree.worth_trips`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import Final

from rules.cover import Cover, CoverState
from rules.margins import Night, TreeMargins
from rules.records import DeedKind
from rules.tree import Phase

MINUTES_PER_TRIP: Final = 20.0  # how many minutes of work weigh as much as one more walk to the garden; assumed
DAWN_REST: Final = timedelta(hours=1)  # nobody is sent out at first light; assumed
DUSK_REST: Final = timedelta(minutes=20)  # back before it is dark; assumed
WAKING_C: Final = 10.0  # air inside above which shut-in wood softens: the hard limit, assumed without source
HOT_C: Final = 17.0  # air inside at which a sealed cover wants opening; computed for clear film in winter sun
LEAST_GAIN_TRIPS: Final = 0.25  # what opening must save before it is asked for, so that the plan does not flutter


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


def plan(trees: Sequence[TreeMargins], now: datetime) -> list[Act]:
    """The acts worth their trip to the end of the forecast, in the order in which they must be done.

    A tree left bare on purpose, or without a cover, never causes one.
    """
    acts = [act for one in trees for act in _acts(one, now)]
    return sorted(acts, key=lambda act: (act.by_utc, act.tree))


def _acts(one: TreeMargins, now: datetime) -> list[Act]:
    if one.cover is None or one.tree.left_bare:
        return []
    state, acts = one.state_assumed, []
    for i, night in enumerate(one.nights):
        act = _shut(one, one.cover, state, night, now) or _open(one, one.cover, state, one.nights[i : i + 3], now)
        if act:
            acts.append(act)
            state = act.state
    return acts


def _shut(one: TreeMargins, cover: Cover, state: CoverState, night: Night, now: datetime) -> Act | None:
    """The act that protects one night, where the wood it saves is worth more than the trip."""
    if state == CoverState.CLOSED or CoverState.CLOSED not in night.felt:
        return None
    kind = DeedKind.WRAPPED if state == CoverState.BARE else DeedKind.CLOSED
    minutes = cover.minutes_to_close + (cover.minutes_to_wrap if kind == DeedKind.WRAPPED else 0.0)
    saves = one.tree.worth_trips * (night.felt[state].lost - night.felt[CoverState.CLOSED].lost)
    window = _daylight(night, minutes)
    if saves <= price_trips(minutes) or window is None or window[1] < now:
        return None
    return _act(one, kind, CoverState.CLOSED, Reason.COLD, night, window, minutes, state, saves)


def _open(one: TreeMargins, cover: Cover, state: CoverState, ahead: Sequence[Night], now: datetime) -> Act | None:
    """The act that lets wood harden, or stops it waking, where the nights ahead can be borne with the cap open."""
    night = ahead[0]
    if state != CoverState.CLOSED or CoverState.VENTED not in night.felt:
        return None
    risk = one.tree.worth_trips * sum(n.felt[CoverState.VENTED].lost - n.felt[CoverState.CLOSED].lost for n in ahead)
    reason = _reason_to_open(one, night)
    window = _daylight(night, cover.minutes_to_close)
    if reason is None or risk > LEAST_GAIN_TRIPS or window is None or window[1] < now:
        return None
    return _act(one, DeedKind.VENTED, CoverState.VENTED, reason, night, window, cover.minutes_to_close, state, -risk)


def _reason_to_open(one: TreeMargins, night: Night) -> Reason | None:
    warmest = night.felt[CoverState.CLOSED].warmest_c
    if warmest > HOT_C:
        return Reason.HOT
    if warmest > WAKING_C:
        return Reason.SOFTEN
    return Reason.HARDEN if one.hardiness.phase in (Phase.RIPENING, Phase.HARDENING) else None


def _daylight(night: Night, minutes: float) -> tuple[datetime, datetime] | None:
    """From an hour after sunrise until dusk less the working time; None where the sun does not set."""
    if night.sunset_utc is None or night.sunrise_utc is None:
        return None
    return night.sunrise_utc + DAWN_REST, night.sunset_utc - DUSK_REST - timedelta(minutes=minutes)


def _act(
    one: TreeMargins,
    kind: DeedKind,
    state: CoverState,
    reason: Reason,
    night: Night,
    window: tuple[datetime, datetime],
    minutes: float,
    before: CoverState,
    saves: float,
) -> Act:
    return Act(
        tree=one.tree.name,
        kind=kind,
        state=state,
        reason=reason,
        night=night.evening,
        from_utc=window[0],
        by_utc=window[1],
        minutes=minutes,
        chance=night.felt[before].chance,
        chance_after=night.felt[state].chance,
        saves_trips=saves,
        price_trips=price_trips(minutes),
    )
