"""Winters to replay: the weather that came, the forecasts that were wrong about it, and a truth no plan knows."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.backtest.reduced_heat import OUTPUTS, ReducedHeat, daily_features, reduced_heat
from rules.garden.cover import Cover
from rules.garden.tree import Phase, Site, Tree
from rules.heat.properties import COVER_SD_C
from rules.plan.cover_costs import STRIP_SHARE, nights_standing_cost
from rules.plan.prices import PlanPrices
from rules.site.microclimate import PRIORS
from rules.weather.climatology import shrinkage, usual_minima
from rules.weather.daily_minima import DailyMinima
from rules.weather.members import lead_sigma_c
from rules.wood.course import winters_lt_c
from rules.wood.hardiness import tree_row
from rules.wood.season import season_place

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

FIRST_DAY: Final = 24  # 1 October, counted from the start of the season on 7 September
LAST_DAY: Final = 235  # 30 April
LEADS: Final = 9  # days a forecast reaches
CALIBRATION_WINTERS: Final = 2  # what the reduced heat is fitted to; more change it by less than its own error
CALIBRATION_SHIFT_C: Final = 10.0  # each once as it is and once so much milder: one fit serves every climate
HARDENING_UNTIL: Final = 85  # 1 December: phases of the holding cost by the calendar
RESTING_UNTIL: Final = 130  # mid-January
NIGHT_TO_NIGHT: Final = 0.21  # correlation of the errors of one lead on successive nights (National Weather Service)
WITHIN_UPDATE: Final = 0.5  # of what one day's news changes in successive valid days; assumed


@dataclass(frozen=True, kw_only=True, eq=False)
class Winters:
    """Daily extremes of whole winters in the open field, shape (winters, days) [°C], day 0 the start of the season.

    `years` has the year each began in; `season` the day of the year of each day; `shift_c` what was added.
    """

    first: date
    years: tuple[int, ...]
    min_c: Floats
    max_c: Floats
    season: Floats
    shift_c: float

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
    days, lows, highs, years = LAST_DAY + LEADS + 2, [], [], []
    for year in range(past.first.year, past.last.year + 1):
        first = season_place(date(year, 12, 1), site.latitude_deg).start
        at = (first - past.first).days
        span = slice(at, at + days)
        if at >= 0 and at + days <= len(past.min_c) and not np.isnan(past.min_c[span] + past.max_c[span]).any():
            lows.append(past.min_c[span])
            highs.append(past.max_c[span])
            years.append(first.year)
    if not years:
        raise ValueError("the record holds 0 whole winters, a replay needs at least 1")
    first = date(years[0], *season_place(date(2026, 12, 1), site.latitude_deg).start.timetuple()[1:3])
    season = np.array([(first + timedelta(days=i)).timetuple().tm_yday for i in range(days)], dtype=float)
    return Winters(
        first=first,
        years=tuple(years),
        min_c=np.array(lows) + shift_c,
        max_c=np.array(highs) + shift_c,
        season=season,
        shift_c=shift_c,
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class Garden:
    """Trees to replay, each a garden of its own, with what the plan believes of them.

    Lanes are trees times winters, tree by tree. `lt10_c`, `lt50_c`, `sd_c` are what the wood can take, shape (lanes,
    nights); `site_sd_c`, `cover_sd_c` 1 sd of the air at the tree and of the wood inside from an unknown cover [°C],
    shape (lanes,); `work` the price of each change, shape (lanes, states, states); `worth` (lanes,) [trips].
    """

    trees: Sequence[Tree]
    winters: Winters
    heat: Sequence[ReducedHeat]
    lt10_c: Floats
    lt50_c: Floats
    sd_c: Floats
    site_sd_c: Floats
    cover_sd_c: Floats
    work: Floats
    worth: Floats
    wrap: Floats
    cap: Floats
    strip: Floats

    @property
    def lanes(self) -> int:
        """Trees times winters."""
        return len(self.worth)

    def tissue(self, features: Floats) -> Floats:
        """Outputs of the heat for features (winters or 1, ..., features): (lanes, ..., states, outputs) [°C]."""
        each = [one.of(features) for one in self.heat]
        wide = [np.broadcast_to(one, (len(self.winters.years), *one.shape[1:])) for one in each]
        return np.concatenate(wide)

    def by_lane(self, values: Sequence[float] | Floats) -> Floats:
        """A value per tree, repeated for each winter."""
        return np.repeat(np.asarray(values, dtype=float), len(self.winters.years), axis=0)


def garden_of(
    trees: Sequence[tuple[Tree, Cover]], site: Site, winters: Winters, heat: Sequence[ReducedHeat], prices: PlanPrices
) -> Garden:
    """Some trees through some winters.

    The wood keeps the season of the record as it is, whatever the shift and the cover: ten degrees more would have it
    wake in January, and the replay asks about cold, not about a climate that never was (assumed).
    """
    rows = [tree_row(tree, winters.first) for tree, _ in trees]
    low_c, high_c = ((one - winters.shift_c).T for one in (winters.min_c, winters.max_c))
    lt10_c, half = winters_lt_c(rows, site, winters.first, (low_c + high_c) / 2, low_c, high_c)
    nights = slice(FIRST_DAY, LAST_DAY + 1)
    lt10_c, half = (
        np.moveaxis(one[nights], 0, -1).swapaxes(0, 1).reshape(-1, winters.nights) for one in (lt10_c, half)
    )
    count = len(winters.years)
    sd = np.concatenate([row.sd_c(half[i * count : (i + 1) * count]) for i, row in enumerate(rows)])
    minutes = np.array([[c.minutes_to_wrap, c.minutes_to_close] for _, c in trees])
    wrap, cap = (np.repeat(prices.of_work(1.0) * one, count) for one in minutes.T)
    site_sd = [PRIORS[tree.standing].sd_c(0.5) for tree, _ in trees]  # half clear and calm: an ordinary night, assumed
    return Garden(
        trees=[tree for tree, _ in trees], winters=winters, heat=heat, lt10_c=lt10_c, lt50_c=half, sd_c=sd,
        site_sd_c=np.repeat(site_sd, count), cover_sd_c=np.full(count * len(trees), COVER_SD_C), work=_work(wrap, cap),
        worth=np.repeat([tree.worth_trips for tree, _ in trees], count), wrap=wrap, cap=cap, strip=STRIP_SHARE * wrap,
    )  # fmt: skip


def heats_of(trees: Sequence[tuple[Tree, Cover]], site: Site, winters: Winters) -> list[ReducedHeat]:
    """The reduced heat of each tree's cover; trees under covers that differ in name only share one fit."""
    few = np.linspace(0, len(winters.years) - 1, CALIBRATION_WINTERS).round().astype(int)
    record = (winters.min_c - winters.shift_c, winters.max_c - winters.shift_c)
    lows, highs = (np.concatenate([one[few], one[few] + CALIBRATION_SHIFT_C]) for one in record)
    plain = [cover.model_copy(update={"name": "any"}) for _, cover in trees]
    kinds = {repr(one): one for one in plain}
    fits = {kind: reduced_heat(one, site, winters.first, lows, highs) for kind, one in kinds.items()}
    return [fits[repr(one)] for one in plain]


def _work(wrap: Floats, cap: Floats) -> Floats:
    """Prices of changes, from and to bare, vented, closed; a cover that is on stays on until the season ends."""
    work = np.zeros((len(wrap), 3, 3))
    work[:, 0, 1], work[:, 0, 2] = wrap, wrap + cap
    work[:, 1, 2] = work[:, 2, 1] = cap
    work[:, 1, 0] = work[:, 2, 0] = np.inf
    return work


@dataclass(frozen=True, kw_only=True, eq=False)
class Truth:
    """What came, and what the plan could not know of it.

    `dose_c` and `tip_c` [°C], `standing_cost` [trips], shape (lanes, nights, states); `held_c` what the covers held at
    each evening; `lt10_c`, `lt50_c` the true ones, (lanes, nights). `error_c` the error of the forecast made
    each evening, shape (winters, nights, leads) [°C], the same for a day's minimum and maximum.
    """

    dose_c: Floats
    tip_c: Floats
    held_c: Floats
    standing_cost: Floats
    lt10_c: Floats
    lt50_c: Floats
    error_c: Floats


def drawn_truth(garden: Garden, prices: PlanPrices, chance: np.random.Generator) -> Truth:
    """One truth drawn from the stated spreads of site, cover and hardiness, and one set of forecast errors.

    Each lane has its own site offset, cover and hardiness, the same all winter.
    """
    air, cover, wood = chance.standard_normal((3, garden.lanes))
    wrong_c = air[:, None] * garden.site_sd_c[:, None] * damping(garden) + cover[:, None] * COVER_SD_C * [0.0, 1.0, 1.0]
    errors_c = forecast_errors_c(len(garden.winters.years), garden.winters.nights, chance)
    return truth_of(garden, prices, wrong_c, wood[:, None] * garden.sd_c, errors_c)


def truth_of(garden: Garden, prices: PlanPrices, wrong_c: Floats, wood_shift_c: Floats, error_c: Floats) -> Truth:
    """What came, where each state's wood is warmer by `wrong_c` (lanes, states) than the heat says [°C].

    `wood_shift_c` is added to what the wood can take, shape (lanes, nights or 1); `error_c` as in `Truth`.
    """
    winters = garden.winters
    features, _ = daily_features(winters.min_c, winters.max_c, season=winters.season)
    tissue = garden.tissue(features)[:, FIRST_DAY : LAST_DAY + 1]
    before = garden.tissue(features)[:, FIRST_DAY - 1 : LAST_DAY, :, OUTPUTS.index("held")]
    dose, tip, mean, hottest = (tissue[..., i] + wrong_c[:, None] for i in range(4))
    return Truth(
        dose_c=dose, tip_c=tip, held_c=before, standing_cost=season_standing_cost(mean, hottest, 0, prices),
        lt10_c=garden.lt10_c + wood_shift_c, lt50_c=garden.lt50_c + wood_shift_c, error_c=error_c,
    )  # fmt: skip


def damping(garden: Garden) -> Floats:
    """How much of a lasting change of the air each state's wood feels, shape (lanes, states): its weights' sum."""
    return garden.by_lane(np.stack([one.weights[3:, :, 0].sum(axis=0) for one in garden.heat]))


def season_standing_cost(mean_c: Floats, hottest_c: Floats, first_night: int, prices: PlanPrices) -> Floats:
    """StandingCost cost of nights from `first_night` on, shape (..., nights, states), phases by the calendar."""
    day = FIRST_DAY + first_night + np.arange(mean_c.shape[-2])
    spells = (
        (day < HARDENING_UNTIL, Phase.HARDENING, False),
        ((day >= HARDENING_UNTIL) & (day < RESTING_UNTIL), Phase.RESTING, False),
        (day >= RESTING_UNTIL, Phase.WAKING, True),
    )
    return nights_standing_cost(mean_c, hottest_c, spells, prices)


def forecast_errors_c(winters: int, nights: int, chance: np.random.Generator) -> Floats:
    """Errors of forecasts that get better day by day, shape (winters, nights, leads) [°C].

    The error of a valid day is that of its last forecast, plus the news of each day before; its variance at lead d is
    sigma(d) squared. The news of one day changes successive valid days alike.
    """
    sigma2 = lead_sigma_c(24.0 * np.arange(1, LEADS + 1)) ** 2
    days = nights + LEADS
    last = _chained(chance.standard_normal((winters, days)), NIGHT_TO_NIGHT) * np.sqrt(sigma2[0])
    steps = np.sqrt(np.maximum(np.diff(sigma2), 0.0))
    news = _chained(chance.standard_normal((winters, days, LEADS - 1)), WITHIN_UPDATE) * steps
    error = np.empty((winters, nights, LEADS))
    for night in range(nights):
        for lead in range(LEADS):  # valid day night + lead; its news of lead i came on day night + lead - i
            told = [news[:, night + lead - i, i] for i in range(lead)]
            error[:, night, lead] = last[:, night + lead] + np.sum(told, axis=0) if told else last[:, night + lead]
    return error


def shrinkage_of(winters: Winters) -> tuple[Floats, Floats]:
    """The season's usual minimum of each day [°C], and how far a forecast of each lead leans toward it [0-1]."""
    mean, sd = usual_minima(winters.min_c)
    return mean, shrinkage(lead_sigma_c(24.0 * np.arange(1, LEADS + 1)), sd)


def _chained(draws: Floats, correlation: float) -> Floats:
    """Standard draws correlated along the last axis, first-order."""
    chained = draws.copy()
    for i in range(1, draws.shape[-1]):
        chained[..., i] = correlation * chained[..., i - 1] + np.sqrt(1 - correlation**2) * draws[..., i]
    return chained
