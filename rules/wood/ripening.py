"""Will the main crop ripen before the first killing freeze, on last year's wood and on shoots from the ground?

Every past year is one trial: its warmth from leaf-out on, its first killing freeze. What is not known well (leaf-out,
the heat a crop needs, how much later a tree comes from the ground) is spread over five equally likely values each, so
the same past gives the same answer. The difference of the two answers is why wood is worth saving.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from statistics import NormalDist
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.doubt import Doubt, DoubtKind
from rules.garden.species import RipeningHeat
from rules.weather.daily_minima import DailyMinima
from rules.weather.freeze_seasons import (
    ENOUGH_WINTERS,
    LEAST_WINTERS,
    MOST_MISSING_DAYS,
    WhichFreeze,
    first_of_season,
    freeze_year,
)

Floats = npt.NDArray[np.float64]

KILLING_FREEZE_C: Final = -2.2  # 28 °F, customarily the killing freeze, from memory
FIFTHS: Final = np.array([0.1, 0.3, 0.5, 0.7, 0.9])  # middles of five equally likely parts
LATER_FROM_GROUND_WEEKS: Final = (3.0, 7.0)  # how much later shoots from the ground leaf out; assumed, no source
LEAF_OUT_SD_DAYS: Final = 7.0  # of a leaf-out nobody has seen yet; assumed, no source
DAYS_BEFORE: Final = 60  # room before the expected leaf-out for an early one
LONGEST_DAYS: Final = 300  # a crop not ripe so long after leaf-out is not that year's; assumed, no source
LEAF_OUT_C_D: Final = (
    100.0  # base 10 °C: late grapes' bud break (an author's estimate, Purdue extension); fig assumed so
)
LEAF_OUT_BASE_C: Final = 10.0


@dataclass(frozen=True, kw_only=True)
class DateSpread:
    """The date one year in ten, half, and nine in ten have reached; None where that many never do."""

    early: date | None
    half: date | None
    late: date | None


@dataclass(frozen=True, kw_only=True)
class Ripening:
    """The answer to "will they ripen".

    Parameters
    ----------
    with_wood, from_ground
        Chance that fruit is ripe before the first killing freeze, if last year's wood lives and if the tree comes from
        the ground [0-1]; None where it cannot be known.
    ripe_with_wood, ripe_from_ground
        When it would be ripe, freeze or not.
    killing_freeze
        The first killing freeze of autumn.
    weeks_gained
        How much earlier wood ripens its crop, between the middle dates [weeks]; None where one of them never comes.
    years
        How many past years it rests on.
    doubts
        Why it may be wrong.
    """

    with_wood: float | None
    from_ground: float | None
    ripe_with_wood: DateSpread | None
    ripe_from_ground: DateSpread | None
    killing_freeze: DateSpread | None
    weeks_gained: float | None
    years: int
    doubts: tuple[Doubt, ...]


def ripening(
    past: DailyMinima | None,
    heat: RipeningHeat | None,
    leaf_out: date,
    latitude_deg: float,
    *,
    leaf_out_sd_days: float = LEAF_OUT_SD_DAYS,
    killing_c: float = KILLING_FREEZE_C,
    offset_c: float = 0.0,
    this_year: DailyMinima | None = None,
) -> Ripening:
    """Chance and dates of a ripe main crop, with wood and from the ground.

    Parameters
    ----------
    past
        Daily minima of past years with their maxima; None where nothing is known.
    heat
        What the crop needs (`species.ripening_heat`); None where unknown.
    leaf_out
        When last year's wood leafs out this year, seen or expected.
    latitude_deg
        Which half of the earth.
    leaf_out_sd_days
        1 sd of `leaf_out` [days]; 0 once it was seen.
    killing_c
        The freeze that ends ripening, at the tree [°C].
    offset_c
        How much warmer the tree's nights are than the open field's [°C]; its days are taken as the field's.
    this_year
        This year's days so far, in place of the same days of past years; None where unknown.

    Returns
    -------
    Ripening
        Numbers None with a doubt where heat or past is unknown, maxima are, or fewer than ten years are usable.

    Raises
    ------
    ValueError
        A negative `leaf_out_sd_days`, or one that reaches out of the season.
    """
    if not 0 <= leaf_out_sd_days <= DAYS_BEFORE / 2:
        raise ValueError(f"leaf_out_sd_days is {leaf_out_sd_days:g}, believable is 0 to {DAYS_BEFORE / 2:g}")
    if heat is None:
        return _unknown(Doubt(kind=DoubtKind.RIPENING_GUESSED))
    weak = Doubt(kind=DoubtKind.RIPENING_GUESSED, amount=(heat.high_c_d - heat.low_c_d) / 2)
    if past is None or past.max_c is None:
        return _unknown(weak, Doubt(kind=DoubtKind.NO_PAST_WINTERS))
    limit_c = killing_c - offset_c + past.half_unit_c
    trials = [
        trial
        for year in range(past.first.year - 1, past.last.year + 1)
        if (trial := _trial(past, this_year, leaf_out, year, latitude_deg, limit_c, heat.base_c)) is not None
    ]
    if len(trials) < LEAST_WINTERS:
        return _unknown(weak, Doubt(kind=DoubtKind.NO_PAST_WINTERS, amount=float(len(trials))))
    few = (Doubt(kind=DoubtKind.FEW_PAST_WINTERS, amount=float(len(trials))),) if len(trials) < ENOUGH_WINTERS else ()
    return _answer(trials, heat, leaf_out, leaf_out_sd_days, (weak, *few, *past.doubts))


def expected_leaf_out(past: DailyMinima | None, year: int, latitude_deg: float) -> date | None:
    """The middle of past years' dates with 100 °C-days base 10 °C since midwinter: assumed for fig, weak.

    None without past years and their maxima, or with fewer than ten usable ones. Midwinter is 1 January, south of the
    equator 1 July.
    """
    if past is None or past.max_c is None:
        return None
    days = []
    for past_year in range(past.first.year, past.last.year + 1):
        begins = date(past_year, 7 if latitude_deg < 0 else 1, 1)
        means = past.means_between(begins, begins + timedelta(240))
        reached = np.cumsum(np.maximum(np.nan_to_num(means, nan=LEAF_OUT_BASE_C) - LEAF_OUT_BASE_C, 0)) >= LEAF_OUT_C_D
        if np.isnan(means).sum() <= MOST_MISSING_DAYS and reached.any():
            days.append(int(np.argmax(reached)))
    middle = date(year, 7 if latitude_deg < 0 else 1, 1) + timedelta(int(np.median(days))) if days else None
    return middle if len(days) >= LEAST_WINTERS else None


def _unknown(*doubts: Doubt) -> Ripening:
    return Ripening(
        with_wood=None,
        from_ground=None,
        ripe_with_wood=None,
        ripe_from_ground=None,
        killing_freeze=None,
        weeks_gained=None,
        years=0,
        doubts=doubts,
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class _Trial:
    """One past year: heat gathered by each day since 60 days before leaf-out [°C d], and the day of the freeze."""

    gathered_c_d: Floats
    freeze_day: float


def _trial(
    past: DailyMinima,
    this_year: DailyMinima | None,
    leaf_out: date,
    year: int,
    latitude_deg: float,
    limit_c: float,
    base_c: float,
) -> _Trial | None:
    """A past year laid over this one day by day; None where too many of its days are missing."""
    same = date(year, leaf_out.month, min(leaf_out.day, 28) if leaf_out.month == 2 else leaf_out.day)
    first, last = same - timedelta(DAYS_BEFORE), same + timedelta(LONGEST_DAYS)
    minima, means = past.minima_between(first, last), past.means_between(first, last)
    if this_year is not None:
        begins, ends = leaf_out - timedelta(DAYS_BEFORE), leaf_out + timedelta(LONGEST_DAYS)
        minima = _overlaid(this_year.minima_between(begins, ends), minima)
        means = _overlaid(this_year.means_between(begins, ends), means)
    autumn = first_of_season(
        freeze_year(same, WhichFreeze.FIRST_IN_AUTUMN, latitude_deg) + 1, WhichFreeze.FIRST_IN_AUTUMN, latitude_deg
    )
    cold = np.flatnonzero(minima <= limit_c)
    cold = cold[cold >= (autumn - first).days]
    freeze_day = float(cold[0]) if cold.size else np.inf
    missing = np.isnan(means[: int(min(freeze_day, len(means)))])
    if missing.sum() > MOST_MISSING_DAYS:
        return None
    day = np.arange(len(means))
    known = ~np.isnan(means)
    filled = np.interp(day, day[known], means[known])
    return _Trial(gathered_c_d=np.cumsum(np.maximum(filled - base_c, 0.0)), freeze_day=freeze_day)


def _overlaid(new: Floats, old: Floats) -> Floats:
    return np.where(np.isnan(new), old, new)


def _answer(
    trials: list[_Trial], heat: RipeningHeat, leaf_out: date, sd_days: float, doubts: tuple[Doubt, ...]
) -> Ripening:
    needs_c_d = heat.low_c_d + FIFTHS * (heat.high_c_d - heat.low_c_d)
    with_wood = DAYS_BEFORE + sd_days * np.array([NormalDist().inv_cdf(part) for part in FIFTHS])
    low_weeks, high_weeks = LATER_FROM_GROUND_WEEKS
    from_ground = (with_wood[:, None] + 7 * (low_weeks + FIFTHS * (high_weeks - low_weeks))).ravel()
    freeze_day = np.array([trial.freeze_day for trial in trials])
    wood, ground = (_ripe_days(trials, starts, needs_c_d) for starts in (with_wood, from_ground))
    first = leaf_out - timedelta(DAYS_BEFORE)
    gained = float(_quantile(ground, 0.5) - _quantile(wood, 0.5)) / 7 if np.isfinite(_quantile(ground, 0.5)) else None
    return Ripening(
        with_wood=float(np.mean(wood < freeze_day[:, None])),
        from_ground=float(np.mean(ground < freeze_day[:, None])),
        ripe_with_wood=_spread(wood, first),
        ripe_from_ground=_spread(ground, first),
        killing_freeze=_spread(freeze_day, first),
        weeks_gained=gained,
        years=len(trials),
        doubts=doubts,
    )


def _ripe_days(trials: list[_Trial], starts: Floats, needs_c_d: Floats) -> Floats:
    """Day of ripeness of each trial, start and need, shape (trials, starts × needs); infinity where it never comes."""
    days = np.empty((len(trials), starts.size * needs_c_d.size))
    from_day = np.clip(np.round(starts).astype(int), 0, DAYS_BEFORE + LONGEST_DAYS)
    for i, trial in enumerate(trials):
        reach = (trial.gathered_c_d[from_day][:, None] + needs_c_d).ravel()
        found = np.searchsorted(trial.gathered_c_d, reach)
        days[i] = np.where(found < len(trial.gathered_c_d), found, np.inf)
    return days


def _quantile(days: Floats, share: float) -> float:
    return float(np.quantile(days, share, method="inverted_cdf"))


def _spread(days: Floats, first: date) -> DateSpread:
    found = [_quantile(days, share) for share in (0.1, 0.5, 0.9)]
    early, half, late = (first + timedelta(int(day)) if np.isfinite(day) else None for day in found)
    return DateSpread(early=early, half=half, late=late)
