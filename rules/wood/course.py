"""A species row and a season of air make the course of the wood: what each organ can take, day by day."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cache, cached_property
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.species import Kinetics, Organ, SpeciesRow
from rules.garden.tree import Phase, Site
from rules.wood.daily_temperatures import WoodDays
from rules.wood.kinetics.hardening import HardeningCourse, hardening_course
from rules.wood.kinetics.leaves import AutumnDays, leaf_share
from rules.wood.kinetics.rate_doubts import RATE_DOUBTS, moved
from rules.wood.organs import organ_lt10_c
from rules.wood.season import JudgedSighting, phase_by_date, phase_of
from rules.wood.season_drivers import air_of, hardening_rates, rates_of, season_days, seen_bounds

Floats = npt.NDArray[np.float64]

# Of a season's departure from the usual course, the share that is believed. Two models of grape at one place, by other
# seasons' mean and by its weather, were off by 1.85 and 1.94 °C with correlated errors (0.45), their plain mean by 1.61
# (6,251 measurements of 34 seasons): the best weight of the weather's is then 0.46. In the oddest springs weather alone
# was the better one (2.51 for 3.10), so the nearer buds are to leaf-out, the more of it is believed.
BELIEVED_SHARE: Final = 0.5
LEAST_MOVE_C: Final = 0.05  # what a sighting must move for the wood to count as seen
LATE_START_DAYS: Final = 14  # assumed: so many warm September days may be missing before the start is a guess


@dataclass(frozen=True, kw_only=True, eq=False)
class WoodCourse:
    """A season of one tree, day by day from `start`: its wood, with what is known of the record behind it.

    `course` has the model in lane 0; in the lanes after it one rate each is moved up, then down, by its own doubt.
    `leaves` is the share of them still on [0-1], `night_c` the lowest air of the night after each day [°C], NaN of the
    night ahead, `taken_off_c` what is not believed of the season's departure from the usual [°C]; each shape (days,).
    `unknown_days` counts days without a value between the first known day and the day before the last; `start_guessed`
    says the record began so late that the calendar had to set the start.
    """

    start: date
    row: SpeciesRow
    course: HardeningCourse
    leaves: Floats
    night_c: Floats
    taken_off_c: Floats
    phases: tuple[Phase, ...]
    sightings: tuple[JudgedSighting, ...]
    unknown_days: int
    start_guessed: bool

    @cached_property
    def lasting_lt10_c(self) -> Floats:
        """10 % injury temperature of the watched organ, which outlives the leaves [°C], shape (days,)."""
        return organ_lt10_c(self.row, self.row.watched, self.lasting_lt50_c, self.course.readiness[:, 0])[0]

    @cached_property
    def lasting_lt50_c(self) -> Floats:
        """50 % injury temperature of the watched organ [°C], shape (days,): half way from the model to the usual."""
        return self._within(self.course.hc_c[:, 0] - self.taken_off_c)

    @cached_property
    def expected_lt50_c(self) -> Floats:
        """The same as it is to be expected, all rates in doubt [°C], shape (days,).

        Near a limit, as in full rest, a doubtful rate moves wood one way only, so that chances told of the middle rates
        came out too low (.65 told, .72 came). To the second order each rate leans by the mean of its two sides;
        the less so the nearer leaf-out, a step of which no second order tells.
        """
        lanes, middle = self.course.hc_c, self.course.hc_c[:, :1]
        lean_c = ((lanes[:, 1::2] + lanes[:, 2::2]) / 2.0 - middle).sum(axis=1)
        lean_c = np.clip(lean_c, (lanes - middle).min(axis=1), (lanes - middle).max(axis=1))
        return self._within(self.lasting_lt50_c + lean_c * (1.0 - self.course.developed[:, 0]))

    @property
    def lt10_c(self) -> Floats:
        """10 % injury temperature of what freezes first [°C], shape (days,): green shoots while there are any."""
        wood_c = organ_lt10_c(self.row, self.row.watched, self.expected_lt50_c, self.course.readiness[:, 0])[0]
        return self._tenderest(wood_c, self.row.organs[Organ.SHOOTS][Phase.GROWING].lt10_c)

    @property
    def lt50_c(self) -> Floats:
        """50 % injury temperature of what freezes first [°C], shape (days,)."""
        return self._tenderest(self.expected_lt50_c, self.row.organs[Organ.SHOOTS][Phase.GROWING].lt50_c)

    @cached_property
    def rates_sd_c(self) -> Floats:
        """1 sd of the watched organ's 50 % point from the doubts of the rates [°C], shape (days,).

        What was taken off of the season counts too: model and usual then lie 1 sd to either side.
        """
        up, down = self.course.hc_c[:, 1::2], self.course.hc_c[:, 2::2]
        return np.asarray(np.sqrt(np.square((up - down) / 2).sum(axis=1) + np.square(self.taken_off_c)))

    def _within(self, lt50_c: Floats) -> Floats:
        return np.clip(lt50_c, self.row.lt50_c(Phase.RESTING), self.row.lt50_c(Phase.GROWING))

    def _tenderest(self, lasting_c: Floats, shoots_c: float) -> Floats:
        return np.where(self.course.green[:, 0], np.maximum(shoots_c, lasting_c), lasting_c)


def wood_course(
    row: SpeciesRow,
    site: Site,
    wood_days: WoodDays,
    sightings: Sequence[JudgedSighting],
    start: date,
    days: int,
    departure_c: Floats | None = None,
) -> WoodCourse:
    """The season of one tree from its start, driven by the air at it and moved by what was seen.

    Parameters
    ----------
    row, site
        What the tree is and where it stands.
    wood_days
        Days of the air at the tree, inside its cover where one is on, already freed of what is not believed.
    sightings
        Judged sightings of this season; only believed ones move the wood.
    start, days
        First day of the season, and how many days of it are wanted.
    departure_c
        How far the season in the open field is from the usual [°C], shape (days,); None where that is not known.

    Raises
    ------
    ValueError
        If none of these days is known.
    """
    air = air_of(wood_days, start, days, sightings, evergreen=row.kinetics.evergreen)
    known = np.flatnonzero(~np.isnan(air.mean_c))
    if not len(known):
        raise ValueError(f"no day is known from {start} on for {days} days")
    first = int(known[0])
    late = first > LATE_START_DAYS
    phase = phase_by_date(start + timedelta(days=first), site) if late else Phase.RIPENING
    lanes = _in_doubt(row.kinetics)
    season = replace(season_days(lanes, site, start, air, wood_days.maxima_from(start, days)), first_day=first)
    bounds = seen_bounds(row, sightings, days, green_on=first if phase is Phase.GROWING else None)
    rates = rates_of(row, lanes, phase)
    night_c = np.append(wood_days.nights_from(start, days - 1), np.nan)
    mean_c = np.broadcast_to(air.mean_c[:, None], (days, len(lanes)))
    course = hardening_course(mean_c, rates, season, bounds)
    return WoodCourse(
        start=start, row=row, course=course, leaves=leaf_share(air), phases=_phases(course, row),
        night_c=night_c, taken_off_c=_not_believed(course, departure_c),
        sightings=tuple(sightings),
        unknown_days=int(np.isnan(air.mean_c[first:-1]).sum()), start_guessed=late,
    )  # fmt: skip


def _not_believed(course: HardeningCourse, departure_c: Floats | None) -> Floats:
    """What is taken off of a season's departure, shape (days,): nothing more once a sighting has moved the wood."""
    hc_c, free_c = course.hc_c[:, 0], course.free_c[:, 0]
    if departure_c is None:
        return np.zeros_like(hc_c)
    seen = np.logical_or.accumulate((np.abs(hc_c - free_c) > LEAST_MOVE_C) | course.woke[:, 0])
    share = (1.0 - BELIEVED_SHARE) * (1.0 - course.developed[:, 0])
    return np.where(seen, 0.0, share * departure_c[: len(hc_c)])


def winters_lt_c(
    rows: Sequence[SpeciesRow],
    site: Site,
    start: date,
    mean_c: Floats,
    min_c: Floats,
    max_c: Floats,
) -> tuple[Floats, Floats]:
    """What many bare trees are safe to through many winters: 10 and 50 % points of each watched organ [°C].

    Parameters
    ----------
    rows
        One species row per tree.
    site, start
        Where they stand, and the first day of any one of the seasons (day length hardly differs between years).
    mean_c, min_c, max_c
        Of the air [°C], shape (days, winters), the same for every tree.

    Returns
    -------
    tuple
        LT10 and LT50, each shape (days, winters, trees).
    """
    course = winters_course(rows, site, start, mean_c, min_c, max_c)
    limits = [
        organ_lt10_c(row, row.watched, course.hc_c[..., i], course.readiness[..., i])[0] for i, row in enumerate(rows)
    ]
    return np.stack(limits, axis=-1), course.hc_c


@cache
def _in_doubt(middle: Kinetics) -> tuple[Kinetics, ...]:
    """The kinetics of a row, and with each doubtful rate moved either way."""
    return (middle, *(moved(middle, doubt, way) for doubt in RATE_DOUBTS for way in (1, -1)))


def winters_course(
    rows: Sequence[SpeciesRow],
    site: Site,
    start: date,
    mean_c: Floats,
    min_c: Floats,
    max_c: Floats,
) -> HardeningCourse:
    """The courses behind `winters_lt_c`, arrays (days, winters, trees)."""
    air = AutumnDays(mean_c=mean_c, night_c=min_c)
    season = season_days([row.kinetics for row in rows], site, start, air, max_c)
    wood_days = np.broadcast_to(mean_c[:, :, None], (*mean_c.shape, len(rows)))
    return hardening_course(wood_days, hardening_rates(rows), season)


def _phases(course: HardeningCourse, row: SpeciesRow) -> tuple[Phase, ...]:
    lt50_c = _lt50_c(row)
    values = (course.hc_c, course.hardest_c, course.eco, course.woke, course.green)
    days = zip(*(one[:, 0].tolist() for one in values), strict=True)
    return tuple(
        phase_of(day=day, hc_c=hc_c, hardest_c=hardest_c, eco=eco, woke=woke, green=green, lt50_c=lt50_c)
        for day, (hc_c, hardest_c, eco, woke, green) in enumerate(days)
    )


def phase_on(course: HardeningCourse, row: SpeciesRow, day: int, *, before: bool) -> Phase:
    """The phase at the end of a day; `before` its sightings of that day, for saying how they moved it."""
    return phase_of(
        day=day,
        hc_c=float((course.free_c if before else course.hc_c)[day, 0]),
        hardest_c=float(course.hardest_c[day, 0]),
        eco=bool(course.eco[day, 0]),
        woke=bool(course.woke[day - 1 if before and day else day, 0]),
        green=bool((course.green_before if before else course.green)[day, 0]),
        lt50_c=_lt50_c(row),
    )


def _lt50_c(row: SpeciesRow) -> dict[Phase, float]:
    return {phase: row.lt50_c(phase) for phase in Phase}
