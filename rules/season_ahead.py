"""What each state of a cover is worth beyond the forecast: past winters, met as one who plans would meet them."""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import date, timedelta
from statistics import NormalDist
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.cold_nights import nights_of_past_years
from rules.costs_to_go import NightsToCome, costs_to_go
from rules.daily_minima import DailyMinima
from rules.freeze_seasons import LEAST_WINTERS
from rules.hardiness import Hardiness, tree_row
from rules.holding import holding
from rules.injury import Z_TEN_PERCENT
from rules.members import WINTER_SD_C
from rules.plan_prices import PlanPrices
from rules.plan_search import LOST_LEVELS, harms
from rules.season import phase_by_date, season_place
from rules.tree import Phase, Site, Tree
from rules.usual import lean, told_last, usual_minima

Floats = npt.NDArray[np.float64]

SEASON_OVER: Final = 297  # day of the season on which covers are off at the latest, 1 July; assumed
MOST_NIGHTS: Final = 120  # beyond these all states cost alike; assumed
MOST_WINTERS: Final = 16  # of those known, evenly taken: enough for a mean
UNKNOWN_NIGHTS: Final = 30  # how long the nights of the forecast stand for those after it where no past is known
TODAY_TELLS_DAYS: Final = 30.0  # how long wood that is ahead or behind its season stays so; assumed
ORDER: Final = (Phase.RIPENING, Phase.HARDENING, Phase.RESTING, Phase.WAKING, Phase.GROWING)
MIDDLES: Final = (25.0, 83.0, 141.0, 191.0, 230.0)  # days of the season in the middle of each, by its calendar


@dataclass(frozen=True, kw_only=True, eq=False)
class NightResponse:
    """What one covered tree makes of a night in the open, told by the nights of the forecast, each shape (states,).

    Parameters
    ----------
    middle_c, tip_c
        How much warmer than the open at its lowest are middle and tip of the stem, where they hurt [°C].
    mean_c, hottest_c
        The same of the wood's mean and of the hottest air from one evening to the next [°C].
    share
        How much of one night's departure from the usual the wood feels [0-1].
    low_c
        Mean of those nights' lows in the open, one number [°C].
    """

    middle_c: Floats
    tip_c: Floats
    mean_c: Floats
    hottest_c: Floats
    share: Floats
    low_c: float


@dataclass(frozen=True, kw_only=True, eq=False)
class SeasonStakes:
    """One tree, for the nights beyond the forecast.

    `lasting_c` one sd of the wood from site and cover, shape (states,) [°C]; `work` of each change of state, shape
    (from, to) [trips]; `last_look_sd_c` of the last forecast before a night [°C].
    """

    tree: Tree
    hardiness: Hardiness
    response: NightResponse
    lasting_c: Floats
    work: Floats
    last_look_sd_c: float


def season_ahead(
    stakes: Sequence[SeasonStakes], site: Site, end: date, climate: DailyMinima | None, prices: PlanPrices
) -> Floats:
    """Cost of each state after the forecast, shape (trees, states, LOST_LEVELS) [trips].

    A visit is priced in equal shares by all trees: the same nights call for all of them.

    Parameters
    ----------
    stakes
        The trees.
    site
        For the season.
    end
        Last day of the forecast.
    climate
        Past winters; None, or fewer than ten of them, takes a month of nights like those of the forecast, give or take
        the sd of ordinary winters (assumed), and says only how the states differ.
    """
    first = end + timedelta(days=1)
    visit = prices.visit / len(stakes)
    left = (SEASON_OVER - season_place(first, site.latitude_deg).day) % 365
    lows_c = _lows_c(climate, first, min(MOST_NIGHTS, left))
    each = [_tree(one, site, first, lows_c, visit, prices, over=left <= MOST_NIGHTS) for one in stakes]
    winters = len(each[0].worth)
    joined = NightsToCome(
        **{field.name: np.concatenate([getattr(one, field.name) for one in each]) for field in fields(NightsToCome)}
    )
    tails = [joined.end, *costs_to_go(joined, lambda cost: _mean_winter(cost, winters))]
    tail = tails[-1][::winters]
    return tail if lows_c is not None else _whatever_comes(tail)


def _whatever_comes(tail: Floats) -> Floats:
    """Only what the states differ by for living wood: a guess at a month must not call wood lost that may well live."""
    alive = tail[..., 0]
    return np.repeat((alive - alive.min(axis=1, keepdims=True))[..., None], tail.shape[-1], axis=-1)


def _mean_winter(cost: Floats, winters: int) -> Floats:
    return np.repeat(cost.reshape(-1, winters, *cost.shape[1:]).mean(axis=1), winters, axis=0)


def _lows_c(climate: DailyMinima | None, first: date, count: int) -> Floats | None:
    """Minima of the nights from `first` on in past winters, (winters, nights) [°C]; None where too few are known."""
    if climate is None or count == 0:
        return None
    known = nights_of_past_years(climate, first, count)
    if len(known) < LEAST_WINTERS:
        return None
    few = known[np.linspace(0, len(known) - 1, min(MOST_WINTERS, len(known))).round().astype(int)]
    return np.asarray(np.where(np.isnan(few), np.nanmean(few, axis=0), few))


def _like_these(low_c: float) -> Floats:
    """Nights like those of the forecast with the spread of ordinary winters, shape (winters, nights) [°C]."""
    quantiles = [NormalDist(low_c, WINTER_SD_C).inv_cdf((i + 0.5) / MOST_WINTERS) for i in range(MOST_WINTERS)]
    return np.repeat(np.array(quantiles)[:, None], UNKNOWN_NIGHTS, axis=1)


def _tree(
    one: SeasonStakes, site: Site, first: date, lows_c: Floats | None, visit: float, prices: PlanPrices, *, over: bool
) -> NightsToCome:
    known = lows_c is not None
    lows_c = _like_these(one.response.low_c) if lows_c is None else lows_c
    usual_c, sd_c = usual_minima(lows_c)
    last_c = one.last_look_sd_c
    told_c = told_last(lows_c, usual_c, float(lean(last_c, sd_c)))
    days = [first + timedelta(days=i) for i in range(lows_c.shape[1])]

    def felt(warmer_c: Floats) -> Floats:
        return (usual_c[:, None] + warmer_c + (told_c - usual_c)[..., None] * one.response.share).astype(np.float64)

    half_c, wood_sd_c = _wood_c(one, site, days)
    width_c = np.hypot(one.lasting_c, wood_sd_c[:, None])
    colder, milder = harms(
        half_c[:, None], width_c, last_c * one.response.share, felt(one.response.middle_c), felt(one.response.tip_c)
    )
    end = np.zeros((len(lows_c), 3, len(LOST_LEVELS)))
    end[:, 1:] += (one.work[1:, :1] + visit)[None] if known and over else 0.0
    return NightsToCome(
        colder=colder,
        milder=milder,
        holding=_holding(one, site, days, felt(one.response.mean_c), felt(one.response.hottest_c), prices),
        step=np.broadcast_to(one.work + visit * (1.0 - np.eye(3)), (len(lows_c), 3, 3)),
        worth=np.full(len(lows_c), one.tree.worth_trips),
        end=end,
    )


def _wood_c(one: SeasonStakes, site: Site, days: Sequence[date]) -> tuple[Floats, Floats]:
    """50 % injury temperature of each night, and the width of its dose curve with its own doubt in it [°C].

    The table's by the calendar, moved by what today's wood is off it.
    """
    row, today = tree_row(one.tree, one.hardiness.day), one.hardiness.day
    place = np.array([season_place(day, site.latitude_deg).day for day in (today, *days)])
    t10_c, t50_c = (
        np.interp(place, MIDDLES, [getattr(row.bears(phase), name) for phase in ORDER]) for name in ("t10_c", "t50_c")
    )
    ahead = np.array([(day - today).days for day in days])
    half_c = t50_c[1:] + (one.hardiness.half_c - t50_c[0]) * np.exp(-ahead / TODAY_TELLS_DAYS)
    ends = row.t50_c(Phase.RESTING), row.t50_c(Phase.GROWING)
    doubt_c = np.interp(half_c, ends, (row.sd_resting_c, row.sd_growing_c))
    return np.asarray(half_c), np.hypot((t10_c - t50_c)[1:] / Z_TEN_PERCENT, doubt_c)


def _holding(
    one: SeasonStakes, site: Site, days: Sequence[date], mean_c: Floats, hottest_c: Floats, prices: PlanPrices
) -> Floats:
    """What the states cost besides injury, shape (winters, nights, states) [trips]."""
    total = np.empty(mean_c.shape)
    phases = np.array([ORDER.index(_phase(one.hardiness, site, day)) for day in days])
    for at in np.unique(phases):
        chosen, phase = phases == at, ORDER[at]
        met = one.hardiness.chill_met or phase in (Phase.WAKING, Phase.GROWING)
        total[:, chosen] = holding(
            mean_c[:, chosen], hottest_c[:, chosen], np.ones(int(chosen.sum())), phase, prices, chill_met=met
        ).total
    return total


def _phase(hardiness: Hardiness, site: Site, day: date) -> Phase:
    """The calendar's phase of a day, or today's where that is further: within a season none comes back."""
    calendar = phase_by_date(day, site)
    same = season_place(day, site.latitude_deg).start == season_place(hardiness.day, site.latitude_deg).start
    return max(calendar, hardiness.phase, key=ORDER.index) if same else calendar
