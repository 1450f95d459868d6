"""Our plan played through winters: the same search as the garden's, on the reduced heat and one number a night."""

from statistics import NormalDist
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.backtest.plain_rules import dose_width_of
from rules.backtest.reduced_heat import daily_features
from rules.backtest.season_tails import season_tails
from rules.backtest.winters import FIRST_DAY, LEADS, Garden, Truth, damping, season_standing_cost, shrinkage_of
from rules.plan.prices import PlanPrices
from rules.plan.search import answers
from rules.plan.stakes import Stakes
from rules.weather.climatology import told_last
from rules.weather.members import lead_sigma_c
from rules.wood.injury import lost_together
from rules.wood.night_losses import harm_of

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

MEMBERS: Final = 15  # enough for a mean over one number per night
SAME_ERROR: Final = 0.5  # correlation of members' errors from one night to the next, as in the members of the garden


class OurPlan:
    """The plan, evening by evening, with the forecast of that evening, its members and its stated spreads.

    `recourse` False takes each night's members at their word, as if the last forecast before a night were right.
    """

    def __init__(self, garden: Garden, truth: Truth, prices: PlanPrices, *, recourse: bool = True) -> None:
        self.garden, self.truth, self.prices = garden, truth, prices
        winters = garden.winters
        means = daily_features(winters.min_c, winters.max_c, season=winters.season)[1]
        self.before = means
        self.usual_c, self.shrinkage = shrinkage_of(winters)
        dev_c = _members_c() * np.sqrt(1.0 - self.shrinkage)
        apart = np.concatenate([np.zeros((MEMBERS, 1)), dev_c], axis=1)
        parts = daily_features(apart, apart, (np.zeros(MEMBERS), np.zeros(MEMBERS)))[0]
        outputs = np.stack([one.of(parts) for one in garden.heat])  # (trees, members, leads, states, outputs)
        sigma2 = dev_c.var(axis=0)
        last2 = sigma2[0] if recourse else 0.0
        share = np.sqrt(np.clip(1.0 - last2 / sigma2, 0.0, 1.0))[:, None]
        self.unforeseen_c = garden.by_lane(np.sqrt((1.0 - share**2) * outputs[..., 0].var(axis=1)))
        self.known = garden.by_lane(outputs * share[..., None])
        self.full = garden.by_lane(outputs)
        site2 = (garden.site_sd_c[:, None] * damping(garden)) ** 2
        cover2 = garden.cover_sd_c[:, None] ** 2 * np.array([0.0, 1.0, 1.0])
        still2 = site2 + cover2
        self.dose = dose_width_of(garden)
        self.width_c = np.sqrt(still2[:, None] + (self.dose[:, None] ** 2 + garden.sd_c**2)[..., None])
        self.tails = season_tails(garden, self._told_last(), self.width_c, self.unforeseen_c[:, 0], prices)
        self.lost = np.zeros(garden.lanes)
        self.past = garden.tissue(daily_features(winters.min_c, winters.max_c, season=winters.season)[0])
        self.tissue, self.fades = (
            garden.by_lane(np.stack([getattr(h, name) for h in garden.heat])) for name in ("tissue", "fades")
        )

    def __call__(self, night: int, state: Ints) -> Ints:
        stakes = self.stakes(night, state)
        found = answers(stakes, np.full(stakes.shape, self.prices.visit), np.empty((len(state), 0), dtype=np.int64))
        cost = found.cost.mean(axis=1)
        lane = np.arange(len(state))
        others = np.where(np.arange(3) == state[:, None], np.inf, cost)
        change = others.argmin(axis=1)
        margin = self.prices.visit + np.where(change < state, self.prices.least_gain, 0.0)
        new = np.where(cost[lane, state] - others[lane, change] > margin, change, state)
        self._learn(night, new)
        return new

    def _learn(self, night: int, state: Ints) -> None:
        """The share the night will have taken, once its weather is known and all else is not."""
        lane, garden = np.arange(len(state)), self.garden
        dose, tip = (self.past[lane, FIRST_DAY + night, state, i] for i in (0, 1))
        share = harm_of(garden.lt50_c[:, night], self.width_c[lane, night, state], dose, tip)
        self.lost = lost_together(self.lost, share)

    def _told_last(self) -> tuple[Floats, Floats]:
        """Extremes of all winters as the last forecast of each day tells them, nearer to the usual, (winters, days).

        The best estimate leans to the usual, so its variance is less than that of what came, by what stays untold.
        """
        winters = self.garden.winters
        told_c = told_last(winters.min_c, self.usual_c, float(self.shrinkage[0]))
        return told_c, winters.max_c + told_c - winters.min_c

    def stakes(self, night: int, state: Ints) -> Stakes:
        """What is at stake from one evening to the end of its forecast."""
        garden, winters, day = self.garden, self.garden.winters, FIRST_DAY + night
        span = slice(day, day + LEADS + 1)
        told = self.truth.error_c[:, night]
        told = told - self.shrinkage * (winters.min_c[:, day + 1 : day + LEADS + 1] + told - self.usual_c[span][1:])
        error = np.concatenate([np.zeros((len(winters.years), 1)), told], axis=1)
        before = (self.before[0][:, day - 1], self.before[1][:, day - 1])
        features, _ = daily_features(
            winters.min_c[:, span] + error, winters.max_c[:, span] + error, before, winters.season[span]
        )
        mean = garden.tissue(features)[:, None]
        known, full = mean + self.known, mean + self.full
        ahead = np.full(LEADS, night)  # the plan does not know how the wood will change
        held = np.concatenate([np.broadcast_to(self.truth.held_c[:, night][:, None, None], known[:, :, :1, :, 4].shape),
                               known[:, :, :-1, :, 4]], axis=2)  # fmt: skip
        return Stakes(
            middle_c=known[..., 0], tip_c=known[..., 1], nodes_c=held[..., None],
            fades=np.repeat(self.fades[:, None, :, None, None], LEADS, axis=1),
            tissue=np.repeat(self.tissue[:, None, :, None], LEADS, axis=1), tip_keeps=np.ones((garden.lanes, 3)),
            lt50_c=garden.lt50_c[:, ahead], width_c=self.width_c[:, ahead], unforeseen_c=self.unforeseen_c,
            standing_cost=season_standing_cost(full[..., 2], full[..., 3], night, self.prices),
            work=np.repeat(garden.work[:, None], LEADS, axis=1), worth=garden.worth,
            tail=self.tails[:, min(night + LEADS, winters.nights)], state=state, lost=self.lost,
        )  # fmt: skip


def _members_c() -> Floats:
    """Departures of the members from the forecast, shape (members, leads) [°C]; the same every evening."""
    quantiles = np.array([NormalDist().inv_cdf((i + 0.5) / MEMBERS) for i in range(MEMBERS)])
    shuffle = np.random.default_rng(MEMBERS)
    draws = np.column_stack([shuffle.permutation(quantiles) for _ in range(LEADS)])
    lags = np.abs(np.subtract.outer(np.arange(LEADS), np.arange(LEADS)))
    field = draws @ np.linalg.cholesky(SAME_ERROR**lags).T
    field = (field - field.mean(axis=0)) / field.std(axis=0)
    return np.asarray(field * lead_sigma_c(24.0 * np.arange(1, LEADS + 1)))
