"""What each state of a cover is worth beyond the forecast: by past winters, or where none are known by its nights."""

from collections.abc import MutableMapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cache, lru_cache
from hashlib import sha256
from statistics import NormalDist
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.cover import Cover
from rules.garden.species import SpeciesRow
from rules.garden.tree import Site, Tree
from rules.heat.properties import ReadCover
from rules.plan.cover_costs import minutes_of_change
from rules.plan.grower.free_hours import ANY_TIME, FreeHours
from rules.plan.prices import PlanPrices
from rules.plan.season.felt_winters import Seasons, felt_winters, heat_of, seasons_of
from rules.plan.season.marching import SEASON_OVER, TreeTerms
from rules.plan.season.table import SeasonTable, season_table
from rules.weather.daily_minima import DailyMinima
from rules.weather.members import WINTER_SD_C
from rules.wood.hardiness import Hardiness, tree_row
from rules.wood.injury import dose_width_c
from rules.wood.night_losses import LOST_LEVELS, OFF_C, harm_of
from rules.wood.season import season_place
from rules.wood.usual_wood import kind_of, row_of_kind

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
Tables = MutableMapping[str, SeasonTable]  # by what they were made of

QUANTILES: Final = 12  # of ordinary winters that stand for those nobody knows
SHOWN_STEP_SD: Final = 0.25  # of a cover that was read: its numbers are rounded to it, in their prior sd; assumed
STEP_C: Final = 0.5  # offsets and doubts are rounded to it, so that a table lasts for a season


@dataclass(frozen=True, kw_only=True, eq=False)
class NightResponse:
    """What one covered tree makes of the nights of a forecast, each shape (states,).

    Parameters
    ----------
    middle_c, tip_c
        How much warmer than the open at its lowest are middle and tip of the stem, where they hurt [°C].
    share
        How much of one night's departure from the usual the wood feels [0-1].
    low_c
        Mean of those nights' lows in the open, one number [°C].
    """

    middle_c: Floats
    tip_c: Floats
    share: Floats
    low_c: float


@dataclass(frozen=True, kw_only=True, eq=False)
class SeasonStakes:
    """One tree, for the nights beyond the forecast.

    `offset_c` is how much warmer its nights are than the open's, `lasting_c` one sd of the wood from site and cover,
    shape (states,) [°C]; `free` when its grower can work; `mould` whether it was seen under its cover; `tables` those
    made before.
    """

    tree: Tree
    cover: Cover
    hardiness: Hardiness
    response: NightResponse
    offset_c: float
    lasting_c: Floats
    free: FreeHours = ANY_TIME
    mould: bool = False
    tables: Tables = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True, eq=False)
class SeasonAhead:
    """Costs from the end of the forecast on.

    `cost` [trips], shape (trees, states, len(OFF_C), LOST_LEVELS); `off_c`, shape (trees,), how far today's wood would
    be off a bare tree's at that time [°C]; `wraps` whether any cover pays by past winters, same shape, True where none
    are known.
    """

    cost: Floats
    off_c: Floats
    wraps: Flags


def season_ahead(
    stakes: Sequence[SeasonStakes], site: Site, end: date, climate: DailyMinima | None, prices: PlanPrices
) -> SeasonAhead:
    """What the states cost after the forecast.

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
        Past winters; None, or fewer than five of them, takes nights like those of the forecast, give or take the sd of
        ordinary winters (assumed), and says only how the states differ.
    """
    day = season_place(end, site.latitude_deg).day
    visit = prices.visit / len(stakes)
    each = [_of_tree(one, site, day, climate, visit, prices) for one in stakes]
    cost, off_c, wraps = zip(*each, strict=True)
    return SeasonAhead(cost=np.stack(cost), off_c=np.array(off_c), wraps=np.array(wraps))


def _of_tree(
    one: SeasonStakes, site: Site, day: int, climate: DailyMinima | None, visit: float, prices: PlanPrices
) -> tuple[Floats, float, bool]:
    if climate is not None and day >= SEASON_OVER:
        return _taking_off(one, visit, prices), 0.0, True
    table = table_of(one, site, climate, visit, prices)
    if table is None:
        return _nights_like_these(one, visit, prices), 0.0, True
    return table.on(day), float(table.off_c(day, np.asarray(_wood_lt50_c(one)))), table.wraps(day)


def is_season_over(day: date, site: Site) -> bool:
    """Whether all covers are off by a day for good, so that nothing of this season is ahead."""
    return season_place(day, site.latitude_deg).day >= SEASON_OVER


@cache
def winter_off_c(quantiles: int) -> Floats:
    """How far ordinary winters' worst nights are off the usual [°C], the coldest first, shape (quantiles,)."""
    usual = NormalDist(0.0, WINTER_SD_C)
    return np.array([usual.inv_cdf((i + 0.5) / quantiles) for i in range(quantiles)])


def _taking_off(one: SeasonStakes, visit: float, prices: PlanPrices) -> Floats:
    """In summer nothing is ahead but taking off what is still on; no winter needs to be lived through for that."""
    off = np.append(0.0, prices.of_work(1.0) * minutes_of_change(one.cover)[1:, 0] + visit)
    return np.broadcast_to(off[:, None, None], (3, len(OFF_C), len(LOST_LEVELS)))


def _wood_lt50_c(one: SeasonStakes) -> float:
    """Today's 50 % point of the wood; in leaf, of the wood behind the shoots."""
    row = tree_row(one.tree, one.hardiness.day)
    lasting = one.hardiness.organs.get(row.watched)
    return one.hardiness.lt50_c if lasting is None else lasting.lt50_c


def _nights_like_these(one: SeasonStakes, visit: float, prices: PlanPrices) -> Floats:
    """By how much the states differ in a winter whose worst night is like those of the forecast, same shape as a table.

    Each such winter is answered by its own best act, since a forecast will tell of its night too: who has not wrapped
    by then still can, and who has must take it off, when there anyway. A guess at a month must not call wood lost that
    may well live.
    """
    row, response = tree_row(one.tree, one.hardiness.day), one.response
    low_c = response.low_c + winter_off_c(QUANTILES)[:, None] * response.share
    hardiness, half_c = one.hardiness, _wood_lt50_c(one)
    dose = dose_width_c(hardiness.lt10_c, hardiness.lt50_c)
    width = np.sqrt(one.lasting_c**2 + dose**2 + float(row.sd_c(half_c)) ** 2)
    harm = harm_of(np.asarray(half_c), width, low_c + response.middle_c, low_c + response.tip_c)
    work = prices.of_work(1.0) * minutes_of_change(one.cover)
    step = work + visit * (1.0 - np.eye(3)) + work[:, 0]
    best = (step + one.tree.worth_trips * harm[:, None]).min(axis=-1).mean(axis=0)
    return np.broadcast_to((best - best.min())[:, None, None], (3, len(OFF_C), len(LOST_LEVELS)))


def table_of(
    one: SeasonStakes, site: Site, climate: DailyMinima | None, visit: float, prices: PlanPrices
) -> SeasonTable | None:
    """The season's table of one tree, made once and kept; None where too few winters are known."""
    seasons = None if climate is None else seasons_known(climate, site)
    if seasons is None:
        return None
    plain = for_a_season(one.cover)
    bare, vented, closed = (max(STEP_C, _rounded(sd)) for sd in one.lasting_c.tolist())
    terms = (
        kind_of(one.tree, one.hardiness.day), one.tree.worth_trips, plain, site, _rounded(one.offset_c),
        (bare, vented, closed), one.free, one.mould, round(visit, 3), prices,
    )  # fmt: skip
    key = sha256(repr((terms, seasons.first)).encode() + _bytes_of(seasons)).hexdigest()
    if key not in one.tables:
        one.tables[key] = _table(seasons, *terms)
    return one.tables[key]


def for_a_season(cover: Cover) -> Cover:
    """A cover whatever its name; one that was read in steps of what was unknown, so that its tables last for weeks.

    The doubt that is left has a place of its own among the terms.
    """
    if not isinstance(cover, ReadCover):
        return cover.model_copy(update={"name": "any"})
    shown = tuple(round(one / SHOWN_STEP_SD) * SHOWN_STEP_SD for one in cover.shown)
    nothing = tuple((0.0,) * len(shown) for _ in shown)
    update = {"name": "any", "shown": shown, "doubt": nothing, "with_air_c": (0.0,) * len(shown)}
    return cover.model_copy(update=update)


@lru_cache(maxsize=64)
def _bytes_of(seasons: Seasons) -> bytes:
    return sha256(seasons.min_c.tobytes() + seasons.max_c.tobytes()).digest()


def _rounded(value_c: float) -> float:
    return round(value_c / STEP_C) * STEP_C


@lru_cache(maxsize=512)
def _table(
    seasons: Seasons, kind: str, worth: float, cover: Cover, site: Site, offset_c: float,
    lasting_c: tuple[float, float, float], free: FreeHours, mould: bool, visit: float, prices: PlanPrices,
) -> SeasonTable:  # fmt: skip
    row = row_of_kind(kind)
    felt = felt_winters(row, site, seasons, heat_of(cover, site, seasons), offset_c)
    terms = tree_terms(row, worth, cover, lasting_c, seasons.first, free, visit, prices, mould=mould)
    return season_table(felt, terms, prices)


def tree_terms(
    row: SpeciesRow, worth: float, cover: Cover, lasting_c: tuple[float, float, float], first: date, free: FreeHours,
    visit: float, prices: PlanPrices, *, mould: bool = False,
) -> TreeTerms:  # fmt: skip
    """What the seasons of one tree are priced by; `first` is any season's first day, for its weekdays."""
    return TreeTerms(
        row=row, worth=worth, lasting_c=lasting_c,
        step=prices.of_work(1.0) * minutes_of_change(cover) + visit * (1.0 - np.eye(3)),
        minutes=(cover.minutes_to_wrap, cover.minutes_to_close), free_minutes=free.minutes(), weekday=first.weekday(),
        mould=mould,
    )  # fmt: skip


@lru_cache(maxsize=64)
def seasons_known(climate: DailyMinima, site: Site) -> Seasons | None:
    """The seasons of a record, read once; None where too few are known."""
    return seasons_of(climate, site)
