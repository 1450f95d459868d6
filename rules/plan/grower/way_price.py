"""What the grower's own way costs more than the fewest trips: both lived through the same past winters."""

from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np

from rules.garden.cover import Cover
from rules.garden.tree import Site, Standing, Tending, Tree
from rules.heat.properties import COVER_SD_C
from rules.plan.beyond_forecast import for_a_season, seasons_known, tree_terms
from rules.plan.grower.free_hours import FreeHours
from rules.plan.grower.own_way import WAYS
from rules.plan.prices import ASSUMED, PlanPrices
from rules.plan.season.felt_winters import FeltWinters, felt_winters, heat_of
from rules.plan.season.marching import SEASON_OVER, TreeTerms, by_ways, march
from rules.plan.season.table import lanes_of, mean_costs
from rules.plan.season.ways import BARE, Way, ways_from
from rules.site.microclimate import PRIORS
from rules.weather.daily_minima import DailyMinima
from rules.wood.hardiness import tree_row
from rules.wood.night_losses import OFF_C

AS_BARE: Final = OFF_C.index(0.0)
HALF_CLEAR: Final = 0.5  # an ordinary night, half clear and calm; assumed


@dataclass(frozen=True, kw_only=True)
class WayPrice:
    """What a way costs more than the fewest trips do, in a mean past winter: trips, and share of the wood [0-1]."""

    trips: float
    lost: float


def way_price(terms: TreeTerms, felt: FeltWinters, way: Way, prices: PlanPrices) -> WayPrice:
    """A way against the best of those the plan weighs, both through the same past winters and forecasts."""
    ways = (way, *ways_from(BARE, seldom=terms.is_seldom))
    block = lanes_of([(BARE, one) for one in ways], felt)
    lanes = march(block.begun(felt, terms, 0), felt, terms, prices, by_ways(block.ways, felt, terms),
                  range(min(SEASON_OVER, felt.days)))  # fmt: skip
    cost = mean_costs(lanes, terms, prices, len(ways))[:, AS_BARE, 0]
    best = 1 + int(cost[1:].argmin())
    trips, lost = (
        values.reshape(len(ways), len(OFF_C), -1)[:, AS_BARE].mean(axis=1)
        for values in (lanes.trips + (lanes.state > BARE), lanes.lost)
    )
    return WayPrice(trips=float(trips[0] - trips[best]), lost=float(lost[0] - lost[best]))


def lasting_c(standing: Standing) -> tuple[float, float, float]:
    """One sd of what hurts from a site and a cover that nobody has read, by state, on an ordinary night [°C]."""
    site_c = PRIORS[standing].sd_c(HALF_CLEAR)
    covered_c = float(np.hypot(site_c, COVER_SD_C))
    return site_c, covered_c, covered_c


def own_way_price(
    tree: Tree, cover: Cover, site: Site, climate: DailyMinima | None, today: date, tending: Tending, free: FreeHours
) -> WayPrice | None:
    """What a way of tending costs more than the fewest trips, by past winters; None where too few are known."""
    seasons = None if climate is None else seasons_known(climate, site)
    way = WAYS.get(tending)
    if seasons is None or way is None:
        return None
    plain = for_a_season(cover)
    row, lasting = tree_row(tree, today), lasting_c(tree.standing)
    felt = felt_winters(row, site, seasons, heat_of(plain, site, seasons), 0.0)
    terms = tree_terms(row, tree.worth_trips, plain, lasting, seasons.first, free, ASSUMED.visit, ASSUMED)
    return way_price(terms, felt, way, ASSUMED)
