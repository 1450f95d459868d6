"""What the wood of a tree can take on a given night: the model of its own winter, the table, the grower's word."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from typing import Final

import numpy as np

from rules.garden.doubt import Doubt, DoubtKind
from rules.garden.records import Sighting, SightingKind
from rules.garden.species import Organ, SpeciesRow, species_row
from rules.garden.tree import Phase, Site, Tree
from rules.wood.course import WoodCourse, organ_lt10_c, phase_on, wood_course
from rules.wood.daily_temperatures import WoodDays as WoodDays
from rules.wood.season import JudgedSighting, SightingEffect, judged, phase_by_date, phase_seen, season_place

GUESSED_START_SD_C: Final = 1.5  # assumed: added where a season began on the calendar's value
UNKNOWN_DAY_SD_C: Final = 0.2  # assumed: added for each day nobody knows, up to MOST_UNKNOWN_SD_C
MOST_UNKNOWN_SD_C: Final = 2.0  # assumed
OWN_NUMBER_SD_C: Final = 1.0  # assumed: a grower's own threshold is a remembered number too
LEAFY: Final = (Phase.GROWING, Phase.RIPENING, Phase.HARDENING)  # green tissue may stand


class HardinessSource(StrEnum):
    """Where a temperature that wood can take comes from."""

    YOUR_NUMBER = "your own number"
    YOUR_WINTERS = "model, moved by your own winters"
    MODEL = "model"
    TABLE = "species table: estimate"


@dataclass(frozen=True, kw_only=True)
class OrganHardiness:
    """Temperatures [°C] that injure 10 % (`lt10_c`) and 50 % (`lt50_c`) of one organ tonight, and their basis."""

    lt10_c: float
    lt50_c: float
    source: str


@dataclass(frozen=True, kw_only=True)
class Hardiness:
    """What one tree can take in the night that begins on `day`.

    `lt10_c` and `lt50_c` [°C] are the 10 and 50 % injury temperatures of `watched`, the organ decisions rest on,
    `sd_c` one standard deviation of them. `organs` has every organ that stands today: green shoots only while leaves
    may be on, roots by the temperature of the soil or the potting mix. `effects` says how each sighting of the season
    moved the model. `label` is the class of the species table.
    """

    day: date
    phase: Phase
    lt10_c: float
    lt50_c: float
    sd_c: float
    watched: Organ
    source: HardinessSource
    label: str
    chill_met: bool
    organs: Mapping[Organ, OrganHardiness]
    effects: tuple[SightingEffect, ...]
    doubts: tuple[Doubt, ...]


def hardiness(tree: Tree, site: Site, wood_days: WoodDays, sightings: Sequence[Sighting], today: date) -> Hardiness:
    """What a tree can take in the night that begins `today`.

    Parameters
    ----------
    tree, site
        The tree and where it stands.
    felt
        What its wood felt since 7 September (7 March in the south). Days after `today` are not used; `today` itself is,
        where it is known: the warmth of an afternoon already counts in the night that follows (Howell & Weiser 1970).
    sightings
        What the grower saw, on any tree; those of other trees and seasons are passed over.
    today
        The local date of the evening.

    Raises
    ------
    ValueError
        The species is not in the table.
    """
    row, place = tree_row(tree, today), season_place(today, site.latitude_deg)
    series, refused = wood_days.believed()
    seen = judged(sightings, tree.name, site, today)
    if np.isnan(series.means_from(place.start, place.day + 1)).all():
        found = _by_table(row, site, seen, today)
    else:
        found = _by_model(wood_course(row, site, series, seen, place.start, place.day + 1), today)
    found = _by_own_number(tree, found)
    return replace(found, doubts=_named(tree.name, [*_refused(refused), *_clashes(seen), *found.doubts]))


def tree_row(tree: Tree, today: date) -> SpeciesRow:
    """The species row of a tree at its age today.

    Raises
    ------
    ValueError
        The species is not in the table.
    """
    age_years = None if tree.planted_year is None else today.year - tree.planted_year
    return species_row(tree.species, tree.cultivar, age_years)


def season_of(tree: Tree, site: Site, wood_days: WoodDays, sightings: Sequence[Sighting], until: date) -> WoodCourse:
    """The course of a tree's whole season up to `until`, for charts and for the plan's coming days.

    Raises
    ------
    ValueError
        The species is not in the table, or no felt day of the season is known.
    """
    place = season_place(until, site.latitude_deg)
    seen = judged(sightings, tree.name, site, until)
    return wood_course(tree_row(tree, until), site, wood_days.believed()[0], seen, place.start, place.day + 1)


def _by_model(wood: WoodCourse, today: date) -> Hardiness:
    phase, course = wood.phases[-1], wood.course
    unknown_sd_c = min(MOST_UNKNOWN_SD_C, UNKNOWN_DAY_SD_C * wood.unknown_days)
    start_sd_c = GUESSED_START_SD_C if wood.start_guessed else 0.0
    sd_c = float(np.sqrt(float(wood.row.sd_c(wood.lt50_c[-1])) ** 2 + unknown_sd_c**2 + start_sd_c**2))
    doubts = [Doubt(kind=DoubtKind.HARDINESS_GUESSED, amount=round(sd_c, 1))]
    if wood.start_guessed:
        doubts.append(Doubt(kind=DoubtKind.NO_PAST_WEATHER))
    if wood.unknown_days:
        doubts.append(Doubt(kind=DoubtKind.MISSING_HOURS, amount=24.0 * wood.unknown_days))
    organs = _organs(wood.row, phase, wood.sightings, course.hc_c[-1], eco=bool(course.eco[-1, 0]))
    watched = organs[wood.row.watched]
    return Hardiness(
        day=today, phase=phase, lt10_c=watched.lt10_c, lt50_c=watched.lt50_c, sd_c=sd_c, watched=wood.row.watched,
        source=HardinessSource.MODEL, label=wood.row.label, chill_met=bool(course.eco[-1, 0]), organs=organs,
        effects=tuple(_effect(wood, seen) for seen in wood.sightings), doubts=tuple(doubts),
    )  # fmt: skip


def _by_table(row: SpeciesRow, site: Site, sightings: Sequence[JudgedSighting], today: date) -> Hardiness:
    """No day of this season is known: the table's value for the phase the calendar and the grower give."""
    phase, effects = phase_by_date(today, site), []
    for seen in sightings:
        after = phase_seen(phase, seen.sighting.sight) if seen.believed else phase
        effects.append(_table_effect(row, seen, phase, after))
        phase = after
    sd_c = float(np.hypot(row.sd_c(row.t50_c(phase)), GUESSED_START_SD_C))
    eco = phase in (Phase.WAKING, Phase.GROWING)
    organs = _organs(row, phase, sightings, np.array([row.t50_c(phase)]), eco=eco)
    wood_hardiness = row.wood_hardiness(phase)
    doubts = (Doubt(kind=DoubtKind.NO_PAST_WEATHER), Doubt(kind=DoubtKind.HARDINESS_GUESSED, amount=round(sd_c, 1)))
    return Hardiness(
        day=today,
        phase=phase, lt10_c=wood_hardiness.t10_c, lt50_c=wood_hardiness.t50_c, sd_c=sd_c, watched=row.watched,
        source=HardinessSource.TABLE, label=row.label, chill_met=eco, organs=organs,
        effects=tuple(effects), doubts=doubts,
    )  # fmt: skip


def _by_own_number(tree: Tree, found: Hardiness) -> Hardiness:
    """The grower's own threshold of this phase in place of ours; the step from 10 to 50 % stays the table's."""
    own_c = tree.safe_to_c.get(found.phase)
    if own_c is None:
        return found
    lt50_c = own_c + found.lt50_c - found.lt10_c
    own = OrganHardiness(lt10_c=own_c, lt50_c=lt50_c, source=HardinessSource.YOUR_NUMBER)
    doubts = tuple(doubt for doubt in found.doubts if doubt.kind is not DoubtKind.HARDINESS_GUESSED)
    return replace(
        found, lt10_c=own_c, lt50_c=lt50_c, sd_c=OWN_NUMBER_SD_C, source=HardinessSource.YOUR_NUMBER,
        organs={**found.organs, found.watched: own}, doubts=doubts,
    )  # fmt: skip


def _organs(
    row: SpeciesRow, phase: Phase, sightings: Sequence[JudgedSighting], hc_c: np.ndarray, *, eco: bool
) -> dict[Organ, OrganHardiness]:
    gone = {seen.sighting.sight for seen in sightings if seen.believed} & {
        SightingKind.LEAVES_DROPPED,
        SightingKind.LEAVES_FROZEN_GREEN,
    }
    leafy = phase in LEAFY and (phase is Phase.GROWING or not gone)
    found = {}
    for organ in Organ:
        if organ is Organ.SHOOTS and not leafy:
            continue
        lt10_c, lt50_c = organ_lt10_c(row, organ, hc_c, np.array([eco]))
        basis = row.organs[organ][Phase.GROWING].source
        found[organ] = OrganHardiness(lt10_c=float(lt10_c[0]), lt50_c=float(lt50_c[0]), source=basis)
    return found


def _effect(wood: WoodCourse, seen: JudgedSighting) -> SightingEffect:
    course, row, day = wood.course, wood.row, seen.day
    before, after = (
        organ_lt10_c(row, row.watched, hc[day], course.eco[day])[0][0] for hc in (course.free_c, course.hc_c)
    )
    return SightingEffect(
        sighting=seen.sighting, believed=seen.believed,
        phase_before=phase_on(course, row, day, before=True), phase_after=wood.phases[day],
        lt10_before_c=float(before), lt10_after_c=float(after),
    )  # fmt: skip


def _table_effect(row: SpeciesRow, seen: JudgedSighting, before: Phase, after: Phase) -> SightingEffect:
    return SightingEffect(
        sighting=seen.sighting, believed=seen.believed, phase_before=before, phase_after=after,
        lt10_before_c=row.wood_hardiness(before).t10_c, lt10_after_c=row.wood_hardiness(after).t10_c,
    )  # fmt: skip


def _refused(count: int) -> list[Doubt]:
    return [Doubt(kind=DoubtKind.VALUE_REFUSED, amount=float(count))] if count else []


def _clashes(sightings: Sequence[JudgedSighting]) -> list[Doubt]:
    return [Doubt(kind=DoubtKind.OBSERVATION_CLASH) for seen in sightings if not seen.believed][:1]


def _named(tree: str, doubts: Sequence[Doubt]) -> tuple[Doubt, ...]:
    return tuple(replace(doubt, subject=tree) for doubt in doubts)
