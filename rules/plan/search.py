"""The search for the cheapest course of cover states: a forward beam per tree, per member and per first act.

Each member of the forecast is answered by its own best later acts, and today's act is chosen by the mean over the
members: that prices today with the better forecasts of the days to come (recourse). What will never be forecast is not
in the members: lasting doubts are in the widths, and the error of each night's last forecast comes out on either side
of it. The beam keeps the best few courses per state: the same as trying everything on 120 short horizons of one tree;
over eight days as good as a beam of 60 but for 0.03 % in the mean and 1.7 % in the worst of 60 cases (computed), where
heat stored days before outweighs what it cost.
"""

from ctypes import CDLL
from dataclasses import dataclass, fields, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.compiled.library import LIBRARY
from rules.compiled.search import MOST_BEAM, MOST_SLOTS, NODES, searched
from rules.plan.stakes import NEVER, SHORT, Stakes, tail_of
from rules.wood.injury import NO_FROST_C
from rules.wood.night_losses import OFF_C, lost_after

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

STATES: Final = 3  # bare, vented, closed
OFF_C_SHORT: Final = np.array(OFF_C, dtype=SHORT)
BEAM: Final = 6  # courses kept per tree, member, first act and state


@dataclass(frozen=True, kw_only=True, eq=False)
class Answers:
    """Each member's own best course after each first act.

    `cost` [trips], shape (trees, members, acts): without the visit of the first act. `lost`, same shape: share of the
    wood lost by the end. `course`, shape (trees, members, acts, slots): states. The acts are the states chosen at the
    slot decided on.
    """

    cost: Floats
    lost: Floats
    course: Ints


@dataclass(kw_only=True, eq=False)
class _Beam:
    """Courses under way, arrays (trees, states, rows, width, …), rows members times acts; lives inside `answers`.

    `parents` says, slot by slot, which of the courses before it each one came from.
    """

    cost: Floats
    lost: Floats
    moved_c: Floats
    softer_c: Floats
    parents: list[Ints]


def answers(stakes: Stakes, visits: Floats, prefix: Ints, beam: int = BEAM) -> Answers:
    """Each member's best course after each state chosen at the slot decided on.

    Parameters
    ----------
    stakes
        What is at stake.
    visits
        Price of a visit to each tree, shape (trees, members, slots) [trips]; that of the slot decided on is left out.
    prefix
        States already settled before that slot, shape (trees, slots before).
    beam
        Courses kept per state.
    """
    if _never_bare(stakes):
        return _with_bare(_answers(_covered(stakes), visits, prefix - 1, beam))
    return _answers(stakes, visits, prefix, beam)


def _never_bare(stakes: Stakes) -> bool:
    """Whether every tree is covered and stays so: a third of the states need not be searched then."""
    return stakes.states == STATES and bool((stakes.state > 0).all() and np.isinf(stakes.work[:, :, 1:, 0]).all())


def _covered(stakes: Stakes) -> Stakes:
    """The same stakes without the bare state."""
    return replace(
        stakes, middle_c=stakes.middle_c[..., 1:], tip_c=stakes.tip_c[..., 1:], nodes_c=stakes.nodes_c[..., 1:, :],
        fades=stakes.fades[:, :, 1:], tissue=stakes.tissue[:, :, 1:], tip_keeps=stakes.tip_keeps[:, 1:],
        width_c=stakes.width_c[..., 1:], softens_c=stakes.softens_c[..., 1:], unforeseen_c=stakes.unforeseen_c[..., 1:],
        standing_cost=stakes.standing_cost[..., 1:],
        work=stakes.work[:, :, 1:, 1:], tail=stakes.tail[:, 1:], state=stakes.state - 1,
    )  # fmt: skip


def _with_bare(found: Answers) -> Answers:
    """The same answers with the act of baring, which cannot be."""
    cost, lost = (np.pad(one, ((0, 0), (0, 0), (1, 0)), constant_values=NEVER) for one in (found.cost, found.lost))
    course = np.pad(found.course + 1, ((0, 0), (0, 0), (1, 0), (0, 0)))
    return Answers(cost=cost, lost=np.minimum(lost, 1.0), course=course)


def _answers(stakes: Stakes, visits: Floats, prefix: Ints, beam: int) -> Answers:
    slots = stakes.shape[-1]
    stakes, visits = _short(stakes), visits.astype(SHORT)
    if LIBRARY and slots <= MOST_SLOTS and beam <= MOST_BEAM and stakes.nodes_c.shape[-1] == NODES:
        return _built(LIBRARY, stakes, visits, prefix, beam)
    return _in_arrays(stakes, visits, prefix, beam)


def _built(library: CDLL, stakes: Stakes, visits: Floats, prefix: Ints, beam: int) -> Answers:
    """The search that was built, of stakes in single precision."""
    given = {field.name: getattr(stakes, field.name) for field in fields(Stakes)}
    given |= {"fades": stakes.fades.swapaxes(-1, -2), "visits": visits, "prefix": prefix, "off_c": OFF_C_SHORT}
    cost, lost, course = searched(library, (*stakes.shape, stakes.states), beam, given)
    return Answers(cost=cost, lost=lost, course=course)


def _in_arrays(stakes: Stakes, visits: Floats, prefix: Ints, beam: int) -> Answers:
    """The same where nothing was built: all trees, members and acts side by side."""
    (trees, members, slots), now = stakes.shape, prefix.shape[1]
    lead = (trees, stakes.states, members * stakes.states, 1)
    here = np.arange(stakes.states) == stakes.state[:, None]
    paths = _Beam(
        cost=np.broadcast_to(np.where(here, SHORT(0.0), SHORT(NEVER))[:, :, None, None], lead),
        lost=np.broadcast_to(stakes.lost[:, None, None, None], lead),
        moved_c=np.zeros((*lead, stakes.nodes_c.shape[-1]), dtype=SHORT),
        softer_c=np.zeros(lead, dtype=SHORT),
        parents=[],
    )
    for slot in range(slots):
        step = _prices(stakes, visits, slot, free=slot <= now)
        if slot < now:
            step = step + _only(prefix[:, slot], stakes.states)[:, None, :, None, None]
        elif slot == now:
            step = step + _only(np.arange(stakes.states), stakes.states).T[:, None]
        _branch(paths, stakes, step, slot, beam)
        _feel(paths, stakes, slot)
    return _best(paths, stakes, members)


def _short(stakes: Stakes) -> Stakes:
    """The same stakes in single precision: a plan of 100 trips is then told to 1e-5 trips, in half the time."""
    rest = {field.name: getattr(stakes, field.name) for field in fields(Stakes)}
    return Stakes(**{name: one.astype(SHORT) if name != "state" else one for name, one in rest.items()})


def _prices(stakes: Stakes, visits: Floats, slot: int, *, free: bool) -> Floats:
    """Price of going from each state to each at a slot, shape (trees, from, to, members, acts)."""
    work = stakes.work[:, slot][..., None, None]
    change = (1.0 - np.eye(stakes.states, dtype=SHORT))[..., None, None]
    return np.asarray(work + (0.0 if free else visits[:, None, None, :, slot, None] * change))


def _only(states: Ints, count: int) -> Floats:
    """0 for the state that is settled, inf for the others."""
    return np.where(np.arange(count) == states[:, None], SHORT(0.0), SHORT(NEVER))


def _branch(paths: _Beam, stakes: Stakes, step: Floats, slot: int, beam: int) -> None:
    """Every course goes on in every state; the best few per state stay."""
    trees, states, rows, width = paths.cost.shape
    wide = np.broadcast_to(step, (*step.shape[:3], rows // states, states)).reshape(*step.shape[:3], rows)
    from_all = np.empty((trees, states, rows, states, width), dtype=paths.cost.dtype)
    np.add(paths.cost.transpose(0, 2, 1, 3)[:, None], wide.transpose(0, 2, 3, 1)[..., None], out=from_all)
    offered = from_all.reshape(-1, states * width)  # per state gone to, from every state and course
    order = _cheapest(offered, min(beam, states * width))
    came = np.arange(states)[:, None] * (rows * width) + np.arange(width)  # from which state and course
    here = np.arange(trees)[:, None, None, None] * (states * rows * width) + np.arange(rows)[:, None] * width
    parent = here + np.take(came, order).reshape(trees, states, rows, -1)
    nodes = np.repeat(stakes.nodes_c[:, :, slot], states, axis=1).swapaxes(1, 2)[:, :, :, None]
    held = (nodes + paths.moved_c).reshape(-1, nodes.shape[-1])
    at = order + np.arange(0, offered.size, states * width)[:, None]
    paths.cost = np.take(offered, at).reshape(parent.shape)
    paths.lost = np.take(paths.lost, parent)
    paths.softer_c = np.take(paths.softer_c, parent)
    paths.moved_c = np.take(held, parent, axis=0)
    paths.moved_c -= nodes
    paths.parents.append(parent)


def _cheapest(cost: Floats, count: int) -> Ints:
    """Places of the `count` least costs of each row, cheapest first, of equal ones the earlier.

    The bits of floats rank as whole numbers do, of negative ones (an early start is worth something) backward. Each
    place rides in the last bits of its cost's number: sorting numbers takes an eighth of a stable sort of places.
    """
    places = cost.shape[-1]
    bits = cost.view(np.int32)
    keys = np.where(bits < 0, bits ^ 0x7FFFFFFF, bits).astype(np.int64)
    keys <<= 32
    keys |= np.arange(places)
    keys.sort(axis=-1)
    kept: Ints = keys[..., :count] & 0xFFFFFFFF
    return kept


def _feel(paths: _Beam, stakes: Stakes, slot: int) -> None:
    """Live through the hours to the next slot: injury, holding cost, and what is left of the difference."""
    trees, states, rows, width = paths.cost.shape
    tissue = stakes.tissue[:, slot][..., None]  # (trees, states, nodes, 1)
    moved = (paths.moved_c.reshape(trees, states, rows * width, -1) @ tissue).reshape(paths.cost.shape)
    middle, tip, standing_cost = (
        np.repeat(values[:, :, slot], states, axis=1).swapaxes(1, 2)[..., None]
        for values in (stakes.middle_c, stakes.tip_c, stakes.standing_cost)
    )
    half = stakes.lt50_c[:, slot][:, None, None, None]
    dose, unforeseen = (one[:, slot][..., None, None] for one in (stakes.width_c, stakes.unforeseen_c))
    keeps = stakes.tip_keeps[..., None, None]
    middle_c, tip_c = middle + moved, tip + moved * keeps
    if min((middle_c - unforeseen).min(), (tip_c - unforeseen).min()) < NO_FROST_C:  # else nothing is lost at all
        lost = lost_after(paths.lost, half + paths.softer_c, dose, unforeseen, middle_c, tip_c)
        paths.cost = paths.cost + stakes.worth[:, None, None, None] * (lost - paths.lost)
        paths.lost = lost
    paths.cost = paths.cost + standing_cost
    paths.softer_c = paths.softer_c + stakes.softens_c[:, slot][..., None, None]
    fades = stakes.fades[:, slot].swapaxes(-1, -2)
    paths.moved_c = (paths.moved_c.reshape(trees, states, rows * width, -1) @ fades).reshape(paths.moved_c.shape)


def _best(paths: _Beam, stakes: Stakes, members: int) -> Answers:
    """The cheapest course of each row, and the states it went through, read back from the last slot."""
    trees, states, rows, width = paths.cost.shape
    total = (paths.cost + tail_of(stakes, paths.softer_c, paths.lost)).transpose(0, 2, 1, 3).reshape(trees, rows, -1)
    best = total.argmin(axis=-1)
    course = np.empty((trees, rows, len(paths.parents)), dtype=np.int64)
    tree, row = np.arange(trees)[:, None], np.arange(rows)
    at = ((tree * states + best // width) * rows + row) * width + best % width
    for slot in range(len(paths.parents) - 1, -1, -1):
        kept = paths.parents[slot]
        course[..., slot] = at // (rows * kept.shape[-1]) % states
        at = kept.reshape(-1)[at]
    shape = (trees, members, states)
    cost = np.take_along_axis(total, best[..., None], -1)
    lost = np.take_along_axis(paths.lost.transpose(0, 2, 1, 3).reshape(trees, rows, -1), best[..., None], -1)
    return Answers(cost=cost.reshape(shape), lost=lost.reshape(shape), course=course.reshape(*shape, -1))
