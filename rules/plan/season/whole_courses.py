"""Whole courses of one season: when to wrap, how, when to shut, one time open, when to strip; the best of a winter.

The wood is marched along each course, so nothing of it is rounded. Coarse days first, then finer ones round the best.
"""

from dataclasses import dataclass
from itertools import product
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.plan.prices import PlanPrices
from rules.plan.season.felt_winters import FeltWinters
from rules.plan.season.marching import Decide, Lanes, TreeTerms, march, taken_off
from rules.plan.season.table import bare_wood
from rules.plan.season.ways import BARE, CLOSED, VENTED

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

NO_DAY: Final = 999
WRAPS: Final = tuple(range(20, 150, 8))  # 27 September to early February
OPEN_FOR: Final = (0, 8, 20, 45)  # days from the wrap to the shutting
STRIPS: Final = tuple(range(165, 271, 10))
NUDGES: Final = (-5, -2, -1, 1, 2, 5)
WINDOWS: Final = tuple(product((60, 110, 150, 180, 195, 210, 225), (7, 21, 45)))  # first day open, for how long


@dataclass(frozen=True, kw_only=True, eq=False)
class Courses:
    """Days of the season of each course, arrays (courses,); a bare tree wraps on NO_DAY.

    Open from `wrap` to `shut` and from `opened` to `reopened`, shut otherwise, off from `strip`.
    """

    wrap: Ints
    shut: Ints
    opened: Ints
    reopened: Ints
    strip: Ints

    def states(self, day: int) -> Ints:
        """The states from the evening of one day on, shape (courses,)."""
        on = (day >= self.wrap) & (day < self.strip)
        open_ = (day < self.shut) | ((day >= self.opened) & (day < self.reopened))
        return np.where(on, np.where(open_, VENTED, CLOSED), BARE)


def coarse() -> Ints:
    """Rows of wrap, shut, opened, reopened, strip: some five hundred courses and that of never covering."""
    rows = [(w, w + o, NO_DAY, NO_DAY, s) for w, o, s in product(WRAPS, OPEN_FOR, STRIPS)]
    return np.array([(NO_DAY, NO_DAY, NO_DAY, NO_DAY, NO_DAY), *rows])


@dataclass(frozen=True, kw_only=True, eq=False)
class BestCourses:
    """The best course of each winter: its rows, cost [trips], share lost and trips, arrays (winters, ...)."""

    rows: Ints
    cost: Floats
    lost: Floats
    trips: Floats


def best_courses(felt: FeltWinters, tree: TreeTerms, prices: PlanPrices, first: int, last: int) -> BestCourses:
    """The best course of each winter between two days of the season, for one who knows its weather."""
    winters = felt.dose_c.shape[0]
    rows = np.repeat(coarse()[:, None], winters, axis=1)
    best = _best_of(rows, felt, tree, prices, first, last)
    while True:
        finer = _best_of(_around(best.rows), felt, tree, prices, first, last)
        if np.allclose(finer.cost, best.cost, atol=1e-9):
            return best
        best = finer


def _best_of(rows: Ints, felt: FeltWinters, tree: TreeTerms, prices: PlanPrices, first: int, last: int) -> BestCourses:
    """Of some courses a winter, rows of shape (courses, winters, 5)."""
    courses, winters = rows.shape[:2]
    flat = Courses(**dict(zip(("wrap", "shut", "opened", "reopened", "strip"), rows.reshape(-1, 5).T, strict=True)))
    winter = np.tile(np.arange(winters), courses)
    wood = bare_wood(felt, tree, first, winter, np.zeros(len(winter)))
    lanes = Lanes.beginning(winter, np.zeros(len(winter), dtype=np.int64), wood)

    def decide(day: int, lanes: Lanes) -> Ints:  # noqa: ARG001 - a decision's shape
        return flat.states(day)

    follow: Decide = decide
    lived = march(lanes, felt, tree, prices, follow, range(first, last))
    spent = lived.cost + taken_off(lived, tree) + prices.shoots * lived.shoots_lost + tree.worth * lived.lost
    cost = spent.reshape(courses, winters)
    pick = cost.argmin(axis=0)
    own = np.arange(winters)
    trips = lived.trips + (lived.state > BARE)
    return BestCourses(
        rows=rows[pick, own], cost=cost[pick, own], lost=lived.lost.reshape(courses, winters)[pick, own],
        trips=trips.reshape(courses, winters)[pick, own],
    )  # fmt: skip


def _around(best: Ints) -> Ints:
    """The best courses and those a few days off in one or two of their turns, shape (courses, winters, 5)."""
    covered = (best[:, 0] < NO_DAY)[:, None]
    found = [best]
    for nudge in NUDGES:
        for turns in ((0,), (1,), (4,), (0, 1), (2,), (3,), (2, 3)):
            moved = best.copy()
            moved[:, list(turns)] += nudge
            found.append(np.where(covered, moved, best))
    for opened, days in (*WINDOWS, (NO_DAY, 0)):
        moved = best.copy()
        moved[:, 2], moved[:, 3] = opened, opened + days
        found.append(np.where(covered, moved, best))
    shut = best.copy()
    shut[:, 1] = shut[:, 0]
    return np.stack([*found, np.where(covered, shut, best)])
