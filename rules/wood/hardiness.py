"""What the wood of a tree can take on a given night: the model of its own winter, the table, the grower's word."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from enum import StrEnum
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.doubt import Doubt, DoubtKind
from rules.garden.records import Dieback, Sighting
from rules.garden.species import UNKNOWN, Organ, SpeciesRow, species_row, with_own_limits
from rules.garden.tree import Phase, Site, Tree
from rules.wood.buds.stage import BLOOM, BudStage, bud_stage
from rules.wood.course import WoodCourse, phase_on, wood_course
from rules.wood.daily_temperatures import WoodDays as WoodDays
from rules.wood.dead_wood import WoodLost, wood_lost
from rules.wood.injury import chance_colder
from rules.wood.kinetics.coming_days import ComingDays, coming_days
from rules.wood.organs import OrganHardiness as OrganHardiness
from rules.wood.organs import at_stage, decides, organ_lt10_c, organs_standing
from rules.wood.season import JudgedSighting, SightingEffect, judged, phase_by_date, phase_seen, season_place
from rules.wood.season_drivers import LEAVES_GONE

Floats = npt.NDArray[np.float64]

GUESSED_START_SD_C: Final = 1.5  # assumed: added where a season began on the calendar's value
UNKNOWN_DAY_SD_C: Final = 0.2  # assumed: added for each day nobody knows, up to MOST_UNKNOWN_SD_C
MOST_UNKNOWN_SD_C: Final = 2.0  # assumed
OWN_NUMBER_SD_C: Final = 1.0  # assumed: a grower's own threshold is a remembered number too
FEW_LEAVES: Final = 0.1  # share of the leaves from which on a tree counts as in leaf; assumed
NOTHING_LOST: Final = WoodLost(organ=Organ.WOOD)
LEAFY: Final = (Phase.GROWING, Phase.RIPENING, Phase.HARDENING)  # green tissue may stand


class HardinessSource(StrEnum):
    """Where a temperature that wood can take comes from."""

    YOUR_NUMBER = "your own number"
    YOUR_WINTERS = "model, moved by your own winters"
    MODEL = "model"
    MODEL_AND_USUAL = "model, half way to the usual season here"
    TABLE = "species table: estimate"


@dataclass(frozen=True, kw_only=True)
class Hardiness:
    """What one tree can take in the night that begins on `day`.

    `lt10_c` and `lt50_c` [°C of the air at the tree] are the 10 and 50 % injury temperatures of `watched`, the organ
    decisions rest on (in leaf the green shoots; the wood behind them is in `organs`), `sd_c` one standard deviation.
    `organs` has every organ that stands today: green shoots only while leaves may be on, roots by the temperature of
    the soil or the potting mix. `effects` says how each sighting of the season moved the model. `label` is the class of
    the species table. `stage` is that of the flower buds in spring, where a published table has the species. `lost` is
    what the season has taken so far. `ahead` is what the coming days begin from; None where no season is known.
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
    stage: BudStage | None = None
    lost: WoodLost = NOTHING_LOST
    ahead: ComingDays | None = field(default=None, compare=False, repr=False)

    @property
    def lost_share(self) -> float:
        """Share already lost of what the decision rests on [0-1].

        Of green shoots none, they have only just grown; nor any where nobody told of the cover: it may have been on.
        """
        return 0.0 if self.watched is Organ.SHOOTS or self.lost.cover_untold else self.lost.share

    def chance_too_cold(self, felt_c: float, spread_c: float) -> float:
        """Chance that what is felt, give or take 1 sd [°C], is colder than it is safe to [0-1]."""
        return float(chance_colder(np.array([felt_c]), spread_c, self.lt10_c, self.sd_c))


def hardiness(
    tree: Tree,
    site: Site,
    wood_days: WoodDays,
    sightings: Sequence[Sighting],
    today: date,
    *,
    departure_c: Floats | None = None,
    diebacks: Sequence[Dieback] = (),
    learned_c: Mapping[Phase, float] | None = None,
) -> Hardiness:
    """What a tree can take in the night that begins `today`.

    Parameters
    ----------
    tree, site
        The tree and where it stands.
    wood_days
        The air its wood was in since 7 September (7 March in the south). Days after `today` are not used; `today` is,
        where it is known: the warmth of an afternoon already counts in the night that follows (Howell & Weiser 1970).
    sightings
        What the grower saw, on any tree; those of other trees and seasons are passed over.
    today
        The local date of the evening.
    departure_c
        How far the season is from the usual, as `season_departure_c` gives it.
    diebacks
        What growers found dead, on any tree.
    learned_c
        Change of what this tree was safe to that was accepted of its winters, by phase [°C]: for the nights gone by.

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
        wood = wood_course(row, site, series, seen, place.start, place.day + 1, departure_c)
        found = replace(_by_model(wood, today), lost=wood_lost(wood, tree, site, diebacks, learned_c or {}))
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
    row = species_row(tree.species, tree.cultivar, age_years)
    return with_own_limits(row, tree.safe_to_c) if row.species == UNKNOWN and tree.safe_to_c else row


def season_of(
    tree: Tree,
    site: Site,
    wood_days: WoodDays,
    sightings: Sequence[Sighting],
    until: date,
    departure_c: Floats | None = None,
) -> WoodCourse:
    """The course of a tree's whole season up to `until`, for charts and for looking back.

    Raises
    ------
    ValueError
        The species is not in the table, or no day of the season is known.
    """
    place = season_place(until, site.latitude_deg)
    seen = judged(sightings, tree.name, site, until)
    series = wood_days.believed()[0]
    return wood_course(tree_row(tree, until), site, series, seen, place.start, place.day + 1, departure_c)


def _by_model(wood: WoodCourse, today: date) -> Hardiness:
    phase, course = wood.phases[-1], wood.course
    unknown_sd_c = min(MOST_UNKNOWN_SD_C, UNKNOWN_DAY_SD_C * wood.unknown_days)
    start_sd_c = GUESSED_START_SD_C if wood.start_guessed else 0.0
    row_sd_c, rates_sd_c = float(wood.row.sd_c(wood.lt50_c[-1])), float(wood.rates_sd_c[-1])
    sd_c = float(np.sqrt(row_sd_c**2 + rates_sd_c**2 + unknown_sd_c**2 + start_sd_c**2))
    doubts = [Doubt(kind=DoubtKind.HARDINESS_GUESSED, amount=round(sd_c, 1))]
    if wood.start_guessed:
        doubts.append(Doubt(kind=DoubtKind.NO_PAST_WEATHER))
    if wood.unknown_days:
        doubts.append(Doubt(kind=DoubtKind.MISSING_HOURS, amount=24.0 * wood.unknown_days))
    leafy = phase is Phase.GROWING or (
        phase in LEAFY if wood.row.kinetics.evergreen else bool(wood.leaves[-1] >= FEW_LEAVES)
    )
    organs = organs_standing(wood.row, wood.expected_lt50_c[-1:], course.readiness[-1, :1], leafy=leafy)
    bloom = [one.sighting.sight for one in wood.sightings if one.believed and one.sighting.sight in BLOOM]
    stage = bud_stage(wood.row.species, course, bloom[-1] if bloom else None)
    if stage is not None and Organ.BUDS in organs:
        organs[Organ.BUDS] = at_stage(organs[Organ.BUDS], stage)
    organ = decides(wood.row, phase)
    watched = organs[organ]
    source = HardinessSource.MODEL_AND_USUAL if wood.taken_off_c[-1] else HardinessSource.MODEL
    return Hardiness(
        day=today, phase=phase, lt10_c=watched.lt10_c, lt50_c=watched.lt50_c, sd_c=sd_c, watched=organ,
        source=source, label=wood.row.label, chill_met=bool(course.eco[-1, 0]), organs=organs,
        effects=tuple(_effect(wood, seen) for seen in wood.sightings), doubts=tuple(doubts), stage=stage,
        ahead=coming_days(wood),
    )  # fmt: skip


def _by_table(row: SpeciesRow, site: Site, sightings: Sequence[JudgedSighting], today: date) -> Hardiness:
    """No day of this season is known: the table's value for the phase the calendar and the grower give."""
    phase, effects = phase_by_date(today, site), []
    for seen in sightings:
        after = phase_seen(phase, seen.sighting.sight) if seen.believed else phase
        effects.append(_table_effect(row, seen, phase, after))
        phase = after
    sd_c = float(np.hypot(row.sd_c(row.lt50_c(phase)), GUESSED_START_SD_C))
    eco = phase in (Phase.WAKING, Phase.GROWING)
    lasting = Phase.WAKING if phase is Phase.GROWING and row.watched is Organ.WOOD else phase
    gone = {seen.sighting.sight for seen in sightings if seen.believed} & set(LEAVES_GONE)
    leafy = phase in LEAFY and (phase is Phase.GROWING or not gone)
    organs = organs_standing(row, np.array([row.lt50_c(lasting)]), np.array([float(eco)]), leafy=leafy)
    organ = decides(row, phase)
    watched = organs[organ]
    doubts = (Doubt(kind=DoubtKind.NO_PAST_WEATHER), Doubt(kind=DoubtKind.HARDINESS_GUESSED, amount=round(sd_c, 1)))
    return Hardiness(
        day=today, phase=phase, lt10_c=watched.lt10_c, lt50_c=watched.lt50_c, sd_c=sd_c, watched=organ,
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


def _effect(wood: WoodCourse, seen: JudgedSighting) -> SightingEffect:
    course, row, day = wood.course, wood.row, seen.day
    before, after = (_decided_c(wood, day, before=before) for before in (True, False))
    return SightingEffect(
        sighting=seen.sighting, believed=seen.believed,
        phase_before=phase_on(course, row, day, before=True), phase_after=wood.phases[day],
        lt10_before_c=before, lt10_after_c=after,
    )  # fmt: skip


def _decided_c(wood: WoodCourse, day: int, *, before: bool) -> float:
    """10 % point [°C] of the organ decisions rest on, at the end of a day or before its sightings."""
    course = wood.course
    if (course.green_before if before else course.green)[day, 0]:
        return wood.row.organs[Organ.SHOOTS][Phase.GROWING].lt10_c
    told_c = wood.expected_lt50_c[day] - course.hc_c[day, 0]  # what is told differs from the middle rates' by this
    lt50_c = (course.free_c if before else course.hc_c)[day, :1] + told_c
    return float(organ_lt10_c(wood.row, wood.row.watched, lt50_c, course.readiness[day, :1])[0][0])


def _table_effect(row: SpeciesRow, seen: JudgedSighting, before: Phase, after: Phase) -> SightingEffect:
    return SightingEffect(
        sighting=seen.sighting, believed=seen.believed, phase_before=before, phase_after=after,
        lt10_before_c=row.wood_hardiness(before).lt10_c, lt10_after_c=row.wood_hardiness(after).lt10_c,
    )  # fmt: skip


def _refused(count: int) -> list[Doubt]:
    return [Doubt(kind=DoubtKind.VALUE_REFUSED, amount=float(count))] if count else []


def _clashes(sightings: Sequence[JudgedSighting]) -> list[Doubt]:
    return [Doubt(kind=DoubtKind.OBSERVATION_CLASH) for seen in sightings if not seen.believed][:1]


def _named(tree: str, doubts: Sequence[Doubt]) -> tuple[Doubt, ...]:
    return tuple(replace(doubt, subject=tree) for doubt in doubts)
