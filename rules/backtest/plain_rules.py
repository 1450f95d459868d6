"""Rules for covers to be compared with our plan: the calendar, one threshold, a way tuned in hindsight, as taught."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import product
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.backtest.living import Decide, Evening, Ints
from rules.backtest.our_plan import told_c
from rules.backtest.winters import FIRST_DAY, LAST_DAY, FeltNights, Garden, Truth, felt_nights
from rules.garden.tree import Phase
from rules.plan.prices import PlanPrices
from rules.plan.season.forecast_errors import LEADS
from rules.plan.season.marching import TreeTerms
from rules.plan.season.ways import AT_ONCE, BARE, CLOSED, TAUGHT, VENTED, Way, WayLanes, tended, way_gone
from rules.plan.season.ways import Evening as Told
from rules.plan.season.whole_courses import Courses, best_courses
from rules.wood.season import day_of_season

Floats = npt.NDArray[np.float64]

NOVEMBER: Final = day_of_season((11, 1)) - FIRST_DAY
APRIL: Final = day_of_season((4, 30)) - FIRST_DAY
THRESHOLDS_C: Final = tuple(np.arange(-16.0, 1.0, 4.0).tolist())  # tried for the best one in hindsight
TUNED: Final = tuple(
    Way(wraps_at_c=wraps, opens_first=shuts != AT_ONCE, shuts_at_c=shuts)
    for wraps, shuts in product((-1.0, 1.0, 3.0, 5.0, 8.0), (AT_ONCE, 2.0, 4.5))
)  # wrap and shut margins that are tried for the best in hindsight


def never(seen: Evening) -> Ints:
    """No cover at all."""
    return np.zeros_like(seen.state)


def by_calendar(cover_night: int = NOVEMBER, strip_night: int = APRIL) -> Decide:
    """Wrapped and shut on one night, stripped on another."""
    return lambda seen: np.full_like(seen.state, CLOSED if cover_night <= seen.night < strip_night else BARE)


def by_threshold(garden: Garden, truth: Truth, threshold_c: float) -> Decide:
    """Wrapped by the first night told under a threshold, shut for each such night, open above it, off on 30 April."""
    lows = garden.winters.min_c[:, FIRST_DAY + 1 : FIRST_DAY + 1 + garden.winters.nights] + truth.error_c[:, :, 0]
    told = np.tile(lows, (len(garden.trees), 1))

    def decide(seen: Evening) -> Ints:
        cold = told[:, seen.night] < threshold_c
        covered = np.where(cold, CLOSED, np.where(seen.state > BARE, VENTED, BARE))
        return np.where(seen.night >= APRIL, BARE, covered)

    return decide


class ByWay:
    """One way of tending, by forecasts and by the wood as it is held to be."""

    def __init__(self, garden: Garden, truth: Truth, way: Way) -> None:
        self.garden, self.ways = garden, WayLanes.of([way] * garden.lanes)
        self.felt = felt_nights(garden)
        self.two, self.four, self.all = _told_nights(garden, truth, self.felt)
        self.bears = garden.by_lane([row.wood_hardiness(Phase.WAKING).lt10_c for row in garden.rows])
        self.evergreen = garden.by_lane([row.kinetics.evergreen for row in garden.rows]) > 0

    def decide(self) -> Decide:
        """Itself, ready to be played."""
        return self

    def __call__(self, seen: Evening) -> Ints:
        night, shift = seen.night, self.garden.wood_shift_c
        developed = way_gone(seen.wood.developed, self.evergreen, FIRST_DAY + night)
        clear_c = np.where(self.ways.opens_once, self.all[:, night, VENTED], self.four[:, night, VENTED])
        return tended(self.ways, Told(
            day=FIRST_DAY + night, state=seen.state, wraps_c=self.four[:, night, BARE],
            shuts_c=self.two[:, night, VENTED], opens_c=clear_c,
            strips_c=self.all[:, night, BARE] - self.bears, mild_c=self.felt.mean_c[:, night, BARE],
            lt50_c=seen.wood.lt50_c + shift[:, min(night, shift.shape[1] - 1)], developed=developed, bears_c=0.0,
            stripped=seen.stripped, can_wrap=True, can_shut=True,
        ))  # fmt: skip


def _told_nights(garden: Garden, truth: Truth, felt: FeltNights) -> tuple[Floats, Floats, Floats]:
    """The least each state would feel of two, four and all nights told, each (lanes, nights, states) [°C]."""
    winters, nights = garden.winters, garden.winters.nights
    best_c, _ = told_c(garden, truth)
    came = np.stack([winters.min_c[:, FIRST_DAY + 1 + k : FIRST_DAY + 1 + k + nights] for k in range(LEADS)], axis=-1)
    errors = np.tile(best_c - came, (len(garden.trees), 1, 1))
    padded = np.pad(felt.dose_c, ((0, 0), (0, LEADS), (0, 0)), mode="edge")
    damping = garden.damping()[:, None]
    told = np.stack([padded[:, k : k + nights] + errors[..., k, None] * damping for k in range(LEADS)])
    two, four, all_ = (told[:n].min(axis=0) for n in (2, 4, LEADS))
    return two, four, all_


def as_taught(garden: Garden, truth: Truth) -> Decide:
    """The open top while hardening, shut before each frost, open in warm spells, off in June."""
    return ByWay(garden, truth, replace(TAUGHT, strips_from=min(TAUGHT.strips_from, LAST_DAY - 1)))


def weather_known(garden: Garden, prices: PlanPrices) -> Decide:
    """The best whole course by one who knows the weather, but site, cover and wood no better than the plan does."""
    rows: Sequence[Ints] = [_known_rows(garden, i, prices) for i in range(len(garden.trees))]
    flat = np.concatenate(rows)
    courses = Courses(**dict(zip(("wrap", "shut", "opened", "reopened", "strip"), flat.T, strict=True)))
    return lambda seen: courses.states(FIRST_DAY + seen.night)


def _known_rows(garden: Garden, i: int, prices: PlanPrices) -> Ints:
    lane, cover = i * len(garden.winters.years), garden.covers[i]
    lasting = garden.lasting_c()[lane].tolist()
    terms = TreeTerms(
        row=garden.rows[i], worth=garden.trees[i].worth_trips, lasting_c=(lasting[0], lasting[1], lasting[2]),
        step=garden.step(prices)[lane], minutes=(cover.minutes_to_wrap, cover.minutes_to_close),
        free_minutes=(1440.0,) * 7, weekday=0,
    )  # fmt: skip
    return best_courses(garden.felt(i), terms, prices, FIRST_DAY, LAST_DAY + 1).rows
