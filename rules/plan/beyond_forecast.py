"""What each state of a cover is worth beyond the forecast: past winters, met as one who plans would meet them."""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import date, timedelta
from statistics import NormalDist
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.species import SpeciesRow
from rules.garden.tree import Phase, Site, Tree
from rules.plan.costs_to_go import NightsToCome, costs_to_go
from rules.plan.cover_costs import SPRING, nights_standing_cost
from rules.plan.prices import PlanPrices
from rules.plan.stakes import SHORT
from rules.weather.climatology import nights_filled, shrinkage, told_last, usual_minima
from rules.weather.daily_minima import DailyMinima
from rules.weather.members import WINTER_SD_C
from rules.wood.hardiness import Hardiness, tree_row
from rules.wood.injury import Z_TEN_PERCENT
from rules.wood.night_losses import LOST_LEVELS, harms
from rules.wood.season import phase_by_date, season_place
from rules.wood.usual_wood import DAYS, UsualWood, usual_wood

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

SEASON_OVER: Final = 297  # day of the season on which covers are off at the latest, 1 July; assumed
MOST_NIGHTS: Final = 120  # beyond these all states cost alike; assumed
MOST_WINTERS: Final = 12  # of those known: enough for a mean
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
class NightsBeyond:
    """The nights after the forecast, the same for all trees.

    `first` and the `place` of each in the season, with the `phase` of the calendar (its index in ORDER), shape
    (nights,); their usual low in the open, shape (nights,), and the lows of past winters as their last forecasts tell
    them, shape (winters, nights) [°C]. `over` says that the season ends with them.
    """

    first: date
    place: Ints
    phase: Ints
    usual_c: Floats
    told_c: Floats
    over: bool


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
    nights, known = _nights_beyond(stakes, site, end + timedelta(days=1), climate)
    each = [_tree(one, nights, site, climate, prices.visit / len(stakes), prices) for one in stakes]
    joined = NightsToCome(
        **{
            field.name: np.concatenate([getattr(one, field.name).astype(SHORT) for one in each])
            for field in fields(NightsToCome)
        }
    )
    winters = len(nights.told_c)
    *_, last = joined.end, *costs_to_go(joined, lambda cost: _mean_winter(cost, winters))
    tail = last[::winters].astype(np.float64)
    return tail if known else _whatever_comes(tail)


def _whatever_comes(tail: Floats) -> Floats:
    """Only what the states differ by for living wood: a guess at a month must not call wood lost that may well live."""
    alive = tail[..., 0]
    return np.repeat((alive - alive.min(axis=1, keepdims=True))[..., None], tail.shape[-1], axis=-1)


def _mean_winter(cost: Floats, winters: int) -> Floats:
    return np.repeat(cost.reshape(-1, winters, *cost.shape[1:]).mean(axis=1), winters, axis=0)


def _nights_beyond(
    stakes: Sequence[SeasonStakes], site: Site, first: date, climate: DailyMinima | None
) -> tuple[NightsBeyond, bool]:
    """The nights, and whether past winters tell of them."""
    left = (SEASON_OVER - season_place(first, site.latitude_deg).day) % 365 or 365
    known = None if climate is None else nights_filled(climate, first, min(MOST_NIGHTS, left), MOST_WINTERS)
    lows_c = _like_these(stakes[0].response.low_c) if known is None else known
    usual_c, sd_c = usual_minima(lows_c)
    days = [first + timedelta(days=i) for i in range(lows_c.shape[1])]
    return NightsBeyond(
        first=first,
        place=np.array([season_place(day, site.latitude_deg).day for day in days]),
        phase=np.array([ORDER.index(phase_by_date(day, site)) for day in days]),
        usual_c=usual_c,
        told_c=told_last(lows_c, usual_c, float(shrinkage(stakes[0].last_look_sd_c, sd_c))),
        over=known is not None and left <= MOST_NIGHTS,
    ), known is not None


def _like_these(low_c: float) -> Floats:
    """Nights like those of the forecast with the spread of ordinary winters, shape (winters, nights) [°C]."""
    quantiles = [NormalDist(low_c, WINTER_SD_C).inv_cdf((i + 0.5) / MOST_WINTERS) for i in range(MOST_WINTERS)]
    return np.repeat(np.array(quantiles)[:, None], UNKNOWN_NIGHTS, axis=1)


def _tree(
    one: SeasonStakes, nights: NightsBeyond, site: Site, climate: DailyMinima | None, visit: float, prices: PlanPrices
) -> NightsToCome:
    def tissue(warmer_c: Floats) -> Floats:
        off_c = (nights.told_c - nights.usual_c)[..., None] * one.response.share
        return np.asarray(nights.usual_c[:, None] + warmer_c + off_c)

    response, winters = one.response, len(nights.told_c)
    lt50_c, wood_sd_c = _wood_c(one, nights, site, climate)
    width_c = np.hypot(one.lasting_c, wood_sd_c[:, None])
    untold_c = one.last_look_sd_c * response.share
    colder, milder = harms(lt50_c[:, None], width_c, untold_c, tissue(response.middle_c), tissue(response.tip_c))
    end = np.zeros((winters, 3, len(LOST_LEVELS)))
    end[:, 1:] += (one.work[1:, :1] + visit)[None] if nights.over else 0.0
    return NightsToCome(
        colder=colder,
        milder=milder,
        standing_cost=_standing_cost(one, nights, site, tissue(response.mean_c), tissue(response.hottest_c), prices),
        step=np.broadcast_to(one.work + visit * (1.0 - np.eye(3)), (winters, 3, 3)),
        worth=np.full(winters, one.tree.worth_trips),
        end=end,
    )


def _wood_c(one: SeasonStakes, nights: NightsBeyond, site: Site, climate: DailyMinima | None) -> tuple[Floats, Floats]:
    """50 % injury temperature of each night, and the width of its dose curve with its own doubt in it [°C].

    The usual course of such wood through this place's past winters, moved by what today's wood is off it; where no past
    is known, the table's by the calendar.
    """
    row, today = tree_row(one.tree, one.hardiness.day), one.hardiness.day
    place = np.append(season_place(today, site.latitude_deg).day, nights.place)
    usual = usual_wood(one.tree, site, climate, today)
    t10_c, t50_c = _by_calendar(row, place) if usual is None else _by_winters(usual, place)
    ahead = (nights.first - today).days + np.arange(len(nights.place))
    lasting = one.hardiness.organs.get(row.watched)  # in leaf, the wood behind the shoots
    today_c = one.hardiness.lt50_c if lasting is None else lasting.lt50_c
    lt50_c = t50_c[1:] + (today_c - t50_c[0]) * np.exp(-ahead / TODAY_TELLS_DAYS)
    return np.asarray(lt50_c), np.hypot((t10_c - t50_c)[1:] / Z_TEN_PERCENT, row.sd_c(lt50_c))


def _by_calendar(row: SpeciesRow, place: Floats) -> tuple[Floats, Floats]:
    """10 and 50 % points at days of the season [°C]: the phases' values, straight between their middles."""
    t10_c, t50_c = (
        np.interp(place, MIDDLES, [getattr(row.wood_hardiness(phase), name) for phase in ORDER])
        for name in ("t10_c", "t50_c")
    )
    return t10_c, t50_c


def _by_winters(usual: UsualWood, place: Floats) -> tuple[Floats, Floats]:
    """The same from past winters; of the summer after it, the last."""
    at = np.minimum(place.astype(np.int64), DAYS - 1)
    return usual.lt10_c[at], usual.lt50_c[at]


def _standing_cost(
    one: SeasonStakes, nights: NightsBeyond, site: Site, mean_c: Floats, hottest_c: Floats, prices: PlanPrices
) -> Floats:
    """What the states cost besides injury, shape (winters, nights, states) [trips].

    Of calendar's phase and today's the further one: within a season none comes back.
    """
    same = nights.place >= season_place(one.hardiness.day, site.latitude_deg).day
    phases = np.where(same, np.maximum(nights.phase, ORDER.index(one.hardiness.phase)), nights.phase)
    met = one.hardiness.chill_met
    spells = ((phases == at, phase, met or phase in SPRING) for at, phase in enumerate(ORDER))
    return nights_standing_cost(mean_c, hottest_c, spells, prices)
