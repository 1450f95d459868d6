"""What would turn today's advice: one night's forecast, moved until another act is best."""

from dataclasses import replace
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.plan.decision import Decision, state_before
from rules.plan.grower.stopgap import WARMER
from rules.plan.prices import PlanPrices
from rules.plan.search import answers
from rules.plan.stakes import GreenShoots, Stakes, harm

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

CHANGES_C: Final = (-4.0, -3.0, -2.0, -1.0, 1.0, 2.0, 3.0, 4.0)  # changes of one night's forecast that are tried
THINNED: Final = 5  # members that stand for all when they are
NIGHTS_ASKED: Final = 5  # how far ahead a night can still change today's advice in words a grower wants


def turning_changes(
    stakes: Stakes, choice: Decision, slot: int, nights: Ints, damping: Floats, shoots: GreenShoots, prices: PlanPrices
) -> list[tuple[int, int, float, int]]:
    """Smallest change of one night's forecast that turns today's act: (tree, slot of the night, change [°C], state).

    Tried per tree on the night of most harm with the cover open among those ahead, by a few members that stand for
    all, the rest of the garden left as chosen; one such change at most: a colder night that asks for more cover, or a
    milder one that asks for less.

    Parameters
    ----------
    slot
        The settled slot whose acts are asked about.
    nights
        Slots after which a night follows, in time order.
    damping
        How much of a change of the air the wood feels, shape (trees, slots, states).
    shoots
        New shoots of trees in leaf, which feel it too.
    """
    before = state_before(stakes, choice, slot)
    ahead = nights[nights >= slot][:NIGHTS_ASKED]
    if not len(ahead):
        return []
    few = np.linspace(0, stakes.shape[1] - 1, THINNED).round().astype(int)
    worst = ahead[np.stack([_open_harm(stakes, int(k)) for k in ahead], axis=1).argmax(axis=1)]
    change_c = np.array([0.0, *CHANGES_C])
    shifted = _shifted(stakes, few, worst, change_c, damping, shoots)
    visits = np.tile(choice.searched[slot].visits[0][:, few], (1, len(change_c), 1))
    cost = answers(shifted, visits, choice.settled[:, :slot]).cost
    cost = cost.reshape(len(before), len(change_c), len(few), -1).mean(axis=2)
    with np.errstate(invalid="ignore"):  # inf - inf where a state cannot be chosen
        cost = np.nan_to_num(cost - cost[:, :1], nan=np.inf) + choice.searched[slot].found[0].cost.mean(axis=1)[:, None]
    visit_price = 0.0 if choice.asked.any() else prices.visit
    return [
        found
        for one in range(len(before))
        if (found := _turned(one, cost[one], before, choice, slot, worst, change_c, visit_price))
    ]


def _open_harm(stakes: Stakes, slot: int) -> Floats:
    """Mean harm of one stretch with the cover vented, shape (trees,)."""
    trees, members, _ = stakes.shape
    vented = np.ones(trees, dtype=np.int64)
    return np.asarray(harm(stakes, slot, vented, np.zeros((trees, members))).mean(axis=1))


def _shifted(stakes: Stakes, few: Ints, night: Ints, change_c: Floats, damping: Floats, shoots: GreenShoots) -> Stakes:
    """A few members, once for every change of each tree's own night."""

    def repeated(values: Floats) -> Floats:
        return np.concatenate([values[:, few]] * len(change_c), axis=1)

    middle, tip = repeated(stakes.middle_c), repeated(stakes.tip_c)
    as_told = shoots.frost_cost(middle, tip)
    by = np.repeat(change_c, len(few))[:, None]
    for one, k in enumerate(night):
        middle[one, :, k] += by * damping[one, k]
        tip[one, :, k] += by * damping[one, k]
    return replace(
        stakes,
        middle_c=middle,
        tip_c=tip,
        nodes_c=repeated(stakes.nodes_c),
        standing_cost=repeated(stakes.standing_cost) + shoots.frost_cost(middle, tip) - as_told,
    )


def _turned(
    one: int,
    cost: Floats,
    before: Ints,
    choice: Decision,
    slot: int,
    night: Ints,
    change_c: Floats,
    visit_price: float,
) -> tuple[int, int, float, int] | None:
    chosen = choice.settled[one, slot]
    others_come = bool((np.delete(choice.settled[:, slot] != before, one)).any())
    visit = np.where(np.arange(cost.shape[1]) == before[one], 0.0, 0.0 if others_come else visit_price)
    best = (cost + visit).argmin(axis=1)
    # A night so cold that no cover helps can also turn the advice; that is no news for a grower.
    turns = [i for i in range(1, len(change_c)) if (WARMER[best[i]] - WARMER[chosen]) * change_c[i] < 0]
    if not turns:
        return None
    least = min(turns, key=lambda i: abs(change_c[i]))
    return one, int(night[one]), float(change_c[least]), int(best[least])
