"""Seasons lived through by ways of tending: the wood marched along each, its losses and the trips counted."""

from collections.abc import Callable
from dataclasses import dataclass, fields
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.species import Organ, SpeciesRow
from rules.garden.tree import Phase
from rules.plan.cover_costs import standing_cost
from rules.plan.prices import PlanPrices
from rules.plan.season.felt_winters import FeltWinters
from rules.plan.season.forecast_errors import LEADS
from rules.plan.season.ways import BARE, VENTED, Evening, Ints, WayLanes, tended, way_gone
from rules.wood.daily_temperatures import LIGHT
from rules.wood.injury import NO_FROST_C, lost_together
from rules.wood.kinetics.day_by_day import WoodLanes
from rules.wood.night_losses import dose_width_at, harm_of

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

SEASON_OVER: Final = 297  # day of the season on which covers are off at the latest, 1 July; assumed
DAYS_A_WEEK: Final = 7
# Nights that are looked at before a cover is put on, shut or opened, at least; whoever can come only on some days looks
# at all nights till the next of them. Assumed.
WRAP_NIGHTS, SHUT_NIGHTS, OPEN_NIGHTS = 4, 2, 4
SHOOTS_WIDTH_C: Final = 1.0  # of the dose curve of green shoots with its doubt; assumed


@dataclass(frozen=True, kw_only=True, eq=False)
class TreeTerms:
    """What a tree's seasons are priced by.

    Parameters
    ----------
    row
        What its wood and shoots can take.
    worth
        Of its wood [trips].
    lasting_c
        One sd of what hurts from site and cover by state, shape (states,) [°C].
    step
        Price of each change of state with its visit, shape (from, to) [trips].
    minutes
        To wrap, and to open or shut [min].
    free_minutes
        Of each weekday from Monday on: time there is to work [min].
    weekday
        Of the season's first day.
    mould
        Whether the grower saw mould under this cover.
    """

    row: SpeciesRow
    worth: float
    lasting_c: tuple[float, float, float]
    step: Floats
    minutes: tuple[float, float]
    free_minutes: tuple[float, ...]
    weekday: int
    mould: bool = False

    def can(self, day: int) -> tuple[bool, bool]:
        """Whether there is time on this day of the season to wrap, and to shut."""
        free = self.free_minutes[(self.weekday + day) % 7]
        return free >= self.minutes[0], free >= self.minutes[1]

    @property
    def is_seldom(self) -> bool:
        """Whether there are days of the week on which nobody can wrap."""
        return min(self.free_minutes) < self.minutes[0]

    def until_next(self, day: int) -> tuple[int, int]:
        """How many nights from this day's on pass before there is time again to wrap, and to shut; a week at most."""
        ahead = [self.can(day + later) for later in range(1, DAYS_A_WEEK + 1)]
        wrap, shut = (
            next((i + 1 for i, able in enumerate(ahead) if able[job]), DAYS_A_WEEK) for job in range(len(self.minutes))
        )
        return wrap, shut

    def width_c(self, state: Ints, lt50_c: Floats) -> Floats:
        """Width of the dose curve with all lasting doubts in [°C]."""
        dose = dose_width_at(self.row, lt50_c)
        return np.asarray(np.sqrt(np.take(np.square(self.lasting_c), state) + dose**2 + self.row.sd_c(lt50_c) ** 2))


@dataclass(kw_only=True, eq=False)
class Lanes:
    """Trees under way: one lane a winter, a way and a beginning. Arrays (lanes,)."""

    winter: Ints
    state: Ints
    wood: WoodLanes
    stripped: Flags
    lost: Floats
    shoots_lost: Floats
    cost: Floats
    trips: Floats

    @classmethod
    def beginning(cls, winter: Ints, state: Ints, wood: WoodLanes) -> "Lanes":
        """Lanes of which nothing is lost yet and nothing spent."""
        nothing = np.zeros(len(winter))
        return cls(
            winter=winter, state=state, wood=wood, stripped=np.zeros(len(winter), dtype=bool), lost=nothing,
            shoots_lost=nothing, cost=nothing, trips=nothing,
        )  # fmt: skip

    def joined(self, others: "Lanes") -> "Lanes":
        """These and others behind them."""
        parts = {
            field.name: np.concatenate([getattr(self, field.name), getattr(others, field.name)])
            for field in fields(Lanes) if field.name != "wood"
        }  # fmt: skip
        return Lanes(wood=self.wood.joined(others.wood), **parts)

    def taken(self, at: Ints) -> "Lanes":
        """Some of these lanes."""
        parts = {field.name: getattr(self, field.name)[at] for field in fields(Lanes) if field.name != "wood"}
        return Lanes(wood=self.wood.taken(at), **parts)


Decide = Callable[[int, Lanes], Ints]


def march(lanes: Lanes, felt: FeltWinters, tree: TreeTerms, prices: PlanPrices, decide: Decide, days: range) -> Lanes:
    """Lanes led through some days of their seasons, a decision each evening."""
    for day in days:
        _day(lanes, decide(day, lanes), day, felt, tree, prices)
    return lanes


def by_ways(ways: WayLanes, felt: FeltWinters, tree: TreeTerms) -> Decide:
    """The decision of lanes that each follow their way."""
    swollen = tree.row.wood_hardiness(Phase.WAKING)

    def decide(day: int, lanes: Lanes) -> Ints:
        (wrap, shut), (next_wrap, next_shut) = tree.can(day), tree.until_next(day)

        def least(nights: int, state: int) -> Floats:
            return np.asarray(felt.told_c[nights][:, day, state][lanes.winter])

        clear_c = np.where(ways.opens_once, least(LEADS, VENTED), least(max(OPEN_NIGHTS, next_shut), VENTED))
        return tended(ways, Evening(
            day=day, state=lanes.state, wraps_c=least(max(WRAP_NIGHTS, next_wrap), BARE),
            shuts_c=least(max(SHUT_NIGHTS, next_shut), VENTED), opens_c=clear_c,
            strips_c=least(LEADS, BARE), mild_c=felt.mean_c[:, day, BARE][lanes.winter],
            lt50_c=lanes.wood.lt50_c, developed=way_gone(lanes.wood.developed, tree.row.kinetics.evergreen, day),
            bears_c=swollen.lt10_c, stripped=lanes.stripped, can_wrap=wrap, can_shut=shut,
        ))  # fmt: skip

    return decide


def _day(lanes: Lanes, new: Ints, day: int, felt: FeltWinters, tree: TreeTerms, prices: PlanPrices) -> None:
    """One evening's change and what it costs, the night's harm, and the day that moves the wood."""
    moved = new != lanes.state
    lanes.cost = lanes.cost + tree.step[lanes.state, new]
    lanes.trips = lanes.trips + moved
    lanes.stripped = lanes.stripped | (moved & (new == BARE))
    lanes.state = new
    of_night = (felt.dose_c, felt.tip_c, felt.mean_c, felt.hottest_c)
    dose, tip, mean, hottest = (one[lanes.winter, day, new] for one in of_night)
    _night(lanes, dose, tip, tree)
    wood = lanes.wood
    held = standing_cost(new, mean, hottest, wood.leaves, wood.developed, prices, mould=tree.mould)
    lanes.cost = lanes.cost + held.total
    lanes.wood.day_passes(day, mean, dose, LIGHT[new], felt.ready[lanes.winter, day], float(felt.length[day]))


def _night(lanes: Lanes, dose: Floats, tip: Floats, tree: TreeTerms) -> None:
    frozen = np.flatnonzero(np.minimum(dose, tip) < NO_FROST_C)  # the others lose nothing
    if not len(frozen):
        return
    wood_c, dose, tip = lanes.wood.lt50_c[frozen], dose[frozen], tip[frozen]
    share = harm_of(wood_c, tree.width_c(lanes.state[frozen], wood_c), dose, tip)
    lanes.lost = _and(lanes.lost, frozen, share)
    green = lanes.wood.green[frozen]
    if green.any():
        half_c = tree.row.organs[Organ.SHOOTS][Phase.GROWING].lt50_c
        shoots = np.where(green, harm_of(np.asarray(half_c), np.asarray(SHOOTS_WIDTH_C), dose, tip), 0.0)
        lanes.shoots_lost = _and(lanes.shoots_lost, frozen, shoots)


def _and(lost: Floats, at: Ints, share: Floats) -> Floats:
    after = lost.copy()
    after[at] = lost_together(lost[at], share)
    return after


def taken_off(lanes: Lanes, tree: TreeTerms) -> Floats:
    """What it costs in the end to take off what is still on, shape (lanes,) [trips]."""
    return np.asarray(np.where(lanes.state > BARE, tree.step[lanes.state, BARE], 0.0))
