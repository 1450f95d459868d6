"""What to do with each cover and when: the acts that are worth their trip.

Everything is priced in trips to the garden: a visit costs one trip, shared by the trees tended in it; minutes cost
their share; a tree's live wood is worth `Tree.worth_trips`.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cache
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.cover import STATES, CoverState
from rules.garden.tree import Site
from rules.heat.courses import CoverCourses
from rules.plan.acts import Act as Act
from rules.plan.acts import Reason as Reason
from rules.plan.acts import acts_at
from rules.plan.certainty.sensitivity import turning_changes
from rules.plan.certainty.staying import stays
from rules.plan.decision import Decision, choose, second_best
from rules.plan.garden_stakes import AtStake, at_stake
from rules.plan.grower.begun_in_time import begun_in_time
from rules.plan.grower.own_way import own_way, steered
from rules.plan.grower.stopgap import BARE, STOPGAP, of_cover, with_stopgaps
from rules.plan.prices import ASSUMED, PlanPrices
from rules.plan.situation import TreeSituation
from rules.plan.slots import DayPart, Slot
from rules.plan.stakes import Stakes, tail_of
from rules.weather.daily_minima import DailyMinima

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

PAST_SAVING: Final = 0.8  # of a tree's worth: what is left pays no care; assumed
MOST: Final = 0.5  # share of the members above which a later act counts as planned


@dataclass(frozen=True, kw_only=True)
class SecondBest:
    """The next best thing to do today: its acts (none: leave all as it is), and what it costs more [trips]."""

    acts: tuple[Act, ...]
    dearer_trips: float


@dataclass(frozen=True, kw_only=True)
class WouldChange:
    """What would change today's advice: one night's forecast, moved by so much, at one tree.

    `change_c` is negative for a colder forecast; `state` is how the cover would then be asked to stand.
    """

    tree: str
    night: date
    change_c: float
    state: CoverState


@dataclass(frozen=True, kw_only=True)
class SecondThoughts:
    """What a grower may ask about today's advice.

    `second_best` is the next best thing to do today; None where there is nothing to choose. `would_change` has the
    smallest change of one night's forecast that turns today's advice, per tree; empty where none does.
    """

    second_best: SecondBest | None = None
    would_change: tuple[WouldChange, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Plan:
    """What to do, how sure, and what would change it.

    Parameters
    ----------
    acts
        In the order in which they must be done: today's, then those that most members of the forecast ask for.
    past_saving
        Bare trees that past winters would kill for the most part under their covers too, with the share of their worth
        that goes whatever is done: nothing is asked for them, and that must be said. A cover may pay all the same, for
        the little that lives: none of those.
    uncovered
        Bare trees whose cover past winters never have pay, and that the plan does not wrap: nothing need be got ready
        for it.
    second_thoughts
        Worked out when it is asked for, from the same stakes.
    """

    acts: tuple[Act, ...]
    past_saving: Mapping[str, float] = field(default_factory=dict)
    uncovered: frozenset[str] = frozenset()
    second_thoughts: Callable[[], SecondThoughts] = field(default=SecondThoughts, compare=False, repr=False)


NOTHING: Final = Plan(acts=())


def plan(
    tended: Sequence[TreeSituation],
    courses: CoverCourses | None,
    times: Sequence[Slot],
    site: Site,
    *,
    refused: Sequence[tuple[str, datetime]] = (),
    away: Sequence[tuple[date, date]] = (),
    climate: DailyMinima | None = None,
    prices: PlanPrices = ASSUMED,
) -> Plan:
    """The acts worth their trip to the end of the forecast, for all trees of a garden together.

    Parameters
    ----------
    tended
        The trees that have a cover and are not left bare on purpose.
    courses
        What each of them would feel with its cover left in each state; None where there is none.
    times
        The slots.
    site
        Where.
    refused
        (tree, until): nothing is asked for this tree before then.
    away
        (first, last) local days on which nobody is there.
    climate
        Past winters of the open field, for the time beyond the forecast; None for an assumed season.
    prices
        What things cost [trips].
    """
    if courses is None or not times:
        return NOTHING
    at = at_stake(tended, times, site, refused, away, climate, prices, courses)
    at = with_stopgaps(at, courses, refused, away, prices)
    stakes = steered(at, site.latitude_deg)
    asked = np.array([one.asked for one in tended])
    if stays(stakes, prices, asked=bool(asked.any())):
        stand = np.repeat(stakes.state[:, None], 1 + len(times), axis=1)
        return Plan(
            acts=(), past_saving=_past_saving(at, stand[:, -1]), uncovered=_uncovered(at, stand),
            second_thoughts=cache(lambda: _second_thoughts(at, _chosen(stakes, times, prices, asked), prices)),
        )  # fmt: skip
    choice = _chosen(stakes, times, prices, asked)
    settle = choice.settled.shape[1]
    states, likely = begun_in_time(at, *_planned(at, choice))
    after = _with_blankets(choice, states)
    acts = [
        act for k in range(len(times))
        for act in acts_at(at, k, states[:, k], after[:, k], prices, None if k < settle else likely[:, k])
    ]  # fmt: skip
    return Plan(
        acts=tuple(sorted(acts, key=lambda act: (act.by_utc, act.tree))),
        past_saving=_past_saving(at, states[:, settle]),
        uncovered=_uncovered(at, states),
        second_thoughts=cache(lambda: _second_thoughts(at, choice, prices)),
    )


def _with_blankets(choice: Decision, states: Ints) -> Ints:
    """States after each slot, with today's blankets over trees whose cover is not put on today after all.

    Those of later days are told when their evening comes.
    """
    after, settle = states[:, 1:].copy(), choice.settled.shape[1]
    over = (choice.settled == STOPGAP) & (after[:, :settle] == BARE) & (states[:, :settle] == BARE)
    after[:, :settle][over] = STOPGAP
    return after


def _planned(at: AtStake, choice: Decision) -> tuple[Ints, Floats]:
    """States of covers now and after each slot, settled, then as most members have them; and the share that do."""
    settle = choice.settled.shape[1]
    states = np.pad(of_cover(_states(at, choice)), ((0, 0), (0, len(at.slots) - settle)), mode="edge")
    likely = np.ones((len(states), len(at.slots)))
    for k, _, after, share in _likely(of_cover(choice.course), settle, states[:, settle]):
        states[:, k + 1 :] = after[:, None]
        likely[:, k] = share
    return states, likely


def _chosen(stakes: Stakes, times: Sequence[Slot], prices: PlanPrices, asked: Flags) -> Decision:
    settle = sum(slot.day == times[0].day for slot in times)
    return choose(stakes, settle, prices, np.array([slot.room_minutes for slot in times]), asked)


def _states(at: AtStake, choice: Decision) -> Ints:
    """The states of each tree now and after each settled slot."""
    return np.column_stack([at.stakes.state, choice.settled])


def _second_thoughts(at: AtStake, choice: Decision, prices: PlanPrices) -> SecondThoughts:
    states = _states(at, choice)
    return SecondThoughts(
        second_best=None if _all_own_ways(at) else _second_best(at, choice, states, prices),
        would_change=_would_change(at, choice, states, prices),
    )


def _all_own_ways(at: AtStake) -> bool:
    """Whether every tree is tended in its grower's own way: then nothing is weighed."""
    return all(own_way(one) for one in at.tended)


def _past_saving(at: AtStake, states: Ints) -> dict[str, float]:
    """Of those that stay bare: what the best care beyond the forecast costs in trips and wood, over their worth."""
    softer = np.zeros((len(states), at.stakes.states))
    gone = tail_of(at.stakes, softer, softer).min(axis=1) / at.stakes.worth
    return {
        one.tree.name: float(gone[i])
        for i, one in enumerate(at.tended)
        if states[i] == BARE and gone[i] >= PAST_SAVING and not at.wraps[i]
    }


def _uncovered(at: AtStake, states: Ints) -> frozenset[str]:
    """Of those whose grower leaves it to the plan: the trees bare to the end of the forecast, and then for good."""
    bare = (states == BARE).all(axis=1) & ~at.wraps
    return frozenset(one.tree.name for i, one in enumerate(at.tended) if bare[i] and own_way(one) is None)


def _likely(course: Ints, settle: int, state: Ints) -> list[tuple[int, Ints, Ints, Floats]]:
    """Later slots at which most members have a cover in another state: (slot, before, after, share of members)."""
    found = []
    for k in range(settle, course.shape[2]):
        shares = np.stack([(course[:, :, k] == one).mean(axis=1) for one in range(len(STATES))], axis=1)
        most = np.where(shares.max(axis=1) > MOST, shares.argmax(axis=1), state)
        if (most != state).any():
            found.append((k, state, most, shares.max(axis=1)))
        state = most
    return found


def _asked_slot(states: Ints) -> int:
    """The settled slot advice is about: the first with an act, else the last."""
    moved = (states[:, 1:] != states[:, :-1]).any(axis=0)
    return int(moved.argmax()) if moved.any() else states.shape[1] - 2


def _second_best(at: AtStake, choice: Decision, states: Ints, prices: PlanPrices) -> SecondBest | None:
    k = _asked_slot(states)
    other = second_best(at.stakes, choice, k, prices)
    if other is None:
        return None
    acts = acts_at(at, k, states[:, k], other[0], prices)
    return SecondBest(acts=tuple(sorted(acts, key=lambda act: (act.by_utc, act.tree))), dearer_trips=other[1])


def _would_change(at: AtStake, choice: Decision, states: Ints, prices: PlanPrices) -> tuple[WouldChange, ...]:
    nights = np.array([k for k, slot in enumerate(at.slots) if slot.part == DayPart.EVENING], dtype=np.int64)
    turns = turning_changes(at.stakes, choice, _asked_slot(states), nights, at.damping, at.shoots, prices)
    return tuple(
        WouldChange(tree=at.tended[i].tree.name, night=at.slots[k].day, change_c=change_c, state=STATES[state])
        for i, k, change_c, state in turns
        if own_way(at.tended[i]) is None and state != STOPGAP
    )
