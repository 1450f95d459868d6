"""What wood is usually safe to at this place: the middle of its past winters; and how far this season is from it."""

from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.species import YOUNG_YEARS, SpeciesRow
from rules.garden.tree import Site, Tree
from rules.weather.daily_minima import DailyMinima
from rules.wood.course import LATE_START_DAYS, winters_lt_c
from rules.wood.daily_temperatures import WoodDays
from rules.wood.hardiness import tree_row
from rules.wood.season import season_place

Floats = npt.NDArray[np.float64]

DAYS: Final = 300  # of a season: 7 September to 3 July
LEAST_WINTERS: Final = 5  # fewer have no middle worth the name; assumed
MOST_WINTERS: Final = 12  # the last of those known: enough for a middle
MOST_MISSING: Final = 10  # days a winter may lack
YEAR: Final = 2003  # in which a kind of tree has its age; any would do


@dataclass(frozen=True, kw_only=True, eq=False)
class UsualWood:
    """10 and 50 % points [°C] of the lasting organ, shape (DAYS,), day 0 the start of the season."""

    lt10_c: Floats
    lt50_c: Floats


def usual_wood(tree: Tree, site: Site, past: DailyMinima | None, today: date) -> UsualWood | None:
    """The usual course of a tree's wood; None without past maxima, or with fewer than five whole winters.

    Winters are marched once for each kind of tree and then kept: the past does not change.
    """
    return None if past is None or past.max_c is None else _marched(kind_of(tree, today), site, past)


def season_departure_c(tree: Tree, site: Site, past: DailyMinima | None, field: WoodDays, today: date) -> Floats | None:
    """How far wood of this kind, bare in the open field, is from its usual course this season, shape (days,) [°C].

    Above 0 it is more tender than usual. Field against field, so that a tree's own spot and cover do not count as a
    strange season. None where the usual course is not known, or this season not from its beginning.
    """
    usual = usual_wood(tree, site, past, today)
    found = None if usual is None else _this_season(kind_of(tree, today), site, field, today)
    if usual is None or found is None:
        return None
    days = min(len(found), DAYS)
    departure_c = np.zeros(len(found))
    departure_c[:days] = found[:days] - usual.lt50_c[:days]
    return departure_c


def kind_of(tree: Tree, today: date) -> str:
    """All that the course of a tree's wood hangs on, and nothing else: trees of a kind are marched once."""
    age = None if tree.planted_year is None else min(today.year - tree.planted_year, YOUNG_YEARS)
    planted = None if age is None else YEAR - age
    kind = Tree(
        name="any", species=tree.species, cultivar=tree.cultivar, planted_year=planted, safe_to_c=tree.safe_to_c
    )
    return kind.model_dump_json()


def row_of_kind(kind: str) -> SpeciesRow:
    """The species row of a kind of tree."""
    return tree_row(Tree.model_validate_json(kind), date(YEAR, 1, 1))


@lru_cache(maxsize=256)
def _marched(kind: str, site: Site, past: DailyMinima) -> UsualWood | None:
    low_c, high_c = past_seasons(past, site)
    if low_c.shape[1] < LEAST_WINTERS:
        return None
    row, start = row_of_kind(kind), season_place(past.last, site.latitude_deg).start
    lt10_c, half = winters_lt_c([row], site, start, (low_c + high_c) / 2, low_c, high_c)
    return UsualWood(lt10_c=np.median(lt10_c[..., 0], axis=1), lt50_c=np.median(half[..., 0], axis=1))


@lru_cache(maxsize=64)
def _this_season(kind: str, site: Site, field: WoodDays, today: date) -> Floats | None:
    """50 % points of bare wood in the open field from the start of the season to today [°C]."""
    place = season_place(today, site.latitude_deg)
    days = place.day + 1
    believed = field.believed()[0]
    mean_c = believed.means_from(place.start, days)
    known = np.flatnonzero(~np.isnan(mean_c))
    if not len(known) or known[0] > LATE_START_DAYS:
        return None
    low_c, high_c = believed.minima_from(place.start, days), believed.maxima_from(place.start, days)
    row = row_of_kind(kind)
    half = winters_lt_c([row], site, place.start, mean_c[:, None], low_c[:, None], high_c[:, None])[1]
    return half[:, 0, 0]


def past_seasons(past: DailyMinima, site: Site) -> tuple[Floats, Floats]:
    """Extremes of the last whole winters, each (days, winters) [°C]."""
    lows: list[Floats] = []
    highs: list[Floats] = []
    for year in range(past.last.year, past.first.year - 2, -1):
        start = season_place(date(year, 12, 1), site.latitude_deg).start
        last = start + timedelta(days=DAYS - 1)
        low_c, mean_c = past.minima_between(start, last), past.means_between(start, last)
        if np.isnan(mean_c).sum() <= MOST_MISSING and len(lows) < MOST_WINTERS:
            lows.append(low_c)
            highs.append(2 * mean_c - low_c)
    empty = np.empty((DAYS, 0))
    return (np.stack(lows, axis=1), np.stack(highs, axis=1)) if lows else (empty, empty)
