"""Covers tended in the grower's own way: what that way does on the evenings ahead, followed without argument."""

from collections.abc import Mapping
from dataclasses import replace
from statistics import NormalDist
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.tree import Phase, Tending
from rules.plan.garden_stakes import AtStake
from rules.plan.season.ways import BARE, EARLY, TAUGHT, VENTED, Evening, Way, WayLanes, tended
from rules.plan.situation import TreeSituation
from rules.plan.slots import DayPart
from rules.plan.stakes import Stakes
from rules.wood.hardiness import tree_row
from rules.wood.season import season_place

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

WAYS: Final[dict[Tending, Way]] = {Tending.EARLY: EARLY, Tending.AS_TAUGHT: TAUGHT}
LEAST_GAIN_C: Final = 0.3  # by which a shut cover must keep the wood warmer to be asked for; assumed, no source
LAST_ERRORS: Final = np.array([NormalDist().inv_cdf((i + 0.5) / 9) for i in range(9)])  # in sd, each as likely
TAKEN_ALONG_SLOTS: Final = 8  # four days: covers due within them come off in one visit; assumed
COLD_TENTH: Final = 0.1  # of the members colder than what a grower uncovers before; assumed, no source
NOT_THIS_WAY: Final = 1e3  # trips a slot in a state the way does not ask for costs in the search: more than any tree


def own_way(one: TreeSituation) -> Way | None:
    """The way a tree's grower chose; None where the plan is to choose."""
    return None if one.tree.tending is None else WAYS.get(one.tree.tending)


def steered(at: AtStake, latitude_deg: float) -> Stakes:
    """The stakes with every state but that of the grower's own way made too dear to choose."""
    stakes, ways = at.stakes, [own_way(one) for one in at.tended]
    courses = {i: course_of(at, i, way, latitude_deg) for i, way in enumerate(ways) if way is not None}
    if not courses:
        return stakes
    cost = np.array(stakes.standing_cost)
    for i, course in _taken_along(at, courses).items():
        cost[i] += NOT_THIS_WAY * (np.arange(stakes.states) != course[:, None])
    return replace(stakes, standing_cost=cost)


def _taken_along(at: AtStake, courses: Mapping[int, Ints]) -> dict[int, Ints]:
    """The courses, with covers due within days taken off along with the first, where no night told is too cold."""
    state = at.stakes.state
    off = {i: int(np.argmax(one == BARE)) for i, one in courses.items() if state[i] > BARE and (one == BARE).any()}
    along = dict(courses)
    for i, due in off.items():
        first = min(k for k in off.values() if due - TAKEN_ALONG_SLOTS <= k <= due)
        bears = _coldest_bare_c(at, i)[first:].min() > _bears_c(at.tended[i])
        if bears and np.isfinite(at.stakes.work[i, first, state[i], BARE]):
            along[i] = np.where(np.arange(len(courses[i])) >= first, BARE, courses[i])
    return along


def course_of(at: AtStake, i: int, way: Way, latitude_deg: float) -> Ints:
    """The states one tree's way asks for at each slot, shape (slots,): decided on evenings, kept through mornings."""
    evenings = [k for k, slot in enumerate(at.slots) if slot.part is DayPart.EVENING]
    course = np.empty(len(at.slots), dtype=np.int64)
    state, stripped = int(at.stakes.state[i]), False
    for k in range(len(at.slots)):
        if k in evenings:
            after = _evening(at, i, way, state, evenings[evenings.index(k) :], latitude_deg, stripped=stripped)
            able = bool(np.isfinite(at.stakes.work[i, k, state, after]))
            stripped = stripped or (able and after == 0 and state > 0)
            state = after if able else state
        course[k] = state
    return course


def _evening(
    at: AtStake, i: int, way: Way, state: int, ahead: list[int], latitude_deg: float, *, stripped: bool
) -> int:
    one, k = at.tended[i], ahead[0]
    felt = at.stakes.middle_c[i].mean(axis=0)[ahead]  # (evenings, states)
    softer = at.wood[i].softer_c[k, state]
    bare_c, open_c, shut_c = felt[:4].min(axis=0)
    clear_c = felt[:, VENTED].min() if way.opens_once else open_c
    told = Evening(
        day=season_place(at.slots[k].day, latitude_deg).day, state=np.array([state]),
        wraps_c=_against(bare_c, bare_c, shut_c), shuts_c=_against(felt[:2, VENTED].min(), open_c, shut_c),
        opens_c=clear_c[None], strips_c=_coldest_bare_c(at, i)[ahead].min()[None],
        mild_c=np.array([at.mild_c[i][k]]), lt50_c=np.array([at.stakes.lt50_c[i, k] + softer]),
        developed=at.wood[i].developed[k, state][None], bears_c=_bears_c(one), stripped=np.array([stripped]),
        can_wrap=True, can_shut=True,
    )  # fmt: skip
    return int(tended(WayLanes.of([way]), told)[0])


def _against(told_c: np.float64, as_it_is_c: np.float64, shut_c: np.float64) -> Floats:
    """The cold to shut a cover against; none where it keeps the wood no warmer, as film alone on clear nights."""
    return np.array([told_c if shut_c > as_it_is_c + LEAST_GAIN_C else np.inf])


def _coldest_bare_c(at: AtStake, i: int) -> Floats:
    """How cold bare wood may feel in each slot, one time in ten colder: nobody strips before such a frost.

    With the error of the last forecast, which members have no part in: of tonight it is all there is to doubt.
    """
    felt_c = at.stakes.middle_c[i, :, :, BARE] + LAST_ERRORS[:, None, None] * at.stakes.unforeseen_c[i, :, BARE]
    coldest: Floats = np.quantile(felt_c, COLD_TENTH, axis=(0, 1))
    return coldest


def _bears_c(one: TreeSituation) -> float:
    return tree_row(one.tree, one.hardiness.day).wood_hardiness(Phase.WAKING).lt10_c
