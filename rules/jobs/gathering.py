"""From an outlook's values, the logbook and past winters to the facts the rules look at."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from datetime import date
from functools import lru_cache

from rules.garden.records import Records
from rules.garden.shed import Shed
from rules.garden.species import species_row
from rules.garden.tree import Phase, Site, Tree
from rules.jobs.facts import GardenFacts, TreeFacts
from rules.jobs.nouns import JobKind, JobMark, JobSettings
from rules.jobs.year import JobYear
from rules.plan.garden_plan import Act
from rules.weather.daily_minima import DailyMinima
from rules.weather.freeze_dates import FreezeDates, freeze_dates
from rules.weather.freeze_seasons import WhichFreeze
from rules.weather.local_days import DayWeather
from rules.wood.margins import TreeMargins
from rules.wood.ripening import KILLING_FREEZE_C


def garden_facts(
    site: Site,
    margins: Sequence[TreeMargins],
    today: date,
    *,
    acts: Sequence[Act] = (),
    uncovered: Collection[str] = (),
    records: Records | None = None,
    marks: Sequence[JobMark] = (),
    past: DailyMinima | None = None,
    offsets_c: Mapping[str, float] | None = None,
    days: Mapping[date, DayWeather] | None = None,
    shed: Shed | None = None,
    settings: Mapping[JobKind, JobSettings] | None = None,
) -> GardenFacts:
    """The facts of one garden.

    Parameters
    ----------
    site, today
        Where it is; the local date.
    margins, acts
        The trees and acts of its outlook.
    uncovered
        Trees that its plan leaves bare for good.
    records, marks
        Deeds and sightings, and answers to jobs, of this winter.
    past
        Daily minima of past years in the open; None where none are known.
    offsets_c
        How much warmer the nights of a tree, by name, are than the open field's [°C]; a tree left out is taken as the
        field, which is the colder for all but hollows.
    days
        Weather by local day, from `days_of`.
    shed, settings
        Stock, and the garden file's wishes.
    """
    offsets = offsets_c or {}
    return GardenFacts(
        today=today,
        site=site,
        trees=[
            replace(
                _tree_facts(one, site, today, past, offsets.get(one.tree.name, 0.0)),
                uncovered=one.tree.name in uncovered,
            )
            for one in margins
        ],
        acts=acts,
        days=days or {},
        records=records or Records(),
        marks=marks,
        shed=shed or Shed(),
        settings=settings or {},
    )


def _tree_facts(one: TreeMargins, site: Site, today: date, past: DailyMinima | None, offset_c: float) -> TreeFacts:
    year = JobYear.of(today, site.latitude_deg)

    def dates(threshold_c: float, which: WhichFreeze) -> FreezeDates | None:
        in_year = year.start.year if which is WhichFreeze.FIRST_IN_AUTUMN else year.last.year
        return _dates(past, threshold_c, which, in_year, site.latitude_deg, offset_c) if past else None

    return TreeFacts(
        tree=one.tree,
        cover=one.cover,
        state=one.state,
        phase=one.hardiness.phase,
        nights=one.nights,
        first_freeze=dates(KILLING_FREEZE_C, WhichFreeze.FIRST_IN_AUTUMN),
        first_too_cold=dates(_lt10_c(one.tree, Phase.HARDENING, year), WhichFreeze.FIRST_IN_AUTUMN),
        last_too_cold=dates(_lt10_c(one.tree, Phase.WAKING, year), WhichFreeze.LAST_IN_SPRING),
        last_freeze=dates(_lt10_c(one.tree, Phase.GROWING, year), WhichFreeze.LAST_IN_SPRING),
        bark_shows=one.hardiness.lost.shows_from,
    )


@lru_cache(maxsize=512)
def _dates(
    past: DailyMinima, threshold_c: float, which: WhichFreeze, year: int, latitude_deg: float, offset_c: float
) -> FreezeDates:
    """The same winters are asked the same for each tree of a kind, and at each question."""
    return freeze_dates(past, threshold_c, which, year, latitude_deg, offset_c=offset_c)


def _lt10_c(tree: Tree, phase: Phase, year: JobYear) -> float:
    """What the tree can take in a phase [°C]: the grower's own number, else the species table's."""
    if phase in tree.safe_to_c:
        return tree.safe_to_c[phase]
    age = None if tree.planted_year is None else year.start.year - tree.planted_year
    return species_row(tree.species, tree.cultivar, age).wood_hardiness(phase).lt10_c
