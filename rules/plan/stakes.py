"""What is at stake in a garden to the end of its forecast, and what one course of cover states comes to under it."""

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.wood.night_losses import OFF_C, lost_after

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

NEVER: Final = np.inf
SHORT: Final = np.float32


@dataclass(frozen=True, kw_only=True, eq=False)
class Stakes:
    """All the search needs, as arrays over trees, members, slots, states and nodes.

    Parameters
    ----------
    middle_c, tip_c
        Temperature that hurts [°C] from each slot to the next, the cover left in each state all along, at the middle
        and the tip of the stem, shape (trees, members, slots, states).
    nodes_c
        What the cover holds at each slot in each state, shape (trees, members, slots, states, nodes).
    fades
        What is left at the next slot of a difference of nodes, shape (trees, slots, states, nodes, nodes).
    tissue
        What of it the wood feels at its coldest till then, shape (trees, slots, states, nodes).
    tip_keeps
        How much of that the tip feels, shape (trees, states).
    lt50_c, softens_c
        50 % point of what frost can take, shape (trees, slots), and by how much it rises from each slot to the next in
        each state, shape (trees, slots, states) [°C]: wood shut in hardens otherwise than wood in the open.
    width_c
        Width of its dose curve with the lasting doubts in: of site, cover and wood, shape (trees, slots, states) [°C].
    unforeseen_c
        One sd of what the last forecast before a night does not tell, new each night, shape as `width_c` [°C].
    standing_cost
        What a state costs besides injury, shape (trees, members, slots, states) [trips].
    work
        What a change of state costs besides the visit, shape (trees, slots, from, to) [trips]; inf where it cannot be.
    worth
        Worth of each tree's live wood, shape (trees,) [trips].
    tail, tail_off_c
        What the state at the end costs thereafter, by how far the wood is off a bare tree's and the share lost until
        then, shape (trees, states, OFF_C, LOST_LEVELS) [trips]: wood that later cold would take anyway is not worth
        saving now. How far off it would be then if it stayed as today, shape (trees,) [°C].
    state
        State index of each tree now, shape (trees,).
    lost
        Share of the wood already lost this winter, shape (trees,): what is dead needs no cover.
    """

    middle_c: Floats
    tip_c: Floats
    nodes_c: Floats
    fades: Floats
    tissue: Floats
    tip_keeps: Floats
    lt50_c: Floats
    softens_c: Floats
    width_c: Floats
    unforeseen_c: Floats
    standing_cost: Floats
    work: Floats
    worth: Floats
    tail: Floats
    tail_off_c: Floats
    state: Ints
    lost: Floats

    @property
    def states(self) -> int:
        """How many states there are: three, or two where no tree can be bare."""
        return int(self.middle_c.shape[-1])

    @property
    def shape(self) -> tuple[int, int, int]:
        """Trees, members, slots."""
        trees, members, slots = self.middle_c.shape[:3]
        return trees, members, slots


def tail_of(stakes: Stakes, softer_c: Floats, lost: Floats) -> Floats:
    """Cost beyond the forecast [trips], straight between its levels, shape as `lost`: (trees, states, ...).

    `softer_c` is by how much the wood is softer than today, same shape [°C].
    """
    trees, states, offs, levels = stakes.tail.shape
    off_c = np.clip(softer_c + stakes.tail_off_c.reshape(-1, *(1 for _ in softer_c.shape[1:])), OFF_C[0], OFF_C[-1])
    at = np.interp(off_c, OFF_C, np.arange(offs)).astype(stakes.tail.dtype)
    row = np.minimum(at.astype(np.int64), offs - 2)
    grade = np.clip(lost, 0.0, 1.0) * (levels - 1)
    low = np.minimum(grade.astype(np.int64), levels - 2)
    flat = np.ascontiguousarray(stakes.tail).reshape(-1)
    first = (np.arange(trees * states) * offs).reshape(trees, states, *(1 for _ in lost.shape[2:]))
    place = (first + row) * levels + low
    here, there = (
        (1 - (grade - low)) * np.take(flat, place + by) + (grade - low) * np.take(flat, place + by + 1)
        for by in (0, levels)
    )
    return np.asarray(here + (at - row) * (there - here))


def harm(stakes: Stakes, slot: int, state: Ints, moved_c: Floats) -> Floats:
    """Expected share of the wood the hours after a slot would take by themselves.

    `state` is each tree's, shape (trees,); `moved_c` what the wood feels of its past [°C], shape (trees, members).
    """
    return _after(stakes, slot, state, moved_c, np.zeros_like(moved_c), np.zeros(len(state)))


def _after(stakes: Stakes, slot: int, state: Ints, moved_c: Floats, lost: Floats, softer_c: Floats) -> Floats:
    """Expected share lost after one slot in these states, shape (trees, members)."""
    tree = np.arange(len(state))
    dose, unforeseen = (one[tree, slot, state][:, None] for one in (stakes.width_c, stakes.unforeseen_c))
    keeps = stakes.tip_keeps[tree, state][:, None]
    middle, tip = (values[tree, :, slot, state] for values in (stakes.middle_c, stakes.tip_c))
    half_c = (stakes.lt50_c[:, slot] + softer_c)[:, None]
    return lost_after(lost, half_c, dose, unforeseen, middle + moved_c, tip + moved_c * keeps)


def walked(stakes: Stakes, course: Ints) -> tuple[Floats, Floats]:
    """Temperature that hurts [°C] and share lost so far along one course for all members.

    Parameters
    ----------
    course
        States, shape (trees, slots).

    Returns
    -------
    tuple
        Middle of the stem, and share lost up to each slot's end; each shape (trees, members, slots).
    """
    trees, members, slots = stakes.shape
    tissue_c, lost = np.empty(stakes.shape), np.empty((trees, members, slots + 1))
    lost[..., 0] = stakes.lost[:, None]
    moved = np.zeros((trees, members, stakes.nodes_c.shape[-1]))
    tree, before, softer = np.arange(trees), stakes.state, np.zeros(trees)
    for slot in range(slots):
        state = course[:, slot]
        moved = moved + stakes.nodes_c[tree, :, slot, before] - stakes.nodes_c[tree, :, slot, state]
        shift = (moved @ stakes.tissue[tree, slot, state][..., None])[..., 0]
        tissue_c[..., slot] = stakes.middle_c[tree, :, slot, state] + shift
        lost[..., slot + 1] = _after(stakes, slot, state, shift, lost[..., slot], softer)
        softer = softer + stakes.softens_c[tree, slot, state]
        moved, before = moved @ stakes.fades[tree, slot, state].swapaxes(-1, -2), state
    return tissue_c, lost[..., 1:]
