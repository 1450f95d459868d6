"""What is at stake in a garden to the end of its forecast, and what one course of cover states comes to under it."""

from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.wood.injury import normal_share
from rules.wood.night_losses import LOST_LEVELS, OFF_C, harms, lost_either_way

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

NEVER: Final = np.inf
SHORT: Final = np.float32
# Share of the wood that a night takes which takes any, from the error of the next day's forecast (2.2 °C) and the dose
# curve of wood in autumn: 0.7, 0.55, 0.4 told 1, 3, 5 °C above the 50 % point (computed).
TAKEN_AT_ONCE: Final = 0.5
MET_IN: Final = (0, 1, 1)  # bare, open, open: the state in which each loses its wood
LEVELS_SD: Final = np.array([-np.inf, *map(NormalDist().inv_cdf, LOST_LEVELS[1:-1]), np.inf])  # of a normal curve


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


@dataclass(frozen=True, kw_only=True, eq=False)
class GreenShoots:
    """The new shoots of trees in leaf: they freeze before the wood and grow again, so they are priced beside it.

    Parameters
    ----------
    worth
        Of each tree's shoots, 0 where none are out, shape (trees,) [trips].
    lt50_c
        Their 50 % point, same shape [°C].
    width_c, unforeseen_c
        As those of the stakes, shape (trees, slots, states) [°C].
    """

    worth: Floats
    lt50_c: Floats
    width_c: Floats
    unforeseen_c: Floats

    def frost_cost(self, middle_c: Floats, tip_c: Floats) -> Floats:
        """What each slot's hours take of the shoots with the cover left in each state all along, shapes alike [trips].

        Temperatures that hurt are of shape (trees, members, slots, states). What is dead dies no second time.
        """
        cost = np.zeros(middle_c.shape)
        green = np.flatnonzero(self.worth > 0.0)
        width_c, unforeseen_c = (one[green][:, None] for one in (self.width_c, self.unforeseen_c))
        half_c = self.lt50_c[green][:, None, None, None]
        colder, milder = harms(half_c, width_c, unforeseen_c, middle_c[green], tip_c[green])
        lost = np.zeros_like(colder[:, :, 0])
        for k in range(colder.shape[2]):
            after = lost_either_way(lost, colder[:, :, k], milder[:, :, k])
            cost[green, :, k] = self.worth[green][:, None, None] * (after - lost)
            lost = after
        return cost


def nothing_or_half(tail: Floats, lost: Floats) -> Floats:
    """A tail whose small losses are risks of a great one, shapes as `tail` and `lost` of the stakes.

    Later cold takes much of what a night leaves: so a tenth lost now would cost next to nothing in the end. But a tenth
    that is told is one chance in ten, or two, of losing most of the wood in a winter that may well spare it, and else
    nothing. So between the share already lost and TAKEN_AT_ONCE the tail runs straight.
    """
    least, most = lost[:, None], np.maximum(lost, TAKEN_AT_ONCE)[:, None]
    nothing, half = (_at_share(tail, one[:, :, None, None]) for one in (least, most))
    way = np.clip((LOST_LEVELS - least) / np.maximum(most - least, 1e-9), 0.0, 1.0)[:, None, None]
    return np.where((way > 0.0) & (way < 1.0), nothing + way * (half - nothing), tail)


def either_way(tail: Floats, lost: Floats, width_c: Floats, unforeseen_c: Floats) -> Floats:
    """A tail met by how nights come out, not by the mean of it; shapes as of the stakes.

    Half the wood told lost tonight may be most of it or little, by what the last forecast does not tell. The winter to
    come takes much of what is left either way, but a mild one does not: by the mean alone a night under an open top
    cost nothing wherever most winters take half of the wood some day. Shut, a night takes little that was foreseen:
    what a covered tree loses it loses open, so that night's error is the open cover's.
    """
    sd = (unforeseen_c / width_c).mean(axis=1)[:, MET_IN, None, None]
    begun, told = lost[:, None, None, None], LEVELS_SD * np.sqrt(1.0 + sd**2)
    milder, colder = np.maximum(normal_share(told - sd), begun), normal_share(told + sd)
    share = np.clip((LOST_LEVELS - milder) / np.maximum(colder - milder, 1e-9), 0.0, 1.0)
    met = share * _at_share(tail, colder) + (1.0 - share) * _at_share(tail, milder)
    return np.where((begun < LOST_LEVELS) & (LOST_LEVELS < 1.0), met, tail)


def _at_share(tail: Floats, share: Floats) -> Floats:
    """The tail at other shares lost, shape (trees, 1 or states, 1, shares)."""
    wide = np.broadcast_to(np.clip(share, 0.0, 1.0), (*tail.shape[:-1], share.shape[-1]))
    grade = wide * (tail.shape[-1] - 1)
    low = np.minimum(grade.astype(np.int64), tail.shape[-1] - 2)
    here, there = (np.take_along_axis(tail, low + by, axis=-1) for by in (0, 1))
    return np.asarray(here + (grade - low) * (there - here))


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
    tree = np.arange(len(state))
    dose, unforeseen = (one[tree, slot, state][:, None] for one in (stakes.width_c, stakes.unforeseen_c))
    middle, tip = (values[tree, :, slot, state] for values in (stakes.middle_c, stakes.tip_c))
    tip_c = tip + moved_c * stakes.tip_keeps[tree, state][:, None]
    alone = harms(stakes.lt50_c[:, slot][:, None], dose, unforeseen, middle + moved_c, tip_c)
    return lost_either_way(np.zeros_like(moved_c), *alone)


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
    tree, slot = np.arange(trees)[:, None], np.arange(slots)
    middle_c, tip_c = (
        np.take_along_axis(one, course[:, None, :, None], 3)[..., 0] for one in (stakes.middle_c, stakes.tip_c)
    )
    felt_c = _felt_c(stakes, course)
    dose, unforeseen, softens = (
        one[tree, slot, course] for one in (stakes.width_c, stakes.unforeseen_c, stakes.softens_c)
    )
    half_c = stakes.lt50_c + np.cumsum(softens, axis=1) - softens
    keeps = stakes.tip_keeps[tree, course]
    half_c, dose, unforeseen, keeps = (one[:, None] for one in (half_c, dose, unforeseen, keeps))
    colder, milder = harms(half_c, dose, unforeseen, middle_c + felt_c, tip_c + felt_c * keeps)
    lost = [np.repeat(stakes.lost[:, None], members, axis=1)]
    for k in range(slots):
        lost.append(lost_either_way(lost[-1], colder[..., k], milder[..., k]))
    return middle_c + felt_c, np.stack(lost[1:], axis=-1)


def _felt_c(stakes: Stakes, course: Ints) -> Floats:
    """What the wood feels along one course of what its covers held before [°C], shape (trees, members, slots)."""
    felt_c, tree, before = np.empty(stakes.shape), np.arange(len(course)), stakes.state
    moved = np.zeros((*stakes.shape[:2], stakes.nodes_c.shape[-1]))
    for slot, state in enumerate(course.T):
        moved = moved + stakes.nodes_c[tree, :, slot, before] - stakes.nodes_c[tree, :, slot, state]
        felt_c[..., slot] = (moved @ stakes.tissue[tree, slot, state][..., None])[..., 0]
        moved, before = moved @ stakes.fades[tree, slot, state].swapaxes(-1, -2), state
    return felt_c
