"""What each state of a cover is worth from any day of a season on: past winters lived through, once a season.

From every few days, in each state, with wood harder or softer than a bare tree's, each way of tending is marched
through each past winter by its forecasts; the best way is the one that costs least in the mean of the winters. So time
beyond a forecast is priced as it will be met: by rules that hear forecasts, not by each winter's best in hindsight.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.cover import STATES
from rules.plan.prices import PlanPrices
from rules.plan.season.felt_winters import FeltWinters
from rules.plan.season.marching import SEASON_OVER, Lanes, TreeTerms, by_ways, march, taken_off
from rules.plan.season.ways import BARE, LAST_WRAP, Way, WayLanes, ways_from
from rules.wood.injury import NO_FROST_C, lost_together
from rules.wood.kinetics.day_by_day import LaneRates, WoodLanes
from rules.wood.kinetics.hardening import _Wood
from rules.wood.night_losses import LOST_LEVELS, OFF_C
from rules.wood.season_drivers import hardening_rates

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

EVERY_DAYS: Final = 6  # between two beginnings; straight between them
NO_GAIN: Final = 1e-6  # trips: the same way is not better than itself
AS_BARE: Final = OFF_C.index(0.0)


@dataclass(frozen=True, kw_only=True, eq=False)
class SeasonTable:
    """Costs from an evening on, by day, state, how far the wood is off a bare tree's, and the share lost until then.

    Parameters
    ----------
    starts
        Days of the season, shape (starts,).
    cost
        Shape (starts, states, len(OFF_C), LOST_LEVELS) [trips].
    never
        Of those of a bare tree, what never covering it costs, shape (starts, len(OFF_C), LOST_LEVELS) [trips].
    bare_lt50_c
        Usual 50 % point of a bare tree's wood each day of the season, shape (days,) [°C].
    """

    starts: Ints
    cost: Floats
    never: Floats
    bare_lt50_c: Floats

    def on(self, day: int) -> Floats:
        """Costs from the evening of one day of the season on, shape (states, len(OFF_C), LOST_LEVELS) [trips]."""
        return self._on(self.cost, day)

    def wraps(self, day: int) -> bool:
        """Whether any way of covering a bare tree pays from an evening on, in the mean of past winters."""
        never, best = self._on(self.never, day), self.on(day)[BARE]
        return bool(never[AS_BARE, 0] > best[AS_BARE, 0] + NO_GAIN)

    def _on(self, values: Floats, day: int) -> Floats:
        at = np.interp(day, self.starts, np.arange(len(self.starts)))
        low = min(int(at), len(self.starts) - 2)
        share = at - low
        return np.asarray((1 - share) * values[low] + share * values[low + 1])

    def off_c(self, day: int, lt50_c: Floats) -> Floats:
        """How far wood is off a bare tree's at the end of a day [°C]."""
        return np.asarray(lt50_c - self.bare_lt50_c[min(day, len(self.bare_lt50_c) - 1)])


def kinetics_of(tree: TreeTerms) -> LaneRates:
    """Rates that all lanes of one tree share."""
    rates, k = hardening_rates([tree.row]), tree.row.kinetics
    return LaneRates(rates=rates, frost_gain=k.frost_gain, evergreen=k.evergreen)


def season_table(felt: FeltWinters, tree: TreeTerms, prices: PlanPrices) -> SeasonTable:
    """The table of one tree under its cover at its place; a second or two of a core.

    All beginnings are marched together: lanes join on their day.
    """
    starts = np.array([*range(0, SEASON_OVER, EVERY_DAYS), SEASON_OVER])
    each = [(state, way) for state in range(len(STATES)) for way in ways_from(state, seldom=tree.is_seldom)]
    states = np.array([state for state, _ in each])
    spent, lost = _from_all(starts.tolist(), lanes_of(each, felt), felt, tree, prices)
    mean = _mean(spent, lost, tree.worth, len(starts) * len(each)).reshape(len(starts), len(each), len(OFF_C), -1)
    cost = np.stack([mean[:, states == state].min(axis=1) for state in range(len(STATES))], axis=1)
    never = mean[:, each.index((BARE, Way()))]
    return SeasonTable(starts=starts, cost=cost, never=never, bare_lt50_c=felt.bare.hc_c[..., 0].mean(axis=1))


def _from_all(
    starts: Sequence[int], block: "Block", felt: FeltWinters, tree: TreeTerms, prices: PlanPrices
) -> tuple[Floats, Floats]:
    """What a block of lanes spends [trips] and loses from each beginning to the end of the season, in that order.

    Days that change nothing are left out: of bare trees that are no longer wrapped, after their last frost. Of ways to
    wrap that come too late only never wrapping is lived through; the others are the same, and count as never chosen.
    """
    spent, lost = np.full(len(starts) * len(block.winter), np.inf), np.zeros(len(starts) * len(block.winter))
    too_late = (block.state == BARE) & np.isfinite(block.ways.wraps_at_c)
    last_frost = _last_frosts(felt)
    lanes, ways, place = block.begun(felt, tree, starts[0]), block.ways, np.arange(len(block.winter))
    for i, start in enumerate(starts):
        if i:
            new = np.flatnonzero(~too_late | (start < LAST_WRAP))
            lanes = lanes.joined(block.begun(felt, tree, start).taken(new))
            ways, place = ways.joined(block.ways.taken(new)), np.append(place, i * len(block.winter) + new)
        going = (lanes.state > BARE) | (start < np.maximum(LAST_WRAP, last_frost[lanes.winter]))
        over, on = np.flatnonzero(~going), np.flatnonzero(going)
        spent[place[over]], lost[place[over]] = spent_of(lanes.taken(over), tree, prices), lanes.lost[over]
        lanes, ways, place = lanes.taken(on), ways.taken(on), place[on]
        until = min(starts[i + 1] if i + 1 < len(starts) else SEASON_OVER, felt.days)
        march(lanes, felt, tree, prices, by_ways(ways, felt, tree), range(start, until))
    spent[place], lost[place] = spent_of(lanes, tree, prices), lanes.lost
    return spent, lost


def _last_frosts(felt: FeltWinters) -> Ints:
    """Day of the season after each winter's last frost on a bare tree, shape (winters,)."""
    frost = np.minimum(felt.dose_c, felt.tip_c)[..., BARE] < NO_FROST_C
    return np.asarray(felt.days - np.argmax(frost[:, ::-1], axis=1))


@dataclass(frozen=True, kw_only=True, eq=False)
class Block:
    """Ways in every past winter with wood off a bare tree's by each of OFF_C: lanes ways, off, winters."""

    ways: WayLanes
    winter: Ints
    state: Ints
    off_c: Floats

    def begun(self, felt: FeltWinters, tree: TreeTerms, day: int) -> Lanes:
        """The lanes on the evening of one day."""
        return Lanes.beginning(self.winter, self.state, bare_wood(felt, tree, day, self.winter, self.off_c))


def lanes_of(each: Sequence[tuple[int, Way]], felt: FeltWinters) -> Block:
    """The lanes of some (state, way)."""
    winters = felt.dose_c.shape[0]
    wide = len(OFF_C) * winters
    return Block(
        ways=WayLanes.of(way for _, way in each for _ in range(wide)),
        winter=np.tile(np.arange(winters), len(each) * len(OFF_C)),
        state=np.repeat([state for state, _ in each], wide),
        off_c=np.tile(np.repeat(OFF_C, winters), len(each)),
    )


def bare_wood(felt: FeltWinters, tree: TreeTerms, day: int, winter: Ints, off_c: Floats) -> WoodLanes:
    """A bare tree's wood on the evening of a day in these winters, softer or harder by so much, shape (lanes,)."""
    course, kinetics = felt.bare, kinetics_of(tree)
    rates = kinetics.rates
    hc = np.clip(course.hc_c[day, winter, 0] + off_c, rates.hmax_c, rates.hmin_c)
    wood = _Wood(
        hc=hc, hardest=np.minimum(course.hardest_c[day, winter, 0], hc), base=course.base_c[day, winter, 0].copy(),
        developed=course.developed[day, winter, 0].copy(), woke=course.woke[day, winter, 0].copy(),
        span=np.broadcast_to(np.subtract(rates.hmin_c, rates.hmax_c), hc.shape),
    )  # fmt: skip
    cooled = np.full(hc.shape, day > 0) & (course.hc_c[day, winter, 0] < course.hc_c[0, winter, 0] - 1e-9)
    return WoodLanes(kinetics=kinetics, wood=wood, leaves=felt.leaves[day, winter].copy(), cooled=cooled)


def mean_costs(lanes: Lanes, tree: TreeTerms, prices: PlanPrices, ways: int) -> Floats:
    """Mean over the winters by way, off and share lost before, shape (ways, len(OFF_C), LOST_LEVELS) [trips]."""
    return _mean(spent_of(lanes, tree, prices), lanes.lost, tree.worth, ways)


def spent_of(lanes: Lanes, tree: TreeTerms, prices: PlanPrices) -> Floats:
    """What lanes cost besides their wood, with taking off what is still on, shape (lanes,) [trips]."""
    return np.asarray(lanes.cost + taken_off(lanes, tree) + prices.shoots * lanes.shoots_lost)


def _mean(spent: Floats, lost: Floats, worth: float, ways: int) -> Floats:
    more = lost_together(LOST_LEVELS, lost[:, None]) - LOST_LEVELS
    total = spent[:, None] + worth * more
    return np.asarray(total.reshape(ways, len(OFF_C), -1, len(LOST_LEVELS)).mean(axis=2))
