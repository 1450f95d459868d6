"""Whether a garden whose covers are all off is sure to need none: told by the air, before any cover is reckoned."""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from rules.garden.cover import CoverState
from rules.garden.tree import Site
from rules.plan.beyond_forecast import QUANTILES, is_season_over, winter_off_c
from rules.plan.certainty.staying import SURE
from rules.plan.prices import ASSUMED, PlanPrices
from rules.plan.situation import TreeSituation, air_doses_c, foreseen_share, known, tends_in_own_way, unforeseen_of
from rules.plan.slots import DayPart, Slot, marks_of
from rules.weather.daily_minima import DailyMinima
from rules.wood.injury import NO_FROST_C

Floats = npt.NDArray[np.float64]


def needs_no_cover(
    tended: Sequence[TreeSituation],
    times: Sequence[Slot],
    site: Site,
    climate: DailyMinima | None,
    prices: PlanPrices = ASSUMED,
) -> bool:
    """Whether no act can pay: every cover is off, no member freezes, and nor does the time after the forecast.

    Without frost no wood is lost whatever it can take, a bare tree costs nothing, and covering costs at least a share
    of a visit. After the forecast nothing is lost where the season is over, or where nobody knows past winters and the
    coldest ordinary night about those of the forecast does not freeze.
    """
    if not times or prices.visit / max(1, len(tended)) <= SURE:
        return False
    if any(one.state is not CoverState.BARE or tends_in_own_way(one.tree) for one in tended):
        return False
    off_c = 0.0 if climate is not None else float(winter_off_c(QUANTILES)[0])
    if climate is not None and not is_season_over(times[-1].day, site):
        return False
    spans = [slice(a + 1, b + 1) for a, b in pairwise(marks_of(times, tended[0].weather.air_c.shape[-1]))]
    doses = air_doses_c(tended, spans)
    return _freezes_nowhere(doses, foreseen_share(tended, spans)) and _ordinary_c(doses, times) + off_c >= NO_FROST_C


def _freezes_nowhere(doses: Floats, foreseen: Floats) -> bool:
    """Whether no member freezes a bare tree, nor if the last forecast errs; doses (trees, slots, members) [°C]."""
    tissue = np.swapaxes(doses, 1, 2)[:, None]
    coldest_c = known(tissue, foreseen).min(axis=1) - unforeseen_of(tissue, foreseen)
    return bool((coldest_c >= NO_FROST_C).all())


def _ordinary_c(doses: Floats, times: Sequence[Slot]) -> float:
    """Mean of the forecast's nights at the coldest tree [°C]."""
    nights = [k for k, slot in enumerate(times) if slot.part is DayPart.EVENING] or [len(times) - 1]
    return float(doses[:, nights].mean(axis=(1, 2)).min())
