"""One rule for covers lived through whole winters: its wood marched as it truly is and as it is held to be."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.backtest.winters import FIRST_DAY, Garden, Truth, felt_nights
from rules.garden.species import Organ
from rules.garden.tree import Phase
from rules.plan.cover_costs import standing_cost
from rules.plan.prices import PlanPrices
from rules.plan.season.marching import SHOOTS_WIDTH_C
from rules.plan.season.ways import BARE, CLOSED, VENTED
from rules.wood.daily_temperatures import LIGHT
from rules.wood.injury import NO_FROST_C, Z_TEN_PERCENT, lost_together
from rules.wood.kinetics.day_by_day import WoodLanes
from rules.wood.night_losses import dose_width_at, harm_of
from rules.wood.season import day_length_h, hardening_share

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]

LOST_CAUSE: Final = 0.8  # share lost from which nights kill nothing worth a trip


@dataclass(frozen=True, kw_only=True, eq=False)
class Evening:
    """What a rule sees: the night, how the covers stand, and the wood as it is held to be, arrays (lanes,)."""

    night: int
    state: Ints
    wood: WoodLanes
    lost: Floats
    stripped: Flags


Decide = Callable[[Evening], Ints]


@dataclass(frozen=True, kw_only=True, eq=False)
class Lived:
    """What a rule brought about, each array (lanes,).

    `cost` [trips] in all; `lost` share of the wood; `trips` visits; `killing` nights that would have killed half the
    wood under an open cap and hardly any under a shut one, `missed` those of them with the cover open; `course` the
    states, shape (lanes, nights).
    """

    cost: Floats
    lost: Floats
    trips: Floats
    killing: Ints
    missed: Ints
    course: Ints


class _Side:
    """One garden's wood, true or held, as a rule's covers leave it."""

    def __init__(self, garden: Garden, truth: Truth | None) -> None:
        rows = truth.rows if truth else None
        self.garden, self.felt = garden, felt_nights(garden, rows)
        self.wood = WoodLanes.begun(garden.rates(rows), (garden.lanes,))
        self.lost = np.zeros(garden.lanes)
        self.lasting_c = np.zeros((garden.lanes, 3)) if truth else garden.lasting_c()
        self.sure = truth is not None
        self.tender_sd = truth.tender_sd if truth else 0.0
        self.length = hardening_share(
            day_length_h(garden.winters.first, FIRST_DAY + garden.winters.nights, garden.site.latitude_deg)
        )

    def lt50_c(self, night: int) -> Floats:
        shift = self.garden.wood_shift_c
        held = self.wood.lt50_c + shift[:, min(night, shift.shape[1] - 1)]
        return np.asarray(held + self.tender_sd * wood_sd_c(self.garden, night, held))

    def night(self, night: int, state: Ints, shift_c: Floats) -> None:
        lane = np.arange(len(state))
        dose, tip, mean = (one[lane, night, state] for one in (self.felt.dose_c, self.felt.tip_c, self.felt.mean_c))
        half = self.lt50_c(night)
        sd = 0.0 if self.sure else wood_sd_c(self.garden, night, half)
        width = np.sqrt(dose_c(self.garden, half) ** 2 + self.lasting_c[lane, state] ** 2 + sd**2)
        share = harm_of(half, width, dose + shift_c, tip + shift_c)
        self.lost = lost_together(self.lost, share)
        day = FIRST_DAY + night
        self.wood.day_passes(day, mean, dose, LIGHT[state], self.felt.ready[:, night], float(self.length[day]))


def dose_c(garden: Garden, lt50_c: Floats) -> Floats:
    """Width of the dose curve of each lane's wood at its 50 % point, shape (lanes,) [°C]."""
    by_tree = lt50_c.reshape(len(garden.rows), -1)
    return np.concatenate([dose_width_at(row, own) for row, own in zip(garden.rows, by_tree, strict=True)])


def wood_sd_c(garden: Garden, night: int, lt50_c: Floats) -> Floats:
    """One sd of the 50 % point as it is held, shape (lanes,) [°C]."""
    if garden.wood_sd_c is not None:
        return np.asarray(garden.wood_sd_c[:, night])
    by_tree = lt50_c.reshape(len(garden.rows), -1)
    return np.concatenate([row.sd_c(own) for row, own in zip(garden.rows, by_tree, strict=True)])


def lived(garden: Garden, truth: Truth, decide: Decide, prices: PlanPrices) -> Iterator[Lived | None]:
    """One rule through all winters; None after each night, and what came of it at the end."""
    lanes, nights, lane = garden.lanes, garden.winters.nights, np.arange(garden.lanes)
    true, held = _Side(truth.garden, truth), _Side(garden, None)
    tissue, fades = (garden.by_lane(np.stack([getattr(h, name) for h in garden.heat])) for name in ("tissue", "fades"))
    step, worth = garden.step(prices), garden.worth
    state, moved, stripped = np.zeros(lanes, dtype=np.int64), np.zeros(lanes), np.zeros(lanes, dtype=bool)
    cost, trips, shoots = np.zeros(lanes), np.zeros(lanes), np.zeros(lanes)
    killing, missed = np.zeros(lanes, dtype=np.int64), np.zeros(lanes, dtype=np.int64)
    course = np.empty((lanes, nights), dtype=np.int64)
    for night in range(nights):
        new = decide(Evening(night=night, state=state, wood=held.wood, lost=held.lost, stripped=stripped))
        told = true.felt.held_c[:, night]
        moved = moved + told[lane, state] - told[lane, new]
        cost += step[lane, state, new] + _standing(true, night, new, prices)
        trips += new != state
        stripped = stripped | ((state > BARE) & (new == BARE))
        kills = _kills(true, night)
        killing, missed = killing + kills, missed + (kills & (new != CLOSED))
        shoots = lost_together(shoots, _shoots(true, night, new))
        for side in (true, held):
            side.night(night, new, moved * tissue[lane, new] if side is true else np.zeros(lanes))
        moved, state = moved * fades[lane, new], new
        course[:, night] = new
        yield None
    cost += np.where(state == BARE, 0.0, step[lane, state, BARE]) + worth * true.lost + prices.shoots * shoots
    trips += state != BARE
    yield Lived(cost=cost, lost=true.lost, trips=trips, course=course, killing=killing, missed=missed)


def _standing(side: _Side, night: int, state: Ints, prices: PlanPrices) -> Floats:
    lane, felt = np.arange(len(state)), side.felt
    mean, hottest = felt.mean_c[lane, night, state], felt.hottest_c[lane, night, state]
    return standing_cost(state, mean, hottest, side.wood.leaves, side.wood.developed, prices).total


def _kills(side: _Side, night: int) -> Flags:
    half = side.lt50_c(night)
    dose, gap = side.felt.dose_c[:, night], dose_c(side.garden, half) * Z_TEN_PERCENT
    return (dose[:, VENTED] < np.minimum(half, NO_FROST_C)) & (dose[:, CLOSED] >= half + gap) & (side.lost < LOST_CAUSE)


def _shoots(side: _Side, night: int, state: Ints) -> Floats:
    lane, felt = np.arange(len(state)), side.felt
    half = side.garden.by_lane([row.organs[Organ.SHOOTS][Phase.GROWING].lt50_c for row in side.garden.rows])
    harm = harm_of(half, np.asarray(SHOOTS_WIDTH_C), felt.dose_c[lane, night, state], felt.tip_c[lane, night, state])
    return np.asarray(np.where(side.wood.green, harm, 0.0))
