"""Today's acts for a whole garden, and what each member of the forecast would do after them."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.plan.prices import PlanPrices
from rules.plan.search import Answers, answers
from rules.plan.season.ways import CLOSED, VENTED
from rules.plan.stakes import Stakes

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

ROUNDS: Final = 2  # of sharing visits before the choice: who else would come at each slot settles that fast


@dataclass(frozen=True, kw_only=True, eq=False)
class Searched:
    """Answers of the members under two prices of a visit, each (trees, members, slots).

    Shared by those who would come after the joint act that looks best, and after its opposite: who comes later depends
    on who comes today.
    """

    visits: tuple[Floats, ...]
    found: tuple[Answers, ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class Decision:
    """What is settled at the first slots, and what members do then.

    Parameters
    ----------
    settled
        States from each settled slot on, shape (trees, settled slots).
    searched
        The members' answers at each settled slot, those before it as settled.
    course
        Each member's states after the settled ones, shape (trees, members, slots).
    asked
        Trees whose cover somebody was asked to put on or shut today, shape (trees,): the way there stands as asked for,
        and is not priced anew at each look.
    """

    settled: Ints
    searched: tuple[Searched, ...]
    course: Ints
    asked: Flags


def choose(
    stakes: Stakes, settle: int, prices: PlanPrices, room_minutes: Floats, asked: Flags | None = None
) -> Decision:
    """The acts of the first `settle` slots that cost least for all trees together.

    A visit is paid once by all who are tended in it: when members choose their later acts, in equal shares by those
    who would come; when today's act is chosen, exactly. Each slot is settled by the mean over the members, the earlier
    ones given.

    Parameters
    ----------
    stakes
        What is at stake.
    settle
        How many slots to settle, at least 1.
    prices
        Prices.
    room_minutes
        Working time in each slot for all trees together, shape (slots,).
    asked
        As in `Decision`; None for nobody.
    """
    asked = np.zeros(stakes.shape[0], dtype=bool) if asked is None else asked
    settled = np.empty((stakes.shape[0], 0), dtype=np.int64)
    known: dict[bytes, Answers] = {}
    searched = _search(stakes, (np.full(stakes.shape, prices.visit / stakes.shape[0]),), settled, known)
    for _ in range(ROUNDS if stakes.shape[0] > 1 else 0):
        chosen = _together(stakes, searched, 0, stakes.state, asked, prices, room_minutes)
        courses = (_taken(searched.found[0].course, one) for one in (chosen, _opposite(stakes, searched, chosen)))
        visits = tuple(_shared(course, stakes.state, prices) for course in courses)
        if len(searched.visits) == len(visits) and all(map(np.array_equal, visits, searched.visits)):
            break  # settled: they would answer the same; on a quiet day nobody comes at all
        searched = _search(stakes, visits, settled, known)
    kept, state = [searched], stakes.state
    for slot in range(settle):
        if slot:
            kept.append(_search(stakes, searched.visits, settled, known))
        state = _together(stakes, kept[-1], slot, state, asked, prices, room_minutes)
        settled = np.column_stack([settled, state])
    course = _courses(stakes, kept[-1], settle - 1, state, prices)
    return Decision(settled=settled, searched=tuple(kept), course=course, asked=asked)


def _courses(stakes: Stakes, searched: Searched, slot: int, states: Ints, prices: PlanPrices) -> Ints:
    """What each member does after the settled acts: the cheapest for the garden of its answers."""
    which = _joint_costs(_later(stakes, searched, slot), states, prices).argmin(axis=0)
    each = np.stack([_taken(found.course, states) for found in searched.found])
    return np.asarray(each[which, :, np.arange(len(which))].swapaxes(0, 1))


def _search(stakes: Stakes, visits: tuple[Floats, ...], settled: Ints, known: dict[bytes, Answers]) -> Searched:
    """The answers under each price; what was answered under the same one before is `known`."""
    slot, found = settled.shape[1], []
    for each in visits:
        asked = settled.tobytes() + each[..., slot + 1 :].tobytes()  # nobody pays for a visit that is settled
        if asked not in known:
            known[asked] = answers(stakes, each, settled)
        found.append(known[asked])
    return Searched(visits=visits, found=tuple(found))


def _opposite(stakes: Stakes, searched: Searched, chosen: Ints) -> Ints:
    """Leaving all as it is, or where that is chosen, each tree's best change."""
    if (chosen != stakes.state).any():
        return stakes.state
    cost = searched.found[0].cost.mean(axis=1)
    able = np.isfinite(gain_of(cost, stakes.state))
    return np.where(able, _best_change(cost, stakes.state), stakes.state)


def _taken(course: Ints, chosen: Ints) -> Ints:
    return np.asarray(np.take_along_axis(course, chosen[:, None, None, None], 2)[:, :, 0])


def _comes(course: Ints, state: Ints) -> Flags:
    """Whether each tree is tended at each slot of its courses, shape as `course`: (trees, ..., slots)."""
    first = np.broadcast_to(state.reshape(-1, *(1 for _ in course.shape[1:])), (*course.shape[:-1], 1))
    return np.asarray(course != np.concatenate([first, course[..., :-1]], axis=-1))


def _shared(course: Ints, state: Ints, prices: PlanPrices) -> Floats:
    """Price of a visit to each tree: the others who come in that member and slot pay their share."""
    comes = _comes(course, state).astype(np.float64)
    return np.asarray(prices.visit / (1.0 + comes.sum(axis=0) - comes))


@dataclass(frozen=True, kw_only=True, eq=False)
class _Later:
    """What members do after each act under one price: `own` cost (trees, members, acts), later visits left out, and
    whether they `come` (trees, members, acts, slots after).
    """

    own: Floats
    comes: Flags


def _later(stakes: Stakes, searched: Searched, slot: int) -> list[_Later]:
    """The same under each price."""
    later = []
    for visits, found in zip(searched.visits, searched.found, strict=True):
        comes = _comes(found.course, stakes.state)[..., slot + 1 :]
        later.append(_Later(own=found.cost - (comes * visits[:, :, None, slot + 1 :]).sum(axis=-1), comes=comes))
    return later


def _joint_costs(later: Sequence[_Later], states: Ints, prices: PlanPrices) -> Floats:
    """Cost for the garden of what each member answers under each price, its first visit left out: (prices, members)."""
    tree = np.arange(len(states))
    visits = [one.comes[tree, :, states].any(axis=0).sum(axis=-1) for one in later]
    return np.stack(
        [one.own[tree, :, states].sum(axis=0) + prices.visit * paid for one, paid in zip(later, visits, strict=True)]
    )


def joint_price(later: Sequence[_Later], states: Ints, before: Ints, asked: Flags, prices: PlanPrices) -> float:
    """Expected cost of one joint act of all trees at a slot and of the members' later acts, each visit paid once.

    Each member takes the cheapest for the garden of what it answers under the several prices. A way that was asked for
    today stands: whoever shut the others need not hear at noon that for the last tree alone it does not pay.
    """
    mean = float(np.min(_joint_costs(later, states, prices), axis=0).mean())
    stands = bool(((states > before) & asked).any())
    return mean + prices.visit * float((states != before).any() and not stands)


def _together(
    stakes: Stakes, searched: Searched, slot: int, before: Ints, asked: Flags, prices: PlanPrices, room_minutes: Floats
) -> Ints:
    """The joint act at one slot: each tree's best change where it gains, alone and together, or nothing at all."""
    cost = searched.found[0].cost.mean(axis=1)
    change, gain = _best_change(cost, before), gain_of(cost, before)
    tree = np.arange(len(before))
    work = stakes.work[tree, slot, before, change]
    able, opens = np.isfinite(gain), (before == CLOSED) & (change == VENTED)
    later = _later(stakes, searched, slot)

    def price(goes: Flags) -> float:
        if (work[goes].sum() * prices.minutes_per_trip > room_minutes[slot] + 1e-9) or not able[goes].all():
            return float(np.inf)
        states = np.where(goes, change, before)
        margin = prices.least_gain * float(opens[goes].sum())
        return joint_price(later, states, before, asked, prices) + margin

    best = min((goes for goes in _sets(gain, able)), key=price)
    return np.where(best, change, before)


def _sets(gain: Floats, able: Flags) -> list[Flags]:
    """Sets of trees worth trying together: none, those that gain most up to each of them, and each left out of all."""
    none = np.zeros(len(gain), dtype=bool)
    order = [int(one) for one in np.argsort(-gain, kind="stable") if able[one]]
    sets = [none]
    for one in order:
        sets.append(sets[-1].copy())
        sets[-1][one] = True
    gains = able & (gain > 0.0)
    for one in order:
        sets.append(gains.copy())
        sets[-1][one] = not gains[one]
    return sets


def _best_change(cost: Floats, state: Ints) -> Ints:
    """The best state other than the present one, shape (trees,)."""
    others = np.where(np.arange(cost.shape[1]) == state[:, None], np.inf, cost)
    return np.asarray(others.argmin(axis=1))


def gain_of(cost: Floats, state: Ints) -> Floats:
    """What the best change saves against leaving all as it is, the visit left out, shape (trees,) [trips]."""
    tree = np.arange(len(state))
    alternative = cost[tree, _best_change(cost, state)]
    return np.where(np.isfinite(alternative), cost[tree, state] - alternative, -np.inf)


def second_best(stakes: Stakes, choice: Decision, slot: int, prices: PlanPrices) -> tuple[Ints, float] | None:
    """The next best joint act at a settled slot: its states, and what it costs more [trips]; None without a choice.

    Tried are: leaving all as it is, and the chosen act with one tree's part of it turned.
    """
    searched, chosen, before = choice.searched[slot], choice.settled[:, slot], state_before(stakes, choice, slot)
    able = np.isfinite(searched.found[0].cost.mean(axis=1))
    others = [before.copy()] if (chosen != before).any() else []
    for one in range(len(chosen)):
        for state in np.flatnonzero(able[one]):
            if state != chosen[one]:
                others.append(chosen.copy())
                others[-1][one] = state
    if not others:
        return None
    later = _later(stakes, searched, slot)

    def price(states: Ints) -> float:
        return joint_price(later, states, before, choice.asked, prices)

    best = min(others, key=price)
    return best, price(best) - price(chosen)


def state_before(stakes: Stakes, choice: Decision, slot: int) -> Ints:
    """States before a settled slot, shape (trees,)."""
    return stakes.state if slot == 0 else np.asarray(choice.settled[:, slot - 1])
