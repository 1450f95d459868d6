"""Where a tree is in its year: from the date, from the model's state, corrected by what the grower saw."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.records import Sighting, SightingKind
from rules.garden.tree import Phase, Site
from rules.site.sun import declination_and_equation_of_time

Floats = npt.NDArray[np.float64]

NORTHERN_START: Final = (9, 7)  # Ferguson et al. 2011, from memory: the model year begins on 7 September
SOUTHERN_START: Final = (3, 7)  # half a year on
SHORT_DAY_H: Final = 12.5  # assumed: at or under this day length cool days harden in full
LONG_DAY_H: Final = 13.5  # assumed: at or over it they do not (kiwi hardens in 8-h, not in 16-h days, HortScience 1990)
HORIZON_DEG: Final = -0.833  # upper limb on the horizon with refraction, the usual definition of sunrise
WOKEN_SHARE: Final = 0.25  # assumed: of its range lost since its hardest, wood counts as waking
LATE_WINTER_DAY: Final = 160  # 14 February: wood that is not resting by now is waking, not still hardening; assumed

# Calendar of a tree nobody measured, by the first day of the season each phase begins on; assumed, no source.
# Warmer and later than an average tree, so that a guess errs toward tender wood: resting only from 1 January.
CALENDAR: Final = (
    (0, Phase.RIPENING),
    (50, Phase.HARDENING),
    (116, Phase.RESTING),
    (167, Phase.WAKING),
    (215, Phase.GROWING),
)

BLOOM_KINDS: Final = (SightingKind.FIRST_BLOOM, SightingKind.FULL_BLOOM, SightingKind.PETALS_FALLEN)
# Days of the season in which a sighting can be meant as it is said; assumed, no source. Outside: kept, not believed.
BELIEVED_DAYS: Final[Mapping[SightingKind, tuple[tuple[int, int], ...]]] = {
    SightingKind.LEAVES_YELLOW: ((-7, 140),),  # 31 August to late January
    SightingKind.LEAVES_DROPPED: ((-7, 160),),
    SightingKind.LEAVES_FROZEN_GREEN: ((-7, 160), (175, 290)),  # autumn; new leaves of spring
    SightingKind.BUDS_SWELLING: ((85, 290),),  # 1 December to late June
    **dict.fromkeys(BLOOM_KINDS, ((100, 330),)),
    SightingKind.LEAFED_OUT: ((100, 330),),
    SightingKind.FRUIT_PEA_SIZE: ((170, 366),),
}
GRACE_DAYS: Final = 7  # a sighting of the last days before the season opens counts on its first day


@dataclass(frozen=True, kw_only=True)
class SeasonPlace:
    """The season a day belongs to, and how far into it the day lies (0 on 7 September, or 7 March in the south)."""

    start: date
    day: int


@dataclass(frozen=True, kw_only=True)
class JudgedSighting:
    """A sighting with the day of the season it belongs to, and whether it can be believed then."""

    sighting: Sighting
    day: int
    believed: bool


@dataclass(frozen=True, kw_only=True)
class SightingEffect:
    """How one sighting moved the model: phase and what the watched organ can take [°C, LT10] before and after.

    A sighting that was not believed moved nothing and is kept all the same.
    """

    sighting: Sighting
    believed: bool
    phase_before: Phase
    phase_after: Phase
    lt10_before_c: float
    lt10_after_c: float

    @property
    def moved(self) -> bool:
        """Whether anything changed."""
        return self.phase_before != self.phase_after or abs(self.lt10_before_c - self.lt10_after_c) >= 0.05


def season_place(day: date, latitude_deg: float) -> SeasonPlace:
    """The season of a day: it runs from 7 September to the next, in the south from 7 March.

    >>> season_place(date(2026, 12, 1), 40.0)
    SeasonPlace(start=datetime.date(2026, 9, 7), day=85)
    >>> season_place(date(2027, 5, 31), -40.0).day
    85
    """
    month, first = NORTHERN_START if latitude_deg >= 0 else SOUTHERN_START
    start = date(day.year, month, first)
    if start > day:
        start = date(day.year - 1, month, first)
    return SeasonPlace(start=start, day=(day - start).days)


def day_of_season(northern: tuple[int, int]) -> int:
    """The day of the season of a northern (month, day), counted from 7 September in a common year.

    >>> day_of_season((12, 1))
    85
    """
    month, day = northern
    after = date(2026 if northern >= NORTHERN_START else 2027, month, day)
    return (after - date(2026, *NORTHERN_START)).days


def day_length_h(start: date, days: int, latitude_deg: float) -> Floats:
    """Hours from sunrise to sunset [h] of each of `days` days from `start`, shape (days,); 0 and 24 beyond the circles.

    >>> day_length_h(date(2026, 9, 23), 1, 45.0).round(1)
    array([12.1])
    """
    noon_s = datetime(start.year, start.month, start.day, 12, tzinfo=UTC).timestamp() + 86400.0 * np.arange(days)
    declination, _ = declination_and_equation_of_time(noon_s)
    latitude, horizon = np.radians(latitude_deg), np.sin(np.radians(HORIZON_DEG))
    cosine = (horizon - np.sin(latitude) * np.sin(declination)) / np.maximum(
        np.cos(latitude) * np.cos(declination), 1e-9
    )
    return np.asarray(2.0 / 15.0 * np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


def hardening_share(day_length: npt.ArrayLike) -> Floats:
    """How far a day length [h] lets cool days harden wood [0-1]: not in long days, in full in short ones (assumed).

    >>> hardening_share([15.0, 13.0, 11.0])
    array([0. , 0.5, 1. ])
    """
    return np.clip((LONG_DAY_H - np.asarray(day_length, dtype=np.float64)) / (LONG_DAY_H - SHORT_DAY_H), 0.0, 1.0)


def phase_by_date(day: date, site: Site) -> Phase:
    """The phase the calendar gives where no weather is known; on the tender side of an average year.

    >>> here = Site(latitude_deg=45, longitude_deg=0, elevation_m=0, time_zone="UTC")
    >>> str(phase_by_date(date(2027, 1, 20), here))
    'resting'
    """
    place = season_place(day, site.latitude_deg).day
    return [phase for first, phase in CALENDAR if first <= place][-1]


def phase_of(
    *, day: int, hc_c: float, hardest_c: float, eco: bool, woke: bool, green: bool, lt50_c: Mapping[Phase, float]
) -> Phase:
    """The phase of one tree from the state of its wood.

    Parameters
    ----------
    day
        Day of the season.
    hc_c, hardest_c
        Its 50 % injury temperature and the hardest it was this season [°C].
    eco, woke, green
        Whether chill is met, buds were seen moving, green tissue shows.
    lt50_c
        50 % injury temperatures of its species by phase [°C]; halves between them bound ripening, hardening, resting.
    """
    if green:
        return Phase.GROWING
    lost_c = hc_c - hardest_c
    rested = hc_c <= (lt50_c[Phase.HARDENING] + lt50_c[Phase.RESTING]) / 2
    softened = lost_c > WOKEN_SHARE * (lt50_c[Phase.GROWING] - lt50_c[Phase.RESTING])
    if woke or (eco and (softened or (day >= LATE_WINTER_DAY and not rested))):
        return Phase.WAKING
    if hc_c > (lt50_c[Phase.RIPENING] + lt50_c[Phase.HARDENING]) / 2:
        return Phase.RIPENING
    return Phase.RESTING if rested else Phase.HARDENING


def judged(sightings: Sequence[Sighting], tree: str, site: Site, today: date) -> tuple[JudgedSighting, ...]:
    """The sightings of one tree in this season up to `today`, in order, each believed or not.

    Leaves that drop in July are no sign of autumn: drought and moving house do that too. Such a sighting is kept with
    `believed` False and moves nothing.
    """
    place = season_place(today, site.latitude_deg)
    found = []
    for sighting in sorted((s for s in sightings if s.tree == tree), key=lambda s: s.at_utc):
        local = sighting.at_utc.astimezone(site.zone).date()
        day = (local - place.start).days
        if -GRACE_DAYS <= day <= place.day:
            believed = _believable(sighting.sight, day)
            found.append(JudgedSighting(sighting=sighting, day=max(day, 0), believed=believed))
    return tuple(found)


def phase_seen(phase: Phase, sight: SightingKind) -> Phase:
    """A phase after a believed sighting, where no model can be moved: never hardier than the sighting allows.

    >>> phase_seen(Phase.RIPENING, SightingKind.LEAVES_DROPPED), phase_seen(Phase.RESTING, SightingKind.BUDS_SWELLING)
    (<Phase.HARDENING: 'hardening'>, <Phase.WAKING: 'waking'>)
    """
    if sight in (SightingKind.LEAFED_OUT, SightingKind.FRUIT_PEA_SIZE, *BLOOM_KINDS):
        return Phase.GROWING
    if sight is SightingKind.BUDS_SWELLING:
        return Phase.GROWING if phase is Phase.GROWING else Phase.WAKING
    if sight is SightingKind.LEAVES_DROPPED:
        return Phase.HARDENING if phase is Phase.RIPENING else phase
    return Phase.HARDENING if phase is Phase.RESTING else phase


def _believable(sight: SightingKind, day: int) -> bool:
    """The last days before 7 September already belong to the autumn that follows."""
    return any(first <= turn <= last for first, last in BELIEVED_DAYS[sight] for turn in (day, day - 365))
