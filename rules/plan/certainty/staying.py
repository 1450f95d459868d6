"""Whether leaving every cover as it stands is sure to be best, so that no course need be searched."""

from typing import Final

import numpy as np
import numpy.typing as npt

from rules.plan.prices import PlanPrices
from rules.plan.stakes import Stakes, tail_of, walked
from rules.wood.night_losses import LOST_LEVELS, OFF_C

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

SURE: Final = 1e-3  # trips by which it must be: the search reckons in single precision


def stays(stakes: Stakes, prices: PlanPrices, *, asked: bool = False) -> bool:
    """Whether no member can do better, at any tree, by any act; `asked` where a way was asked for and is not priced.

    Staying is priced as it is; every other course by less than it can cost: its cheapest act and its least share of a
    visit, the cheapest state in each slot, no wood lost but what makes the time thereafter cheapest.
    """
    saved = _cost_of_staying(stakes) - _least_after(stakes, _reached(stakes))[:, None]
    saved -= stakes.standing_cost.min(axis=-1).sum(axis=-1)
    price = _cheapest_act(stakes) + (0.0 if asked else prices.visit / stakes.shape[0])
    return bool((saved < price[:, None] - SURE).all())


def _cost_of_staying(stakes: Stakes) -> Floats:
    """What each member costs with the covers left, shape (trees, members) [trips]."""
    trees, members, slots = stakes.shape
    tree, state = np.arange(trees), stakes.state
    _, lost = walked(stakes, np.repeat(state[:, None], slots, axis=1))
    softer_c = stakes.softens_c[tree, :, state].sum(axis=1)
    wide = (trees, stakes.states, members)
    ends = tail_of(stakes, np.broadcast_to(softer_c[:, None, None], wide), np.broadcast_to(lost[:, None, :, -1], wide))
    injury = stakes.worth[:, None] * (lost[..., -1] - stakes.lost[:, None])
    return np.asarray(injury + stakes.standing_cost[tree, :, :, state].sum(axis=-1) + ends[tree, state])


def _reached(stakes: Stakes) -> Flags:
    """Which states a tree may ever be in, shape (trees, states)."""
    able = np.isfinite(stakes.work).any(axis=1)  # (trees, from, to)
    found = np.arange(stakes.states) == stakes.state[:, None]
    for _ in range(stakes.states - 1):
        found = found | (found[:, :, None] & able).any(axis=1)
    return np.asarray(found)


def _cheapest_act(stakes: Stakes) -> Floats:
    """The least work by which each tree leaves the state it is in, shape (trees,) [trips]; inf where it can't."""
    others = np.arange(stakes.states) != stakes.state[:, None]
    work = stakes.work[np.arange(len(others)), :, stakes.state]  # (trees, slots, to)
    return np.asarray(np.where(others[:, None], work, np.inf).min(axis=(1, 2)))


def _least_after(stakes: Stakes, reached: Flags) -> Floats:
    """The least that wood lost from now on and the time after the forecast can cost together, shape (trees,) [trips].

    The cost thereafter is straight between its levels: least at one of them, or at the ends of what can be reached.
    """
    softens = np.where(reached[:, None], stakes.softens_c, np.nan)
    low_c, high_c = (one(softens, axis=2).sum(axis=1)[:, None] for one in (np.nanmin, np.nanmax))
    softer_c = np.clip(np.array(OFF_C) - stakes.tail_off_c[:, None], low_c, high_c)
    lost = np.clip(LOST_LEVELS, stakes.lost[:, None], 1.0)
    wide = (*reached.shape, len(OFF_C), len(LOST_LEVELS))
    softer_c, lost = softer_c[:, None, :, None], lost[:, None, None, :]
    after = tail_of(stakes, np.broadcast_to(softer_c, wide), np.broadcast_to(lost, wide))
    injury = stakes.worth[:, None, None, None] * (lost - stakes.lost[:, None, None, None])
    return np.asarray(np.where(reached[..., None, None], after + injury, np.inf).min(axis=(1, 2, 3)))
