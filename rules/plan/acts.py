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
from rules.plan.changes.shut_at_once import TELLING_CHANCE, of_whole_nights
from rules.plan.cover_costs import AUTUMN, BUDS_BREAK, minutes_of_change
from rules.plan.garden_stakes import AtStake
from rules.plan.grower.stopgap import ON_MINUTES, STOPGAP, of_cover
from rules.plan.prices import PlanPrices
from rules.plan.situation import tends_in_own_way, too_cold
from rules.plan.slots import DayPart, Slot
from rules.plan.stakes import walked
from rules.wood.night_losses import OFF_C

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

AHEAD_SLOTS: Final = 8  # four days: how far ahead the reason for opening is looked for
KINDS: Final = (DeedKind.STRIPPED, DeedKind.VENTED, DeedKind.CLOSED)  # by the state an act leads to
TELLING_TRIPS: Final = 0.02  # a part of the holding cost below this is no reason


class Reason(StrEnum):
    """Why an act is asked for."""

    COLD = "cold"  # the wood would get colder than it can take
    HARDEN = "harden"  # closed it cannot harden
    SOFTEN = "soften"  # closed it would start to soften or wake
    HOT = "hot"  # closed in the sun it would overheat
    ROT = "rot"  # green leaves shut in rot, or mould was seen
    BUDS = "buds"  # its buds break, and shoots want light
    RISK_OVER = "risk over"  # no night ahead is colder than swollen wood bears
    YOUR_WAY = "your way"  # the grower's own way asks for it


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
    lost, lost_after
        Share of the wood it would likely have lost by the end of the forecast if nothing is done, and if it is.
    can_wait
        Whether there is time for it later too, before its night.
    own_way
        Whether it is the grower's own way of tending that asks for it.
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
    lost: float = 0.0
    lost_after: float = 0.0
    can_wait: bool = False
    own_way: bool = False


def acts_at(
    at: AtStake, slot: int, before: Ints, after: Ints, prices: PlanPrices, likely: Floats | None = None
) -> list[Act]:
    """The acts that bring the garden from one set of states to another at one slot.

    That a blanket comes off again is told when it is asked for.

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
    moved = np.flatnonzero((of_cover(before) != of_cover(after)) | ((after == STOPGAP) & (before != STOPGAP)))
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
        course = np.where(np.arange(slots) < slot, before[:, None], of_cover(states)[:, None])
        course[:, slot] = states  # a blanket is on for one night
        tissue_c, lost = walked(stakes, course)
        tree = np.arange(len(states))[:, None]
        spread = at.spread_c[tree, np.arange(slots), course]
        self.chance = of_whole_nights(too_cold(at.tended, tissue_c, spread), at.slots)
        self.lost = lost[..., -1].mean(axis=1)
        standing_cost = np.take_along_axis(stakes.standing_cost, course[:, None, :, None], 3)[..., 0]
        self.standing_cost = standing_cost[:, :, slot:].mean(axis=1).sum(axis=1)


def _minutes(at: AtStake, i: int, before: Ints, after: Ints) -> float:
    if after[i] == STOPGAP:
        return ON_MINUTES
    return float(minutes_of_change(at.tended[i].cover)[of_cover(before)[i], after[i]])


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
    before = 0 if before == STOPGAP else before
    from_utc = here.light_utc if after > before else here.from_utc
    # what is too long for the day is begun at its first light
    by_utc = max(here.by_utc - timedelta(minutes=sum(minutes.values()) / max(here.hands, 1)), from_utc)
    worth = at.stakes.worth[i]
    return Act(
        tree=at.tended[i].tree.name,
        kind=_kind(before, after),
        state=STATES[0 if after == STOPGAP else after],
        reason=_reason(at, i, slot, before, after),
        night=at.slots[night].day,
        from_utc=from_utc,
        by_utc=by_utc,
        minutes=minutes[i],
        chance=float(held.chance[i, night]),
        chance_after=float(acted.chance[i, night]),
        saves_trips=float(worth * (held.lost[i] - acted.lost[i]) + held.standing_cost[i] - acted.standing_cost[i]),
        price_trips=prices.visit / len(minutes) + prices.of_work(minutes[i]),
        likely=likely,
        lost=float(held.lost[i]),
        lost_after=float(acted.lost[i]),
        can_wait=bool(np.isfinite(at.stakes.work[i, slot + 1 : night + 1, before, after]).any()),
        own_way=tends_in_own_way(at.tended[i].tree),
    )


def _kind(before: int, after: int) -> DeedKind:
    if after == STOPGAP:
        return DeedKind.BLANKETED
    return DeedKind.WRAPPED if before == 0 else KINDS[after]


def _night_for(slots: Sequence[Slot], slot: int, gain: Floats) -> int:
    """The first night ahead that makes a telling difference, or half of the greatest; the next one where none does."""
    nights = [k for k, one in enumerate(slots) if k >= slot and one.part == DayPart.EVENING]
    if not nights:
        return len(slots) - 1
    most = min(max(float(gain[k]) for k in nights) / 2, TELLING_CHANCE)
    return next((k for k in nights if most > 0 and gain[k] >= most), nights[0])


def _reason(at: AtStake, i: int, slot: int, before: int, after: int) -> Reason:
    """Cold for shutting; for opening the dearest part of what staying shut would cost in the days ahead.

    A cover comes off altogether for its buds once they break, else because it is needed no more.
    """
    if after > before:
        return Reason.COLD
    if tends_in_own_way(at.tended[i].tree):
        return Reason.YOUR_WAY
    if STATES[after] == CoverState.BARE:
        return Reason.BUDS if at.wood[i].developed[slot, before] >= BUDS_BREAK else Reason.RISK_OVER
    costs = {reason: _spared(part, slot, before, after) for reason, part in _told(at, i).items()}
    hardens = at.tended[i].hardiness.phase in AUTUMN
    costs[Reason.HARDEN if hardens else Reason.SOFTEN] = _harder(at, i, slot, before, after)
    dearest = max(costs, key=lambda reason: costs[reason])
    return dearest if costs[dearest] > TELLING_TRIPS else Reason.RISK_OVER


def _told(at: AtStake, i: int) -> dict[Reason, Floats]:
    parts = at.parts[i]
    return {Reason.HOT: parts.hot, Reason.ROT: parts.rot, Reason.BUDS: parts.pale}


def _spared(part: Floats, slot: int, before: int, after: int) -> float:
    ahead = slice(slot, slot + AHEAD_SLOTS)
    return float((part[:, ahead, before] - part[:, ahead, after]).mean(axis=0).sum())


def _harder(at: AtStake, i: int, slot: int, before: int, after: int) -> float:
    """What the wood's gain by the end of the forecast is worth beyond it [trips]."""
    softer_c = at.wood[i].softer_c[-1] - at.wood[i].softer_c[slot]
    by_off = at.stakes.tail[i, after, :, 0]
    per_c = float(by_off[-1] - by_off[0]) / (OFF_C[-1] - OFF_C[0])
    return float(softer_c[before] - softer_c[after]) * per_c
