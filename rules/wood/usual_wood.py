"""What the wood of a bare tree is usually safe to at this place, day by day: the middle of its own past winters."""

from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.species import YOUNG_YEARS
from rules.garden.tree import Phase, Site, Tree
from rules.weather.daily_minima import DailyMinima
from rules.wood.course import winters_lt_c
from rules.wood.hardiness import tree_row
from rules.wood.season import season_place

Floats = npt.NDArray[np.float64]

DAYS: Final = 300  # of a season: 7 September to 3 July
LEAST_WINTERS: Final = 5  # fewer have no middle worth the name; assumed
MOST_WINTERS: Final = 12  # the last of those known: enough for a middle
MOST_MISSING: Final = 10  # days a winter may lack


@dataclass(frozen=True, kw_only=True, eq=False)
class UsualWood:
    """10 and 50 % points [°C] of the lasting organ, shape (DAYS,), day 0 the start of the season."""

    lt10_c: Floats
    lt50_c: Floats


def usual_wood(tree: Tree, site: Site, past: DailyMinima | None, today: date) -> UsualWood | None:
    """The usual course of a tree's wood; None without past maxima, or with fewer than five whole winters.

    Winters are marched once for each kind of tree and then kept: the past does not change.
    """
    if past is None or past.max_c is None:
        return None
    age = None if tree.planted_year is None else min(today.year - tree.planted_year, YOUNG_YEARS)
    own = tuple(sorted((str(phase), value) for phase, value in tree.safe_to_c.items()))
    return _marched(tree.species, tree.cultivar, age, own, site, past)


@lru_cache(maxsize=256)
def _marched(
    species: str,
    cultivar: str,
    age_years: int | None,
    own: tuple[tuple[str, float], ...],
    site: Site,
    past: DailyMinima,
) -> UsualWood | None:
    planted = None if age_years is None else 2000
    kind = Tree(
        name="any",
        species=species,
        cultivar=cultivar,
        planted_year=planted,
        safe_to_c={Phase(phase): value for phase, value in own},
    )
    row = tree_row(kind, date(2000 + (age_years or 0), 1, 1))
    low_c, high_c = _winters(past, site)
    if low_c.shape[1] < LEAST_WINTERS:
        return None
    start = season_place(past.last, site.latitude_deg).start
    lt10_c, half = winters_lt_c([row], site, start, (low_c + high_c) / 2, low_c, high_c)
    return UsualWood(lt10_c=np.median(lt10_c[..., 0], axis=1), lt50_c=np.median(half[..., 0], axis=1))


def _winters(past: DailyMinima, site: Site) -> tuple[Floats, Floats]:
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
