"""A winter that is over, played again by the plan on the forecasts of its evenings: as known in autumn, and as now."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.backtest.living import Lived, lived
from rules.backtest.our_plan import OurPlan
from rules.backtest.winters import DAYS, FIRST_DAY, LAST_DAY, Garden, Truth, Winters, garden_of
from rules.garden.cover import Cover
from rules.garden.tree import Phase, Tree
from rules.learning import LearnedHardiness, WouldHave, observed_minima
from rules.outlook.inputs import OutlookInputs, cover_on
from rules.plan.prices import ASSUMED
from rules.plan.season.forecast_errors import LEADS
from rules.plan.situation import cover_sd_c
from rules.site.microclimate import PRIORS, SiteOffset

Floats = npt.NDArray[np.float64]
Wood = Mapping[str, Sequence[LearnedHardiness]]

HARDENING_UNTIL: Final = 85  # 1 December: what winters taught of the wood is told by phases of the calendar
RESTING_UNTIL: Final = 130  # mid-January
HOURS_OF_A_DAY: Final = 18  # fewer make a day's extremes unknown; no source
MIDWINTER: Final = slice(85, 175)  # 1 December to the end of February: to be known for nine days in ten
MOST_UNKNOWN: Final = 0.1
LEAST_TOLD: Final = 0.5  # share of the evenings of which a forecast was kept
HALF_CLEAR: Final = 0.5  # an ordinary night, as in every replay


@dataclass(frozen=True, kw_only=True)
class Held:
    """What is held of one tree: its air, its cover, and its wood by phase."""

    offset: SiteOffset
    cover: Cover
    wood: Sequence[LearnedHardiness]

    def by_night(self, nights: int, tabled_sd_c: Floats) -> tuple[Floats, Floats]:
        """Shift of what its wood can take, and 1 sd of that, each night [°C]."""
        phases = [phase_of_night(night) for night in range(nights)]
        own = {one.phase: one for one in self.wood if one.outcomes}
        shift_c = np.array([own[phase].shift_c if phase in own else 0.0 for phase in phases])
        sd_c = np.array([own[phase].sd_c if phase in own else 0.0 for phase in phases])
        return shift_c, np.where(sd_c > 0, sd_c, tabled_sd_c)


def phase_of_night(night: int) -> Phase:
    """The phase of wood in a replay's night, by the calendar as its holding costs have it."""
    day = FIRST_DAY + night
    return Phase.HARDENING if day < HARDENING_UNTIL else Phase.RESTING if day < RESTING_UNTIL else Phase.WAKING


def winter_replayed(
    inputs: OutlookInputs, start: date, told_c: Mapping[date, Mapping[date, float]], wood_now: Wood
) -> tuple[WouldHave, ...]:
    """What the plan would have cost that winter: as it knew the garden in autumn, and with what is known now.

    Both meet the same nights: those that came, at places, covers and wood as they are now held to be. Empty where
    nothing was learned, no tree is covered, or too little is known of the winter or of its forecasts.

    Parameters
    ----------
    inputs
        With the season's weather as its past, and what readings taught.
    start
        First day of the season.
    told_c
        By evening, the lows of the open field that were forecast, by the evening of their night [°C].
    wood_now
        What the winters up to this one teach of each tree's wood, by name; `inputs.accepted` is what was held before.
    """
    trees = [tree for tree in inputs.trees if tree.cover and not tree.left_bare]
    winter = _winter(inputs, start) if trees else None
    if winter is None:
        return ()
    errors_c = _errors_c(inputs, start, told_c)
    if errors_c is None:
        return ()
    then = [_then(inputs, tree) for tree in trees]
    now = [_now(inputs, tree, wood_now) for tree in trees]
    if then == now:
        return ()
    autumn, june = (_garden(inputs, trees, winter, held) for held in (then, now))
    truth = Truth(garden=june, rows=june.rows, error_c=errors_c)
    ways = (("as I knew the garden in autumn", autumn), ("with what I know now", june))
    return tuple(_would_have(way, trees, _last(known, truth)) for way, known in ways)


def _then(inputs: OutlookInputs, tree: Tree) -> Held:
    described = inputs.covers[tree.cover or ""]
    return Held(offset=PRIORS[tree.standing], cover=described, wood=tuple(inputs.accepted.get(tree.name, ())))


def _now(inputs: OutlookInputs, tree: Tree, wood_now: Wood) -> Held:
    wood = tuple(wood_now.get(tree.name, inputs.accepted.get(tree.name, ())))
    offset = inputs.offsets.get(tree.name, PRIORS[tree.standing])
    return Held(offset=offset, cover=cover_on(inputs, tree), wood=wood)


def _garden(inputs: OutlookInputs, trees: Sequence[Tree], winter: Winters, held: Sequence[Held]) -> Garden:
    """The garden as it is held: its air warmer or colder, its wood as its winters taught, its doubts as left."""
    pairs = [(tree, one.cover) for tree, one in zip(trees, held, strict=True)]
    plain = garden_of(pairs, inputs.site, winter)
    mean_c = [one.offset.radiation_c * HALF_CLEAR + one.offset.mixed_c for one in held]
    tabled = [np.full(winter.nights, row.sd_resting_c) for row in plain.rows]
    shift_c, sd_c = (
        np.stack(rows)
        for rows in zip(*(one.by_night(winter.nights, tabled[i]) for i, one in enumerate(held)), strict=True)
    )
    return replace(
        plain,
        warmer_c=np.array(mean_c)[:, None] * plain.damping(),
        wood_shift_c=shift_c,
        site_sd_c=np.array([one.offset.sd_c(HALF_CLEAR) for one in held]),
        cover_sd_c=np.array([cover_sd_c(one.cover) for one in held]),
        wood_sd_c=sd_c,
    )


def _last(garden: Garden, truth: Truth) -> Lived:
    plan = OurPlan(garden, truth, ASSUMED)
    return next(one for one in lived(garden, truth, plan, ASSUMED) if one is not None)


def _would_have(way: str, trees: Sequence[Tree], came: Lived) -> WouldHave:
    """Evenings on which any cover was changed are trips, and one at the end if a cover is still on."""
    before = np.concatenate([np.zeros((len(trees), 1), dtype=np.int64), came.course[:, :-1]], axis=1)
    tended = (came.course != before).any(axis=0).sum() + (came.course[:, -1] > 0).any()
    return WouldHave(
        way=way, trips=float(tended), lost={tree.name: float(came.lost[i]) for i, tree in enumerate(trees)}
    )


def _winter(inputs: OutlookInputs, start: date) -> Winters | None:
    """Daily extremes of the season [°C]; days before and after what is known as the nearest week that is."""
    lows, highs = _by_day(inputs, start)
    unknown = np.isnan(lows)
    if unknown[MIDWINTER].mean() > MOST_UNKNOWN:
        return None
    days = np.arange(DAYS)
    min_c, max_c = (np.interp(days, days[~unknown], _ends(one[~unknown])) for one in (lows, highs))
    return Winters(first=start, years=(start.year,), min_c=min_c[None], max_c=max_c[None])


def _ends(known: Floats) -> Floats:
    """Known days whose first and last stand for a week each: what lies beyond is held to have been like it."""
    told = known.copy()
    told[0], told[-1] = known[:7].mean(), known[-7:].mean()
    return told


def _by_day(inputs: OutlookInputs, start: date) -> Floats:
    """Lowest and highest air of each day of the season, shape (2, days) [°C]; NaN where too little is known of it."""
    days: dict[int, list[float]] = {}
    past = inputs.past
    told = zip(past.local_days(inputs.site.zone), past.air_c.tolist(), strict=True) if past else ()
    for day, air_c in told:
        if not np.isnan(air_c):
            days.setdefault((day - start).days, []).append(air_c)
    found = np.full((2, DAYS), np.nan)
    for number, hours in days.items():
        if 0 <= number < DAYS and len(hours) >= HOURS_OF_A_DAY:
            found[:, number] = min(hours), max(hours)
    return found


def _errors_c(inputs: OutlookInputs, start: date, told_c: Mapping[date, Mapping[date, float]]) -> Floats | None:
    """Forecast less what came [°C], shape (1, nights, leads); None where too few evenings were told.

    An evening without a forecast has what was told of its nights the evening before; a night further ahead than any
    forecast reached, the error of the last one it did.
    """
    came_c = observed_minima(inputs.past, inputs.site.zone) if inputs.past else {}
    nights = LAST_DAY - FIRST_DAY + 1
    error = np.zeros((nights, LEADS))
    evenings = [start + timedelta(days=FIRST_DAY + night) for night in range(nights)]
    if np.mean([evening in told_c for evening in evenings]) < LEAST_TOLD:
        return None
    for night, evening in enumerate(evenings):
        ahead = [evening + timedelta(days=lead) for lead in range(LEADS)]
        known = told_c.get(evening, {})
        last = 0.0
        for lead, day in enumerate(ahead):
            if day in known and day in came_c:
                last = known[day] - came_c[day]
            elif not known and night and lead + 1 < LEADS:
                last = error[night - 1, lead + 1]
            error[night, lead] = last
    return error[None]
