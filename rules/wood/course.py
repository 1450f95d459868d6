"""A species row and a season of felt days make the course of the wood: what each organ can take, day by day."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.records import SightingKind
from rules.garden.species import Organ, SpeciesRow
from rules.garden.tree import Phase, Site
from rules.wood.daily_temperatures import WoodDays
from rules.wood.hardening import FULL_RANGE_C, HardeningCourse, HardeningRates, SeasonDays, SeenBounds, hardening_course
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
ECO_EARLIEST_DAY: Final = 85.0  # 1 December; assumed: in autumn a cold week must not bring wood nearer to waking
LATE_START_DAYS: Final = 14  # assumed: so many warm September days may be missing before the start is a guess
LAST_AUTUMN_DAY: Final = 350  # from here to the new season a sighting belongs to the autumn to come
FIRST_SPRING_DAY: Final = 170  # late February: leaves frozen green from here on are new ones


@dataclass(frozen=True, kw_only=True, eq=False)
class WoodCourse:
    """A season of one tree, day by day from `start`: its wood, with what is known of the record behind it.

    `unknown_days` counts days without a value between the first known day and the day before the last;
    `start_guessed` says the record began so late that the calendar had to set the start.
    """

    start: date
    row: SpeciesRow
    course: HardeningCourse
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
    def lt50_c(self) -> Floats:
        """50 % injury temperature of the watched organ [°C], shape (days,)."""
        return self.course.hc_c[:, 0]

    @property
    def lt10_c(self) -> Floats:
        """10 % injury temperature of the watched organ [°C], shape (days,)."""
        return organ_lt10_c(self.row, self.row.watched, self.course.hc_c, self.course.eco)[0][:, 0]


def wood_course(
    row: SpeciesRow, site: Site, wood_days: WoodDays, sightings: Sequence[JudgedSighting], start: date, days: int
) -> WoodCourse:
    """The season of one tree from its start, driven by what its wood felt and moved by what was seen.

    Parameters
    ----------
    row, site
        What the tree is and where it stands.
    felt
        Days its wood felt, already freed of what is not believed.
    sightings
        Judged sightings of this season; only believed ones move the wood.
    start, days
        First day of the season, and how many days of it are wanted.

    Raises
    ------
    ValueError
        If none of these days is known.
    """
    mean_c = wood_days.means_from(start, days)
    known = np.flatnonzero(~np.isnan(mean_c))
    if not len(known):
        raise ValueError(f"no felt day is known from {start} on for {days} days")
    first = int(known[0])
    late = first > LATE_START_DAYS
    phase = phase_by_date(start + timedelta(days=first), site) if late else Phase.RIPENING
    season = replace(season_days(site, start, [row], days), first_day=first)
    bounds = _bounds(row, sightings, days, green_on=first if phase is Phase.GROWING else None)
    course = hardening_course(mean_c[:, None], hardening_rates([row], phase), season, bounds)
    return WoodCourse(
        start=start, row=row, course=course, phases=_phases(course, row), sightings=tuple(sightings),
        unknown_days=int(np.isnan(mean_c[first:-1]).sum()), start_guessed=late,
    )  # fmt: skip


def winters_lt_c(rows: Sequence[SpeciesRow], site: Site, start: date, mean_c: Floats) -> tuple[Floats, Floats]:
    """Hardiness of many trees through many winters at once: 10 and 50 % injury temperatures of each watched organ [°C].

    Parameters
    ----------
    rows
        One species row per tree.
    site, start
        Where they stand, and the first day of any one of the seasons (day length hardly differs between years).
    mean_c
        Daily means [°C], shape (days, winters) felt alike by every tree, or (days, winters, trees).

    Returns
    -------
    tuple
        T10 and T50, each shape (days, winters, trees).
    """
    lanes = mean_c[:, :, None] if mean_c.ndim == 2 else mean_c
    wood_days = np.broadcast_to(lanes, (*lanes.shape[:2], len(rows)))
    course = hardening_course(wood_days, hardening_rates(rows), season_days(site, start, rows, len(wood_days)))
    wood_hardiness = [
        organ_lt10_c(row, row.watched, course.hc_c[..., i], course.eco[..., i])[0] for i, row in enumerate(rows)
    ]
    return np.stack(wood_hardiness, axis=-1), course.hc_c


def hardening_rates(rows: Sequence[SpeciesRow], first: Phase = Phase.RIPENING) -> HardeningRates:
    """The constants of the daily step for some rows, that begin in phase `first`.

    H0, Hmin, Hmax are the 50 % values of the ripening, growing and resting columns; hardening rates shrink with the
    range, so that a narrow one fills at the same pace (assumed).
    """
    each = []
    for row in rows:
        k, h0_c, hmin_c, hmax_c = row.kinetics, row.t50_c(first), row.t50_c(Phase.GROWING), row.t50_c(Phase.RESTING)
        pace = (hmin_c - hmax_c) / FULL_RANGE_C
        each.append(
            HardeningRates(
                h0_c=h0_c, hmin_c=hmin_c, hmax_c=hmax_c, endo_limit_c=max(h0_c, row.t50_c(Phase.RIPENING)),
                tth_endo_c=k.tth_endo_c, tth_eco_c=k.tth_eco_c, ka_endo=k.ka_endo * pace, ka_eco=k.ka_eco * pace,
                kd_endo=k.kd_endo, kd_eco=k.kd_eco, theta=k.theta, eco_sum_c_days=k.eco_sum_c_days,
            )
        )  # fmt: skip
    return HardeningRates.stacked(each)


def season_days(site: Site, start: date, rows: Sequence[SpeciesRow], days: int) -> SeasonDays:
    """Day length and chill dates of a season at a site, for some rows."""
    latest = np.array([float(day_of_season(row.kinetics.eco_latest)) for row in rows])
    return SeasonDays(
        hardening_share=hardening_share(day_length_h(start, days, site.latitude_deg)),
        eco_earliest=ECO_EARLIEST_DAY,
        eco_latest=latest,
    )


def organ_lt10_c(row: SpeciesRow, organ: Organ, hc_c: Floats, eco: Flags) -> tuple[Floats, Floats]:
    """10 and 50 % injury temperatures [°C] of an organ, from the state of the watched one.

    The table's phases are the points; the state slides between them. Before chill is met it runs over ripening and
    hardening, after it over waking, so that T10 closes up to T50 as the table says it does in spring.
    """
    found = []
    for name in ("t10_c", "t50_c"):
        autumn, spring = (_between(row, organ, name, hc_c, phases) for phases in (AUTUMN, SPRING))
        found.append(np.where(eco, spring, autumn))
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
