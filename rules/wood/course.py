"""A species row and a season of air make the course of the wood: what each organ can take, day by day."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.records import SightingKind
from rules.garden.species import Kinetics, Organ, SpeciesRow
from rules.garden.tree import Phase, Site
from rules.wood.daily_temperatures import WoodDays
from rules.wood.kinetics.hardening import HardeningCourse, HardeningRates, SeasonDays, SeenBounds, hardening_course
from rules.wood.kinetics.leaves import AutumnDays, hardening_by_stage, leaf_share
from rules.wood.kinetics.rate_doubts import RATE_DOUBTS, moved
from rules.wood.kinetics.readiness import daily_portions, ready_by_date, ready_by_portions_met, ready_by_sum
from rules.wood.season import (
    JudgedSighting,
    day_length_h,
    day_of_season,
    hardening_share,
    phase_by_date,
    phase_of,
)

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

AUTUMN: Final = (Phase.RESTING, Phase.HARDENING, Phase.RIPENING, Phase.GROWING)  # hardest first
SPRING: Final = (Phase.RESTING, Phase.WAKING, Phase.GROWING)
LATE_START_DAYS: Final = 14  # assumed: so many warm September days may be missing before the start is a guess
LAST_AUTUMN_DAY: Final = 350  # from here to the new season a sighting belongs to the autumn to come
FIRST_SPRING_DAY: Final = 170  # late February: leaves frozen green from here on are new ones
USUAL_SWING_C: Final = 5.0  # half the swing of a day of which only the mean is known; assumed
LEAVES_GONE: Final = (SightingKind.LEAVES_DROPPED, SightingKind.LEAVES_FROZEN_GREEN)


@dataclass(frozen=True, kw_only=True, eq=False)
class WoodCourse:
    """A season of one tree, day by day from `start`: its wood, with what is known of the record behind it.

    `course` has the model in lane 0; in the lanes after it one rate each is moved up, then down, by its own doubt.
    `leaves` is the share of them still on [0-1], shape (days,).
    `unknown_days` counts days without a value between the first known day and the day before the last; `start_guessed`
    says the record began so late that the calendar had to set the start.
    """

    start: date
    row: SpeciesRow
    course: HardeningCourse
    leaves: Floats
    phases: tuple[Phase, ...]
    sightings: tuple[JudgedSighting, ...]
    unknown_days: int
    start_guessed: bool

    @property
    def green_from(self) -> date | None:
        """The first day green tissue shows, by the model or as seen; None while there is none."""
        days = np.flatnonzero(self.course.green[:, 0])
        return self.start + timedelta(days=int(days[0])) if len(days) else None

    @property
    def lasting_lt10_c(self) -> Floats:
        """10 % injury temperature of the watched organ, which outlives the leaves [°C], shape (days,)."""
        return organ_lt10_c(self.row, self.row.watched, self.lasting_lt50_c, self.course.readiness[:, 0])[0]

    @property
    def lasting_lt50_c(self) -> Floats:
        """50 % injury temperature of the watched organ [°C], shape (days,)."""
        return self.course.hc_c[:, 0]

    @property
    def lt10_c(self) -> Floats:
        """10 % injury temperature of what freezes first [°C], shape (days,): green shoots while there are any."""
        return self._tenderest(self.lasting_lt10_c, self.row.organs[Organ.SHOOTS][Phase.GROWING].t10_c)

    @property
    def lt50_c(self) -> Floats:
        """50 % injury temperature of what freezes first [°C], shape (days,)."""
        return self._tenderest(self.lasting_lt50_c, self.row.organs[Organ.SHOOTS][Phase.GROWING].t50_c)

    @property
    def rates_sd_c(self) -> Floats:
        """1 sd of the watched organ's 50 % point from the doubts of the rates [°C], shape (days,)."""
        up, down = self.course.hc_c[:, 1::2], self.course.hc_c[:, 2::2]
        return np.asarray(np.sqrt(np.square((up - down) / 2).sum(axis=1)))

    def _tenderest(self, lasting_c: Floats, shoots_c: float) -> Floats:
        return np.where(self.course.green[:, 0], np.maximum(shoots_c, lasting_c), lasting_c)


def wood_course(
    row: SpeciesRow, site: Site, wood_days: WoodDays, sightings: Sequence[JudgedSighting], start: date, days: int
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

    Raises
    ------
    ValueError
        If none of these days is known.
    """
    air = _air_from(wood_days, start, days, sightings, evergreen=row.kinetics.evergreen)
    known = np.flatnonzero(~np.isnan(air.mean_c))
    if not len(known):
        raise ValueError(f"no day is known from {start} on for {days} days")
    first = int(known[0])
    late = first > LATE_START_DAYS
    phase = phase_by_date(start + timedelta(days=first), site) if late else Phase.RIPENING
    lanes = [row.kinetics, *(moved(row.kinetics, doubt, way) for doubt in RATE_DOUBTS for way in (1, -1))]
    season = replace(_season_days(lanes, site, start, air, wood_days.maxima_from(start, days)), first_day=first)
    bounds = _bounds(row, sightings, days, green_on=first if phase is Phase.GROWING else None)
    rates = HardeningRates.stacked([_rates(row, kinetics, phase) for kinetics in lanes])
    mean_c = np.broadcast_to(air.mean_c[:, None], (days, len(lanes)))
    course = hardening_course(mean_c, rates, season, bounds)
    return WoodCourse(
        start=start, row=row, course=course, leaves=leaf_share(air), phases=_phases(course, row),
        sightings=tuple(sightings),
        unknown_days=int(np.isnan(air.mean_c[first:-1]).sum()), start_guessed=late,
    )  # fmt: skip


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
        T10 and T50, each shape (days, winters, trees).
    """
    course = winters_course(rows, site, start, mean_c, min_c, max_c)
    limits = [
        organ_lt10_c(row, row.watched, course.hc_c[..., i], course.readiness[..., i])[0] for i, row in enumerate(rows)
    ]
    return np.stack(limits, axis=-1), course.hc_c


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
    season = _season_days([row.kinetics for row in rows], site, start, air, max_c)
    wood_days = np.broadcast_to(mean_c[:, :, None], (*mean_c.shape, len(rows)))
    return hardening_course(wood_days, hardening_rates(rows), season)


def hardening_rates(rows: Sequence[SpeciesRow], first: Phase = Phase.RIPENING) -> HardeningRates:
    """The constants of the daily step for some rows, that begin in phase `first`."""
    return HardeningRates.stacked([_rates(row, row.kinetics, first) for row in rows])


def _rates(row: SpeciesRow, k: Kinetics, first: Phase) -> HardeningRates:
    """H0, Hmin, Hmax are the 50 % values of the ripening, growing and resting columns.

    Buds become green shoots; wood that has woken is safe to what swollen wood is, and never less.
    """
    h0_c, hmin_c, hmax_c = row.t50_c(first), row.t50_c(Phase.GROWING), row.t50_c(Phase.RESTING)
    spring_c = row.t50_c(Phase.WAKING) if row.watched is Organ.WOOD else hmin_c
    h0_c = min(h0_c, spring_c) if first is Phase.GROWING else h0_c
    return HardeningRates(
        h0_c=h0_c, hmin_c=hmin_c, hmax_c=hmax_c, autumn_limit_c=max(h0_c, row.t50_c(Phase.RIPENING)),
        spring_limit_c=spring_c, tth_endo_c=k.tth_endo_c, tth_eco_c=k.tth_eco_c, ka_endo=k.ka_endo, ka_eco=k.ka_eco,
        kd_endo=k.kd_endo, kd_eco=k.kd_eco, theta=k.theta, develop_base_c=k.develop_base_c,
        leaf_out_c_days=k.leaf_out_c_days,
    )  # fmt: skip


def _air_from(
    wood_days: WoodDays, start: date, days: int, sightings: Sequence[JudgedSighting], *, evergreen: bool
) -> AutumnDays:
    off = [s.day for s in sightings if s.believed and s.day < FIRST_SPRING_DAY and s.sighting.sight in LEAVES_GONE]
    return AutumnDays(
        mean_c=wood_days.means_from(start, days), night_c=wood_days.minima_from(start, days),
        light=wood_days.light_from(start, days), off_day=min(off) if off else None, evergreen=evergreen,
    )  # fmt: skip


def _season_days(lanes: Sequence[Kinetics], site: Site, start: date, air: AutumnDays, max_c: Floats) -> SeasonDays:
    """Readiness and hardening share of each lane along a last axis, from air of shape (days, ...)."""
    days = len(air.mean_c)
    length = hardening_share(day_length_h(start, days, site.latitude_deg))
    length = length.reshape(days, *(1 for _ in air.mean_c.shape))
    needed = any(k.chill_portions for k in lanes)
    low_c, high_c = _extremes(air, max_c)
    portions = daily_portions(low_c, high_c) if needed else air.mean_c
    stages = {
        (k.frost_gain, k.evergreen): hardening_by_stage(replace(air, evergreen=k.evergreen), frost_gain=k.frost_gain)
        for k in lanes
    }
    share = np.stack([stages[k.frost_gain, k.evergreen] for k in lanes], axis=-1)
    ready = np.stack([np.broadcast_to(_ready(k, air.mean_c, portions), air.mean_c.shape) for k in lanes], axis=-1)
    return SeasonDays(hardening_share=length * share, readiness=ready)


def _ready(k: Kinetics, mean_c: Floats, portions: Floats) -> Floats:
    if k.chill_portions:
        return ready_by_portions_met(portions, k.chill_portions)
    if k.chill_sum_c_days:
        return ready_by_sum(mean_c, k.chill_sum_c_days)
    by_date = ready_by_date(len(mean_c), day_of_season(k.half_ready) + k.half_ready_shift_days)
    return by_date.reshape(len(mean_c), *(1 for _ in mean_c.shape[1:]))


def _extremes(air: AutumnDays, max_c: Floats) -> tuple[Floats, Floats]:
    """Extremes of every day; where only the mean is known, an ordinary day's swing about it."""
    low_c = np.where(np.isnan(air.night_c), air.mean_c - USUAL_SWING_C, air.night_c)
    return low_c, np.where(np.isnan(max_c), air.mean_c + USUAL_SWING_C, max_c)


def organ_lt10_c(row: SpeciesRow, organ: Organ, hc_c: Floats, ready: Floats) -> tuple[Floats, Floats]:
    """10 and 50 % injury temperatures [°C] of an organ, from the state of the watched one.

    The table's phases are the points; the state slides between them. In deep rest it runs over ripening and hardening,
    ready to wake over waking, so that T10 closes up to T50 as the table says it does in spring; between, between.
    """
    found = []
    for name in ("t10_c", "t50_c"):
        autumn, spring = (_between(row, organ, name, hc_c, phases) for phases in (AUTUMN, SPRING))
        found.append(autumn + ready * (spring - autumn))
    return found[0], found[1]


def _between(row: SpeciesRow, organ: Organ, name: str, hc_c: Floats, phases: Sequence[Phase]) -> Floats:
    points = [row.t50_c(phase) for phase in phases]
    table = row.organs[organ]
    values = [getattr(table.get(phase, table[Phase.GROWING]), name) for phase in phases]
    return np.asarray(np.interp(hc_c, points, values), dtype=np.float64)


def _phases(course: HardeningCourse, row: SpeciesRow) -> tuple[Phase, ...]:
    return tuple(phase_on(course, row, day, before=False) for day in range(len(course.hc_c)))


def phase_on(course: HardeningCourse, row: SpeciesRow, day: int, *, before: bool) -> Phase:
    """The phase at the end of a day; `before` its sightings of that day, for saying how they moved it."""
    return phase_of(
        day=day,
        hc_c=float((course.free_c if before else course.hc_c)[day, 0]),
        hardest_c=float(course.hardest_c[day, 0]),
        eco=bool(course.eco[day, 0]),
        woke=bool(course.woke[day - 1 if before and day else day, 0]),
        green=bool((course.green_before if before else course.green)[day, 0]),
        t50_c={phase: row.t50_c(phase) for phase in Phase},
    )


def _bounds(row: SpeciesRow, sightings: Sequence[JudgedSighting], days: int, *, green_on: int | None) -> SeenBounds:
    """What believed sightings impose, on the tender side of what they can mean.

    Yellow leaves and leaves frozen green: no harder than wood whose leaves are just off. Leaves dropped: at least half
    way from ripening to hardening, a sign and not a measurement. Swelling buds: no harder than waking. New leaves or
    young fruit: green, nothing is regained.
    """
    raised, lowered = np.full(days, np.nan), np.full(days, np.nan)
    woke, green = np.zeros(days, dtype=bool), np.zeros(days, dtype=bool)
    just_off = row.t50_c(Phase.HARDENING)
    for seen in (s for s in sightings if s.believed and s.day < min(days, LAST_AUTUMN_DAY)):
        sight = seen.sighting.sight
        if sight in (SightingKind.LEAVES_YELLOW, SightingKind.LEAVES_FROZEN_GREEN) and seen.day < FIRST_SPRING_DAY:
            raised[seen.day] = np.fmax(raised[seen.day], just_off)
        elif sight is SightingKind.LEAVES_DROPPED:
            lowered[seen.day] = (row.t50_c(Phase.RIPENING) + just_off) / 2
        elif sight is SightingKind.BUDS_SWELLING:
            raised[seen.day], woke[seen.day] = np.fmax(raised[seen.day], row.t50_c(Phase.WAKING)), True
        elif sight in (SightingKind.LEAFED_OUT, SightingKind.FRUIT_PEA_SIZE):
            green[seen.day] = True
    if green_on is not None:
        green[green_on] = True
    return SeenBounds(raise_to_c=raised, lower_to_c=lowered, woke=woke, leafed_out=green)
