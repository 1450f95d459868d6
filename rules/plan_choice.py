"""Today's acts for a whole garden, and what each member of the forecast would do after them."""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.plan_prices import PlanPrices
from rules.plan_search import Answers, Stakes, answers, harm

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

ROUNDS: Final = 2  # of sharing visits before the choice: who else would come at each slot settles that fast
CHANGES_C: Final = (-4.0, -3.0, -2.0, -1.0, 1.0, 2.0, 3.0, 4.0)  # changes of one night's forecast that are tried
THINNED: Final = 5  # members that stand for all when they are
NIGHTS_ASKED: Final = 5  # how far ahead a night can still change today's advice in words a grower wants


@dataclass(frozen=True, kw_only=True, eq=False)
class Choice:
    """What is settled at the first slots, and what members do then.

    Parameters
    ----------
    settled
        States from each settled slot on, shape (trees, settled slots).
    cost
        Mean cost by state chosen at each settled slot, those before it as settled, visit of the slot left out, shape
        (settled slots, trees, states) [trips].
    visits
        What a visit costs each tree when shared with those who would come too, shape (trees, members, slots).
    course
        Each member's states after the settled ones, shape (trees, members, slots).
    """

    settled: Ints
    cost: Floats
    visits: Floats
    course: Ints


def choose(stakes: Stakes, settle: int, prices: PlanPrices, room_minutes: Floats) -> Choice:
    """The acts of the first `settle` slots that cost least for all trees together.

    A visit is paid once by all who are tended in it: of today's slots exactly; of later ones, in equal shares by those
    whose members would come. Each slot is settled by the mean over the members, the earlier ones given.

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
    """
    trees, members, slots = stakes.shape
    visits = np.full((trees, members, slots), prices.visit / trees)
    settled = np.empty((trees, 0), dtype=np.int64)
    found = answers(stakes, visits, settled)
    for _ in range(ROUNDS if trees > 1 else 0):
        chosen = _together(stakes, found, 0, stakes.state, prices, room_minutes)
        visits = _shared(_taken(found.course, chosen), stakes.state, prices)
        found = answers(stakes, visits, settled)
    costs, state = [], stakes.state
    for slot in range(settle):
        if slot:
            found = answers(stakes, visits, settled)
        costs.append(found.cost.mean(axis=1))
        state = _together(stakes, found, slot, state, prices, room_minutes)
        settled = np.column_stack([settled, state])
    return Choice(settled=settled, cost=np.stack(costs), visits=visits, course=_taken(found.course, state))


def _taken(course: Ints, chosen: Ints) -> Ints:
    return np.asarray(np.take_along_axis(course, chosen[:, None, None, None], 2)[:, :, 0])


def _shared(course: Ints, state: Ints, prices: PlanPrices) -> Floats:
    """Price of a visit to each tree: the others who come in that member and slot pay their share."""
    before = np.concatenate([np.broadcast_to(state[:, None, None], (*course.shape[:2], 1)), course[..., :-1]], axis=-1)
    comes = (course != before).astype(np.float64)
    return np.asarray(prices.visit / (1.0 + comes.sum(axis=0) - comes))


def _together(stakes: Stakes, found: Answers, slot: int, state: Ints, prices: PlanPrices, room_minutes: Floats) -> Ints:
    """The joint act of all trees at one slot: each tree's best change, if together they are worth the visit."""
    cost, tree = found.cost.mean(axis=1), np.arange(len(state))
    change = _best_change(cost, state)
    gain = gain_of(cost, state)
    work = stakes.work[tree, slot, state, change]
    left = room_minutes[slot] / prices.minutes_per_trip
    goes = np.zeros(len(state), dtype=bool)
    for one in np.argsort(-gain, kind="stable"):
        if gain[one] > prices.least_gain and work[one] <= left + 1e-9:
            goes[one], left = True, left - work[one]
    if gain[goes].sum() <= prices.visit:
        return state.copy()
    return np.where(goes, change, state)


def _best_change(cost: Floats, state: Ints) -> Ints:
    """The best state other than the present one, shape (trees,)."""
    others = np.where(np.arange(cost.shape[1]) == state[:, None], np.inf, cost)
    return np.asarray(others.argmin(axis=1))


def gain_of(cost: Floats, state: Ints) -> Floats:
    """What the best change saves against leaving all as it is, the visit left out, shape (trees,) [trips]."""
    tree = np.arange(len(state))
    alternative = cost[tree, _best_change(cost, state)]
    return np.where(np.isfinite(alternative), cost[tree, state] - alternative, -np.inf)


def second_best(choice: Choice, before: Ints, slot: int, prices: PlanPrices) -> tuple[Ints, float] | None:
    """The next best joint act at a settled slot: its states, and what it costs more [trips]; None without a choice.

    Tried are: leaving all as it is, and the chosen act with one tree's part of it turned.
    """
    cost, chosen = choice.cost[slot], choice.settled[:, slot]
    tree = np.arange(len(chosen))

    def price(states: Ints) -> float:
        return float(cost[tree, states].sum() + prices.visit * (states != before).any())

    others = [before.copy()] if (chosen != before).any() else []
    for one in tree:
        for state in range(cost.shape[1]):
            if state != chosen[one] and np.isfinite(cost[one, state]):
                turned = chosen.copy()
                turned[one] = state
                others.append(turned)
    if not others:
        return None
    best = min(others, key=price)
    return best, price(best) - price(chosen)


def turning_changes(
    stakes: Stakes, choice: Choice, slot: int, nights: Ints, damping: Floats, prices: PlanPrices
) -> list[tuple[int, int, float, int]]:
    """Smallest change of one night's forecast that turns today's act: (tree, slot of the night, change [°C], state).

    Tried per tree on the night of most harm with the cover open among those ahead, by a few members that stand for
    all, the rest of the garden left as chosen; one such change at most, and none where the advice stands whatever that
    night brings.

    Parameters
    ----------
    slot
        The settled slot whose acts are asked about.
    nights
        Slots after which a night follows, in time order.
    damping
        How much of a change of the air the wood feels, shape (trees, slots, states).
    """
    before = stakes.state if slot == 0 else choice.settled[:, slot - 1]
    ahead = nights[nights >= slot][:NIGHTS_ASKED]
    if not len(ahead):
        return []
    few = np.linspace(0, stakes.shape[1] - 1, THINNED).round().astype(int)
    worst = ahead[np.stack([_open_harm(stakes, int(k)) for k in ahead], axis=1).argmax(axis=1)]
    change_c = np.array([0.0, *CHANGES_C])
    shifted = _shifted(stakes, few, worst, change_c, damping)
    visits = np.tile(choice.visits[:, few], (1, len(change_c), 1))
    cost = answers(shifted, visits, choice.settled[:, :slot]).cost
    cost = cost.reshape(len(before), len(change_c), len(few), -1).mean(axis=2)
    with np.errstate(invalid="ignore"):  # inf - inf where a state cannot be chosen
        cost = np.nan_to_num(cost - cost[:, :1], nan=np.inf) + choice.cost[slot][:, None]
    return [
        found
        for one in range(len(before))
        if (found := _turned(one, cost[one], before, choice, slot, worst, change_c, prices))
    ]


def _open_harm(stakes: Stakes, slot: int) -> Floats:
    """Mean harm of one stretch with the cover vented, shape (trees,)."""
    trees, members, _ = stakes.shape
    vented = np.ones(trees, dtype=np.int64)
    return np.asarray(harm(stakes, slot, vented, np.zeros((trees, members))).mean(axis=1))


def _shifted(stakes: Stakes, few: Ints, night: Ints, change_c: Floats, damping: Floats) -> Stakes:
    """A few members, once for every change of each tree's own night."""

    def repeated(values: Floats) -> Floats:
        return np.concatenate([values[:, few]] * len(change_c), axis=1)

    middle, tip = repeated(stakes.middle_c), repeated(stakes.tip_c)
    by = np.repeat(change_c, len(few))[:, None]
    for one, k in enumerate(night):
        middle[one, :, k] += by * damping[one, k]
        tip[one, :, k] += by * damping[one, k]
    return replace(
        stakes, middle_c=middle, tip_c=tip, nodes_c=repeated(stakes.nodes_c), holding=repeated(stakes.holding)
    )


def _turned(
    one: int,
    cost: Floats,
    before: Ints,
    choice: Choice,
    slot: int,
    night: Ints,
    change_c: Floats,
    prices: PlanPrices,
) -> tuple[int, int, float, int] | None:
    chosen = choice.settled[one, slot]
    others_come = bool((np.delete(choice.settled[:, slot] != before, one)).any())
    visit = np.where(np.arange(cost.shape[1]) == before[one], 0.0, 0.0 if others_come else prices.visit)
    best = (cost + visit).argmin(axis=1)
    turns = [i for i in range(1, len(change_c)) if best[i] != chosen]
    if not turns:
        return None
    least = min(turns, key=lambda i: abs(change_c[i]))
    return one, int(night[one]), float(change_c[least]), int(best[least])
