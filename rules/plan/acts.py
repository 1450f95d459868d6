"""The acts of a plan: one job at one tree, with its daylight, its reason, its chances and its price."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.cover import STATES, CoverState
from rules.garden.records import DeedKind
from rules.plan.cover_costs import minutes_of_change
from rules.plan.garden_stakes import AtStake
from rules.plan.prices import PlanPrices
from rules.plan.slots import DayPart, Slot
from rules.plan.stakes import walked
from rules.wood.injury import normal_share

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

AHEAD_SLOTS: Final = 8  # four days: how far ahead the reason for an act is looked for
KINDS: Final = (DeedKind.STRIPPED, DeedKind.VENTED, DeedKind.CLOSED)  # by the state an act leads to
TELLING_TRIPS: Final = 0.02  # a part of the holding cost below this is no reason


class Reason(StrEnum):
    """Why an act is asked for."""

    COLD = "cold"  # the wood would get colder than it can take
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
        Chance that the wood gets colder than it can take in that night if nothing is done.
    chance_after
        The same if the act is done.
    saves_trips, price_trips
        What it is expected to save, and what it costs: its share of the visit and its minutes.
    likely
        Share of the forecast's members that ask for it [0-1]; 1 for what is decided for today.
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
    likely: float = 1.0


def acts_at(
    at: AtStake, slot: int, before: Ints, after: Ints, prices: PlanPrices, likely: Floats | None = None
) -> list[Act]:
    """The acts that bring the garden from one set of states to another at one slot.

    Parameters
    ----------
    at
        What is at stake.
    slot
        Index of the slot.
    before, after
        States of each tree, shape (trees,).
    prices
        Prices.
    likely
        Share of the members that ask for it, shape (trees,); None where it is settled.
    """
    moved = np.flatnonzero(before != after)
    if not len(moved):
        return []
    held, acted = (_Walk(at, slot, before, states) for states in (before, after))
    minutes = {i: _minutes(at, i, before, after) for i in moved.tolist()}
    return [
        _act(at, slot, i, (int(before[i]), int(after[i])), (held, acted), minutes, prices,
             1.0 if likely is None else float(likely[i]))
        for i in moved.tolist()
    ]  # fmt: skip


class _Walk:
    """What happens from a slot on if the garden stands so and stays so."""

    def __init__(self, at: AtStake, slot: int, before: Ints, states: Ints) -> None:
        stakes = at.stakes
        slots = stakes.shape[2]
        course = np.where(np.arange(slots) < slot, before[:, None], states[:, None])
        tissue_c, lost = walked(stakes, course)
        tree = np.arange(len(states))[:, None]
        spread = at.spread_c[tree, np.arange(slots), course]
        lt10_c = np.array([one.hardiness.lt10_c for one in at.tended])[:, None, None]
        sd = np.array([one.hardiness.sd_c for one in at.tended])[:, None]
        width = np.maximum(np.hypot(spread, sd), 0.05)[:, None]
        self.chance = normal_share((lt10_c - tissue_c) / width).mean(axis=1)  # (trees, slots)
        self.lost = lost[..., -1].mean(axis=1)
        standing_cost = np.take_along_axis(stakes.standing_cost, course[:, None, :, None], 3)[..., 0]
        self.standing_cost = standing_cost[:, :, slot:].mean(axis=1).sum(axis=1)


def _minutes(at: AtStake, i: int, before: Ints, after: Ints) -> float:
    return float(minutes_of_change(at.tended[i].cover)[before[i], after[i]])


def _act(
    at: AtStake,
    slot: int,
    i: int,
    change: tuple[int, int],
    walks: tuple[_Walk, _Walk],
    minutes: dict[int, float],
    prices: PlanPrices,
    likely: float,
) -> Act:
    (before, after), (held, acted), here = change, walks, at.slots[slot]
    night = _night_for(at.slots, slot, held.chance[i] - acted.chance[i])
    by_utc = here.by_utc - timedelta(minutes=sum(minutes.values()))
    from_utc = here.light_utc if after > before else here.from_utc
    worth = at.stakes.worth[i]
    return Act(
        tree=at.tended[i].tree.name,
        kind=DeedKind.WRAPPED if before == 0 else KINDS[after],
        state=STATES[after],
        reason=_reason(at, i, slot, before, after),
        night=at.slots[night].day,
        from_utc=min(from_utc, by_utc),
        by_utc=by_utc,
        minutes=minutes[i],
        chance=float(held.chance[i, night]),
        chance_after=float(acted.chance[i, night]),
        saves_trips=float(worth * (held.lost[i] - acted.lost[i]) + held.standing_cost[i] - acted.standing_cost[i]),
        price_trips=prices.visit / len(minutes) + prices.of_work(minutes[i]),
        likely=likely,
    )


def _night_for(slots: Sequence[Slot], slot: int, gain: Floats) -> int:
    """The first night ahead that makes at least half of the greatest difference; the next one where none is made."""
    nights = [k for k, one in enumerate(slots) if k >= slot and one.part == DayPart.EVENING][: AHEAD_SLOTS // 2]
    if not nights:
        return len(slots) - 1
    most = max(float(gain[k]) for k in nights)
    return next((k for k in nights if most > 0 and gain[k] >= most / 2), nights[0])


def _reason(at: AtStake, i: int, slot: int, before: int, after: int) -> Reason:
    """Cold for shutting; for opening the dearest part of what staying shut would cost in the days ahead.

    A cover comes off altogether because it is needed no more, whatever it costs by the day.
    """
    if after > before:
        return Reason.COLD
    if STATES[after] == CoverState.BARE:
        return Reason.RISK_OVER
    parts, ahead = at.parts[i], slice(slot, slot + AHEAD_SLOTS)
    told = {
        Reason.HOT: parts.hot,
        Reason.SOFTEN: parts.softened,
        Reason.HARDEN: parts.unhardened,
    }
    costs = {
        reason: float((part[:, ahead, before] - part[:, ahead, after]).mean(axis=0).sum())
        for reason, part in told.items()
    }
    dearest = max(costs, key=lambda reason: costs[reason])
    return dearest if costs[dearest] > TELLING_TRIPS else Reason.RISK_OVER
