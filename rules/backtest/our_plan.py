"""Our plan played through winters: the same search, prices and season's table as the garden's, on daily heat."""

from functools import lru_cache
from statistics import NormalDist
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.backtest.living import Evening, dose_c, wood_sd_c
from rules.backtest.winters import FIRST_DAY, Garden, Truth, felt_nights, lows_round
from rules.garden.tree import Phase
from rules.plan.changes.shut_at_once import without_open_wraps
from rules.plan.changes.strip_cue import COLD_SHARE
from rules.plan.cover_costs import BLANKET_MINUTES, BUDS_BREAK, standing_cost
from rules.plan.prices import PlanPrices
from rules.plan.search import answers
from rules.plan.season.daily_heat import daily_features
from rules.plan.season.felt_winters import Seasons, felt_winters
from rules.plan.season.forecast_errors import LEADS, sigma_by_lead_c
from rules.plan.season.marching import TreeTerms
from rules.plan.season.table import SeasonTable, season_table
from rules.plan.season.ways import CLOSED, VENTED, way_gone
from rules.plan.stakes import NEVER, Stakes, either_way, nothing_or_half
from rules.weather.climatology import read_by_the_past
from rules.wood.daily_temperatures import LIGHT
from rules.wood.injury import Z_TEN_PERCENT, normal_share
from rules.wood.season import day_length_h, hardening_share

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

MEMBERS: Final = 15  # enough for a mean over one number per night
SAME_ERROR: Final = 0.5  # correlation of members' errors from one night to the next, as in the members of the garden
FOLDS: Final = 4  # groups of winters, each told of its season by the others
STATES: Final = np.arange(3)


class OurPlan:
    """The plan, evening by evening, with the forecast of that evening, its members and its stated spreads."""

    def __init__(self, garden: Garden, truth: Truth, prices: PlanPrices) -> None:
        self.garden, self.prices, winters = garden, prices, garden.winters
        self.best_c, self.spread_c = told_c(garden, truth)
        self.mean_c = daily_features(winters.min_c, winters.max_c, winters.day_of_year)[1]
        self.felt = felt_nights(garden)
        self.tables = tables_of(garden, prices)
        self.lasting_c = garden.lasting_c()
        self.work, self.worth = garden.work(prices), garden.worth
        self.tissue, self.fades = (
            garden.by_lane(np.stack([getattr(h, name) for h in garden.heat])) for name in ("tissue", "fades")
        )
        self.quantiles = _members()
        self.length = hardening_share(day_length_h(winters.first, winters.min_c.shape[1], garden.site.latitude_deg))

    def __call__(self, seen: Evening) -> Ints:
        state, lane = seen.state, np.arange(len(seen.state))
        stakes = self.stakes(seen)
        found = answers(stakes, np.full(stakes.shape, self.prices.visit), np.empty((len(state), 0), dtype=np.int64))
        cost = found.cost.mean(axis=1)
        others = np.where(state[:, None] == STATES, np.inf, cost)
        change = others.argmin(axis=1)
        margin = self.prices.visit + np.where((state == CLOSED) & (change == VENTED), self.prices.least_gain, 0.0)
        return np.where(cost[lane, state] - others[lane, change] > margin, change, state)

    def stakes(self, seen: Evening) -> Stakes:
        """What is at stake from one evening to the end of its forecast."""
        garden, night = self.garden, seen.night
        full, known, unforeseen = self._members_felt(night)
        softer, leaves, developed = self._wood(seen, full[..., 2].mean(axis=1), full[..., 0].mean(axis=1))
        half = seen.wood.lt50_c + garden.wood_shift_c[:, min(night, garden.wood_shift_c.shape[1] - 1)]
        wood_sd = wood_sd_c(garden, night, half)
        width = np.sqrt(self.lasting_c**2 + (dose_c(garden, half) ** 2 + wood_sd**2)[:, None])
        standing = standing_cost(STATES, full[..., 2], full[..., 3], leaves[:, None], developed[:, None], self.prices)
        held = self.felt.held_c[:, night][:, None, None]
        nodes = np.concatenate([np.broadcast_to(held, known[:, :, :1, :, 4].shape), known[:, :, :-1, :, 4]], axis=2)
        day = FIRST_DAY + night + LEADS
        widths, tail = np.repeat(width[:, None], LEADS, axis=1), np.stack([table.on(day) for table in self.tables])
        sd = np.sqrt(self.lasting_c[:, None] ** 2 + unforeseen**2 + wood_sd[:, None, None] ** 2)
        lt10 = (half + Z_TEN_PERCENT * dose_c(garden, half))[:, None, None, None]
        chance = normal_share((lt10 - known[..., 0]) / sd[:, None]).mean(axis=1)
        return Stakes(
            middle_c=known[..., 0], tip_c=known[..., 1], nodes_c=nodes[..., None],
            fades=np.repeat(self.fades[:, None, :, None, None], LEADS, axis=1),
            tissue=np.repeat(self.tissue[:, None, :, None], LEADS, axis=1), tip_keeps=np.ones((garden.lanes, 3)),
            lt50_c=np.repeat(half[:, None], LEADS, axis=1), softens_c=softer,
            width_c=widths, unforeseen_c=unforeseen, standing_cost=standing.total,
            work=without_open_wraps(self._work(seen, known[..., 0, 0], developed), chance), worth=self.worth,
            tail=either_way(nothing_or_half(tail, seen.lost), seen.lost, widths, unforeseen),
            tail_off_c=self._off_c(day, seen.wood.lt50_c),
            state=seen.state, lost=seen.lost,
        )  # fmt: skip

    def _off_c(self, day: int, lt50_c: Floats) -> Floats:
        return np.array([float(table.off_c(day, one)) for table, one in zip(self.tables, lt50_c, strict=True)])

    def _members_felt(self, night: int) -> tuple[Floats, Floats, Floats]:
        """Outputs of the heat under each member, those with the unforeseeable taken out, and one sd of that.

        Shapes (lanes, members, leads, states, outputs) twice, and (lanes, leads, states).
        """
        garden, winters, day = self.garden, self.garden.winters, FIRST_DAY + night
        span = slice(day, day + LEADS + 1)
        came = winters.min_c[:, span]
        best = np.concatenate([came[:, :1], self.best_c[:, night]], axis=1) - came
        apart = self.spread_c[:, night, None] * self.quantiles
        error = best[:, None] + np.concatenate([np.zeros((*apart.shape[:2], 1)), apart], axis=2)
        before = np.broadcast_to(self.mean_c[:, day - 1, None], error.shape[:2])
        low, high = (one[:, None, span] + error for one in (winters.min_c, winters.max_c))
        features, _ = daily_features(low, high, winters.day_of_year[span], before)
        full = np.concatenate([one.of(features) for one in garden.heat])
        full[..., :4] += garden.warmer_c[:, None, None, :, None]
        mean = full.mean(axis=1, keepdims=True)
        var = self.spread_c[:, night] ** 2
        share = np.sqrt(np.clip(1.0 - var[:, :1] / np.maximum(var, 1e-9), 0.0, 1.0))
        share = np.tile(share, (len(garden.trees), 1))[:, None, :, None, None]
        unforeseen = np.sqrt((1.0 - share[:, 0, ..., 0] ** 2) * full[..., 0].var(axis=1))
        return full, mean + share * (full - mean), unforeseen

    def _wood(self, seen: Evening, mean_c: Floats, dose_c: Floats) -> tuple[Floats, Floats, Floats]:
        """Softening of each night, leaves and way to leaf-out before it, by state: each (lanes, leads, states)."""
        wood, night = seen.wood.spread(len(STATES)), seen.night
        light = np.tile(LIGHT, self.garden.lanes)
        last = self.felt.ready.shape[1] - 1
        softer, leaves, developed = [], [], []
        for lead in range(LEADS):
            before = wood.lt50_c
            leaves.append(wood.leaves)
            developed.append(wood.developed)
            ready = np.repeat(self.felt.ready[:, min(night + lead, last)], len(STATES))
            day = FIRST_DAY + night + lead
            wood.day_passes(
                day, mean_c[:, lead].ravel(), dose_c[:, lead].ravel(), light, ready, float(self.length[day])
            )
            softer.append(wood.lt50_c - before)
        shape = (self.garden.lanes, len(STATES), LEADS)
        a, b, c = (np.stack(one, axis=-1).reshape(shape).swapaxes(1, 2) for one in (softer, leaves, developed))
        return a, b, c

    def _work(self, seen: Evening, bare_c: Floats, developed: Floats) -> Floats:
        """Prices of changes: a slow cover comes off as buds break, not before a night swollen wood does not bear."""
        work = np.repeat(self.work[:, None], LEADS, axis=1)
        bears = self.garden.by_lane([row.wood_hardiness(Phase.WAKING).lt10_c for row in self.garden.rows])
        evergreen = self.garden.by_lane([row.kinetics.evergreen for row in self.garden.rows]) > 0
        days = FIRST_DAY + seen.night + np.arange(LEADS)
        broken = way_gone(developed[..., 1:], evergreen[:, None, None], days[:, None]) >= BUDS_BREAK
        told = np.quantile(bare_c, COLD_SHARE, axis=1)
        cold = np.minimum.accumulate(told[:, ::-1], axis=1)[:, ::-1] < bears[:, None]
        slow = self.garden.by_lane([cover.minutes_to_wrap > BLANKET_MINUTES for cover in self.garden.covers]) > 0
        stays = slow[:, None, None] & (cold[..., None] | ~broken)
        work[..., 1:, 0] = np.where(stays, NEVER, work[..., 1:, 0])
        return work


@lru_cache(maxsize=4)
def told_c(garden: Garden, truth: Truth) -> tuple[Floats, Floats]:
    """Best estimate and spread of each low told each evening, by the other winters, (winters, nights, leads) [°C]."""
    winters = garden.winters
    nights = truth.error_c.shape[1]
    best, spread = np.empty(truth.error_c.shape), np.empty(truth.error_c.shape)
    sigma = sigma_by_lead_c()
    for day in range(FIRST_DAY + 1, FIRST_DAY + nights + LEADS):
        past = lows_round(winters, day)
        for lead in range(LEADS):
            night = day - FIRST_DAY - 1 - lead
            if 0 <= night < nights:
                told = winters.min_c[:, day] + truth.error_c[:, night, lead]
                best[:, night, lead], spread[:, night, lead] = read_by_the_past(told, sigma[lead], sigma[0], past)
    return best, spread


def tables_of(garden: Garden, prices: PlanPrices) -> list[SeasonTable]:
    """The season's table of each lane: each winter is told of it by winters of other groups."""
    count = len(garden.winters.years)
    folds = min(FOLDS, count)
    fold, found = np.arange(count) % folds, []
    for i in range(len(garden.trees)):
        own = []
        for group in range(folds):
            others = fold != group if folds > 1 else fold == group
            own.append(_table(garden, i, others, prices))
        found += [own[group] for group in fold]
    return found


def _table(garden: Garden, i: int, winters: npt.NDArray[np.bool_], prices: PlanPrices) -> SeasonTable:
    few = np.flatnonzero(winters)
    few = few[np.linspace(0, len(few) - 1, min(12, len(few))).round().astype(int)]
    seasons = Seasons(first=garden.winters.first, min_c=garden.winters.min_c[few], max_c=garden.winters.max_c[few])
    lane, cover = i * len(garden.winters.years), garden.covers[i]
    lasting = garden.lasting_c()[lane].tolist()
    felt = felt_winters(garden.rows[i], garden.site, seasons, garden.heat[i], 0.0)
    terms = TreeTerms(
        row=garden.rows[i], worth=garden.trees[i].worth_trips, lasting_c=(lasting[0], lasting[1], lasting[2]),
        step=garden.step(prices)[lane], minutes=(cover.minutes_to_wrap, cover.minutes_to_close),
        free_minutes=(1440.0,) * 7, weekday=0,
    )  # fmt: skip
    return season_table(felt, terms, prices)


def _members() -> Floats:
    """Departures of the members from the best estimate in sd, shape (members, leads); the same every evening."""
    quantiles = np.array([NormalDist().inv_cdf((i + 0.5) / MEMBERS) for i in range(MEMBERS)])
    shuffle = np.random.default_rng(MEMBERS)
    draws = np.column_stack([shuffle.permutation(quantiles) for _ in range(LEADS)])
    lags = np.abs(np.subtract.outer(np.arange(LEADS), np.arange(LEADS)))
    field = draws @ np.linalg.cholesky(SAME_ERROR**lags).T
    return np.asarray((field - field.mean(axis=0)) / field.std(axis=0))
