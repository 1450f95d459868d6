"""Winters to replay: the weather that came, the forecasts that were wrong about it, and truths no plan knows."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.cover import Cover
from rules.garden.species import SpeciesRow
from rules.garden.tree import Site, Tree
from rules.heat.properties import COVER_SD_C
from rules.plan.cover_costs import minutes_of_change
from rules.plan.prices import PlanPrices
from rules.plan.season.daily_heat import ReducedHeat, daily_features
from rules.plan.season.felt_winters import FeltWinters, Seasons, felt_winters, heat_of
from rules.plan.season.forecast_errors import forecast_errors_c, sigma_by_lead_c
from rules.site.microclimate import PRIORS
from rules.weather.climatology import WINDOW_DAYS, as_it_came
from rules.weather.daily_minima import DailyMinima
from rules.wood.course import winters_course
from rules.wood.hardiness import tree_row
from rules.wood.kinetics.day_by_day import LaneRates
from rules.wood.kinetics.rate_doubts import RATE_DOUBTS, drawn
from rules.wood.season import season_place
from rules.wood.season_drivers import hardening_rates

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

FIRST_DAY: Final = 1  # 8 September, counted from the start of the season on 7 September
LAST_DAY: Final = 270  # 4 June: later covers are off
DAYS: Final = 299  # to 2 July, as far as a season is reckoned
LEAST_LEFT: Final = 0.1  # of a climate's variance beside the error of a forecast of it
HALF_CLEAR: Final = 0.5  # an ordinary night, half clear and calm; assumed


@dataclass(frozen=True, kw_only=True, eq=False)
class Winters(Seasons):
    """Seasons with the years they began in; `shift_c` is what was added to the record [°C]."""

    years: tuple[int, ...]
    shift_c: float = 0.0

    @property
    def nights(self) -> int:
        """Nights that are planned for."""
        return LAST_DAY - FIRST_DAY + 1


def winters_of(past: DailyMinima, site: Site, shift_c: float = 0.0) -> Winters:
    """The whole winters of a record of daily extremes, `shift_c` added to every value.

    Raises
    ------
    ValueError
        A record without maxima, or without one whole winter.
    """
    if past.max_c is None:
        raise ValueError("a replay needs daily maxima as well as minima")
    lows, highs, years = [], [], []
    for year in range(past.first.year, past.last.year + 1):
        first = season_place(date(year, 12, 1), site.latitude_deg).start
        at = (first - past.first).days
        span = slice(at, at + DAYS)
        if at >= 0 and at + DAYS <= len(past.min_c) and not np.isnan(past.min_c[span] + past.max_c[span]).any():
            lows.append(past.min_c[span])
            highs.append(past.max_c[span])
            years.append(first.year)
    if not years:
        raise ValueError("the record holds 0 whole winters, a replay needs at least 1")
    start = season_place(date(2026, 12, 1), site.latitude_deg).start
    return Winters(
        first=start.replace(year=years[0]), years=tuple(years), min_c=np.array(lows) + shift_c,
        max_c=np.array(highs) + shift_c, shift_c=shift_c,
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False)
class Garden:
    """Trees to replay, each a garden of its own, with what is held of them.

    Lanes are trees times winters, tree by tree. `warmer_c` is by how much warmer each state's wood is held to be than
    its heat says, shape (lanes, states); `wood_shift_c` is added to what the wood can take, shape (lanes, nights or 1);
    `site_sd_c`, `cover_sd_c` are 1 sd of the air at the tree and of the wood inside from an unknown cover, shape
    (lanes,); `wood_sd_c` of the 50 % point where it is not the table's, shape (lanes, nights) [°C].
    """

    trees: Sequence[Tree]
    covers: Sequence[Cover]
    rows: Sequence[SpeciesRow]
    site: Site
    winters: Winters
    heat: Sequence[ReducedHeat]
    warmer_c: Floats
    wood_shift_c: Floats
    site_sd_c: Floats
    cover_sd_c: Floats
    wood_sd_c: Floats | None = None

    @property
    def lanes(self) -> int:
        """Trees times winters."""
        return len(self.trees) * len(self.winters.years)

    def by_lane(self, values: Sequence[float] | Floats) -> Floats:
        """A value per tree, repeated for each winter."""
        return np.repeat(np.asarray(values, dtype=float), len(self.winters.years), axis=0)

    @property
    def worth(self) -> Floats:
        """Of the live wood, shape (lanes,) [trips]."""
        return self.by_lane([tree.worth_trips for tree in self.trees])

    def work(self, prices: PlanPrices) -> Floats:
        """Price of each change without its visit, shape (lanes, from, to) [trips]."""
        return self.by_lane(np.stack([prices.of_work(1.0) * minutes_of_change(cover) for cover in self.covers]))

    def step(self, prices: PlanPrices) -> Floats:
        """The same with the visit."""
        return self.work(prices) + prices.visit * (1.0 - np.eye(3))

    def tissue(self, features: Floats) -> Floats:
        """Outputs of the heat for features (winters or 1, ..., features): (lanes, ..., states, outputs) [°C]."""
        each = [one.of(features) for one in self.heat]
        wide = [np.broadcast_to(one, (len(self.winters.years), *one.shape[1:])) for one in each]
        return np.concatenate(wide)

    def damping(self) -> Floats:
        """How much of a lasting change of the air each state's wood feels, shape (lanes, states)."""
        return self.by_lane(np.stack([one.weights[3:, :, 0].sum(axis=0) for one in self.heat]))

    def lasting_c(self) -> Floats:
        """One sd of what hurts from site and cover, shape (lanes, states) [°C]."""
        cover = self.cover_sd_c[:, None] * np.array([0.0, 1.0, 1.0])
        return np.asarray(np.hypot(self.site_sd_c[:, None] * self.damping(), cover))

    def felt(self, tree: int) -> FeltWinters:
        """One tree's winters as they are held to be felt, its own warmth left out."""
        return felt_winters(self.rows[tree], self.site, self.winters, self.heat[tree], 0.0)

    def rates(self, rows: Sequence[SpeciesRow] | None = None) -> LaneRates:
        """Rates of the wood by lane, of the species' own rows or of those given, one a lane."""
        each = rows or [row for row in self.rows for _ in self.winters.years]
        return LaneRates(
            rates=hardening_rates(each), frost_gain=np.array([row.kinetics.frost_gain for row in each]),
            evergreen=np.array([row.kinetics.evergreen for row in each]),
        )  # fmt: skip


def garden_of(
    trees: Sequence[tuple[Tree, Cover]], site: Site, winters: Winters, record: Seasons | None = None
) -> Garden:
    """Some trees through some winters, held as their priors have them.

    `record` is what the covers' heat is fitted to, another than the winters where those were moved or cut short.
    """
    count = len(winters.years)
    return Garden(
        trees=[tree for tree, _ in trees], covers=[cover for _, cover in trees], site=site, winters=winters,
        rows=[tree_row(tree, winters.first) for tree, _ in trees],
        heat=[heat_of(cover.model_copy(update={"name": "any"}), site, record or winters) for _, cover in trees],
        warmer_c=np.zeros((len(trees) * count, 3)), wood_shift_c=np.zeros((len(trees) * count, 1)),
        site_sd_c=np.repeat([PRIORS[tree.standing].sd_c(HALF_CLEAR) for tree, _ in trees], count),
        cover_sd_c=np.full(count * len(trees), COVER_SD_C),
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True, eq=False)
class Truth:
    """What came, and what nobody could know of it.

    `garden` as it truly is; `rows` of each lane's true wood; `error_c` of the forecast made each evening, shape
    (winters, nights, leads) [°C], the same for a day's minimum and maximum; `tender_sd` by how many of the day's sd
    each lane's wood is more tender than held: little in leaf, more at rest, as its doubt is stated.
    """

    garden: Garden
    rows: Sequence[SpeciesRow]
    error_c: Floats
    tender_sd: Floats | float = 0.0


def drawn_truth(garden: Garden, chance: np.random.Generator) -> Truth:
    """One truth drawn from the stated spreads of site, cover, hardiness and rates, and one set of forecast errors.

    Each lane has its own site offset, cover, hardiness and kinetics, the same all winter.
    """
    air, cover, wood = chance.standard_normal((3, garden.lanes))
    warmer_c = air[:, None] * garden.site_sd_c[:, None] * garden.damping()
    warmer_c = warmer_c + cover[:, None] * garden.cover_sd_c[:, None] * [0.0, 1.0, 1.0]
    ways = np.clip(chance.standard_normal((garden.lanes, len(RATE_DOUBTS))), -1.5, 1.5)
    base = [row for row in garden.rows for _ in garden.winters.years]
    rows = [replace(row, kinetics=drawn(row.kinetics, own.tolist())) for row, own in zip(base, ways, strict=True)]
    true = replace(garden, warmer_c=garden.warmer_c + warmer_c)
    winters = garden.winters
    errors_c = forecast_errors_c(len(winters.years), winters.nights, chance, partial(_next_day_errors_c, winters))
    return Truth(garden=true, rows=rows, error_c=errors_c, tender_sd=wood)


def lows_round(winters: Winters, day: int) -> Floats:
    """Lows of the other winters round a day of the season, shape (winters, lows) [°C]."""
    near = winters.min_c[:, max(0, day - WINDOW_DAYS) : day + WINDOW_DAYS + 1]
    count = len(near)
    others = [[w for w in range(count) if w != own] or [own] for own in range(count)]
    return np.asarray(near[others].reshape(count, -1))


def _next_day_errors_c(winters: Winters, noise: Floats) -> Floats:
    """Errors of each day's last forecast, no bolder than past winters have it, of the size of the noise [°C]."""
    errors = np.empty_like(noise)
    sigma = sigma_by_lead_c()[0]
    for at in range(noise.shape[1]):
        came, past = winters.min_c[:, FIRST_DAY + at + 1], lows_round(winters, FIRST_DAY + at + 1)
        raw = 1.0 / np.sqrt(np.maximum(1.0 - sigma**2 / past.var(axis=-1), LEAST_LEFT))  # so much is leant away again
        errors[:, at] = as_it_came(came + raw * noise[:, at], raw * sigma, past)[0] - came
    return errors


@dataclass(frozen=True, kw_only=True, eq=False)
class FeltNights:
    """What each state would feel in each night, arrays (lanes, nights, states) [°C]; `ready` (lanes, nights)."""

    dose_c: Floats
    tip_c: Floats
    mean_c: Floats
    hottest_c: Floats
    held_c: Floats
    ready: Floats


def felt_nights(garden: Garden, rows: Sequence[SpeciesRow] | None = None) -> FeltNights:
    """The nights that came, felt as a garden is held or true to be; `rows` one a lane where wood differs by lane."""
    winters, span = garden.winters, slice(FIRST_DAY, LAST_DAY + 1)
    features, _ = daily_features(winters.min_c, winters.max_c, winters.day_of_year)
    told = garden.tissue(features)
    dose, tip, mean, hottest = (told[:, span, :, i] + garden.warmer_c[:, None] for i in range(4))
    return FeltNights(
        dose_c=dose, tip_c=tip, mean_c=mean, hottest_c=hottest, held_c=told[:, FIRST_DAY - 1 : LAST_DAY, :, 4],
        ready=_ready(garden, rows)[:, span],
    )  # fmt: skip


def _ready(garden: Garden, rows: Sequence[SpeciesRow] | None) -> Floats:
    """Readiness to wake by lane, shape (lanes, days)."""
    winters = garden.winters
    mean, low, high = ((winters.min_c + winters.max_c).T / 2, winters.min_c.T, winters.max_c.T)
    if rows is None:
        course = winters_course(garden.rows, garden.site, winters.first, mean, low, high)
        ready = np.broadcast_to(course.readiness, course.hc_c.shape)  # (days, winters, trees)
        return np.asarray(ready.transpose(2, 1, 0).reshape(garden.lanes, -1))
    count = len(winters.years)
    each = []
    for lane, row in enumerate(rows):
        at = [lane % count]
        course = winters_course([row], garden.site, winters.first, mean[:, at], low[:, at], high[:, at])
        each.append(np.broadcast_to(course.readiness, course.hc_c.shape)[:, 0, 0])
    return np.stack(each)
