"""What the rules of the year may look at: one tree in one year of one garden, all as plain values."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from functools import cached_property
from typing import Final

from rules.garden.cover import Cover, CoverState, Preset
from rules.garden.materials import Fill
from rules.garden.records import Deed, DeedKind, Records, SightingKind
from rules.garden.shed import Shed
from rules.garden.species import plain, species_names
from rules.garden.supplies import takes_stakes
from rules.garden.tree import Phase, Site, Standing, Tree
from rules.jobs.nouns import Basis, JobKind, JobMark, JobSettings, Window
from rules.jobs.year import JobYear, MonthDay, TurnDates
from rules.plan.garden_plan import Act
from rules.weather.freeze_dates import FreezeDates
from rules.weather.local_days import DayWeather
from rules.wood.hardiness import tree_row
from rules.wood.margins import Night

LOOSE_FILLS: Final = (Fill.STRAW, Fill.WET_STRAW, Fill.LEAVES, Fill.SHAVINGS)
STRAW_FILLS: Final = (Fill.STRAW, Fill.WET_STRAW)

# (one year in ten, half of years), northern month and day, where no past winters are known. A cold valley; assumed, no
# source. Every job that rests on them says so.
FIRST_FREEZE: Final = ((9, 25), (10, 15))
FIRST_TOO_COLD: Final = ((10, 20), (11, 15))
LAST_TOO_COLD: Final = ((4, 25), (4, 5))
LAST_FREEZE: Final = ((5, 20), (5, 1))


@dataclass(frozen=True, kw_only=True)
class TreeFacts:
    """One tree: itself, how its cover stands, its phase, its coming nights, its freeze dates in any year.

    `first_freeze` ends the crop, `first_too_cold` is colder than wood can take that has only begun to harden,
    `last_too_cold` than it can take once it wakes, `last_freeze` than green shoots can take. None is not known.
    `uncovered` is whether the plan leaves it bare for good: no cover pays at it by past winters.
    `bark_shows` is the day from which on a scratch tells whether wood that is held dead lives; None where none is.
    """

    tree: Tree
    cover: Cover | None = None
    state: CoverState | None = None
    phase: Phase | None = None
    nights: Sequence[Night] = ()
    first_freeze: FreezeDates | None = None
    first_too_cold: FreezeDates | None = None
    last_too_cold: FreezeDates | None = None
    last_freeze: FreezeDates | None = None
    bark_shows: date | None = None
    uncovered: bool = False


@dataclass(frozen=True, kw_only=True)
class GardenFacts:
    """One garden on one day: its trees, the acts of its plan, its weather by day, its records and the grower's wishes.

    `today` is the local date. `days` may hold days gone by, which tell the wind, the rain and the snow there was.
    """

    today: date
    site: Site
    trees: Sequence[TreeFacts]
    acts: Sequence[Act] = ()
    days: Mapping[date, DayWeather] = field(default_factory=dict)
    records: Records = field(default_factory=Records)
    marks: Sequence[JobMark] = ()
    shed: Shed = field(default_factory=Shed)
    settings: Mapping[JobKind, JobSettings] = field(default_factory=dict)

    def year_of(self, day: date) -> JobYear:
        """The year of jobs a day lies in."""
        return JobYear.of(day, self.site.latitude_deg)

    @property
    def forecast_ends(self) -> date | None:
        """Last day the forecast tells of; None without one."""
        coming = [day for day in self.days if day >= self.today]
        coming += [night.evening for one in self.trees for night in one.nights]
        return max(coming, default=None)


@dataclass(frozen=True, kw_only=True)
class Facts:
    """One tree in one year of jobs: what a rule looks at."""

    garden: GardenFacts
    one: TreeFacts
    year: JobYear

    @property
    def tree(self) -> Tree:
        """The tree."""
        return self.one.tree

    @property
    def cover(self) -> Cover | None:
        """Its cover; None too for a tree left bare on purpose."""
        return None if self.tree.left_bare else self.one.cover

    @property
    def is_now(self) -> bool:
        """Whether this is the year today lies in."""
        return self.year == self.garden.year_of(self.garden.today)

    @property
    def is_covered(self) -> bool:
        """Whether the cover is on today, as far as anybody said."""
        return self.is_now and self.cover is not None and self.one.state in (CoverState.VENTED, CoverState.CLOSED)

    @property
    def waits_for_cover(self) -> bool:
        """Whether the cover is still to go on in this year."""
        on = self.is_covered or self.done_on(DeedKind.WRAPPED) is not None
        return self.cover is not None and not on and not self.stays_bare

    @property
    def stays_bare(self) -> bool:
        """Whether nobody will wrap it: the plan does not, and its grower has not, as far as is on record."""
        return self.one.uncovered and not any(deed.kind is DeedKind.WRAPPED for deed in self._deeds)

    @property
    def in_pot(self) -> bool:
        """Whether it stands in a pot."""
        return self.tree.standing is Standing.POT

    @property
    def takes_stakes(self) -> bool:
        """Whether stakes are driven for its cover."""
        return self.cover is not None and not self.in_pot and takes_stakes(self.cover)

    @property
    def has_loose_fill(self) -> bool:
        """Whether its cover is filled with what settles and harbours mice."""
        return self.cover is not None and self.cover.fill in LOOSE_FILLS

    @property
    def has_straw(self) -> bool:
        """Whether its cover is filled with straw."""
        return self.cover is not None and self.cover.fill in STRAW_FILLS

    @property
    def is_mound(self) -> bool:
        """Whether it is bent down to be covered."""
        return self.cover is not None and self.cover.preset is Preset.MOUND

    @property
    def is_evergreen(self) -> bool:
        """Whether it keeps its leaves all winter."""
        return tree_row(self.tree, self.garden.today).kinetics.evergreen

    @property
    def species(self) -> str:
        """Its species by the name of the species table."""
        return species_names().get(plain(self.tree.species), self.tree.species)

    @cached_property
    def first_freeze(self) -> TurnDates | None:
        """The freeze that ends the crop; None where it does not come even one year in ten."""
        return self._turn(self.one.first_freeze, *FIRST_FREEZE)

    @cached_property
    def first_too_cold(self) -> TurnDates | None:
        """The first night colder than half-hardened wood can take; None likewise."""
        return self._turn(self.one.first_too_cold, *FIRST_TOO_COLD)

    @cached_property
    def last_too_cold(self) -> TurnDates | None:
        """The last night colder than waking wood can take; None likewise."""
        return self._turn(self.one.last_too_cold, *LAST_TOO_COLD)

    @cached_property
    def last_freeze(self) -> TurnDates | None:
        """The last night colder than green shoots can take; None likewise."""
        return self._turn(self.one.last_freeze, *LAST_FREEZE)

    @cached_property
    def _deeds(self) -> list[Deed]:
        name = self.tree.name
        return [one for one in self.garden.records.deeds if one.tree == name]

    def done_on(self, kind: DeedKind) -> date | None:
        """The day of the last such deed at this tree in this year; None where there was none."""
        days = [self._local(one.at_utc) for one in self._deeds if one.kind is kind]
        return max((day for day in days if self.year.start <= day <= self.year.last), default=None)

    def seen_on(self, sight: SightingKind) -> date | None:
        """The first day in this year on which this was seen at this tree; None where it was not."""
        seen = self.garden.records.sightings
        days = [self._local(s.at_utc) for s in seen if s.tree == self.tree.name and s.sight is sight]
        return min((day for day in days if self.year.start <= day <= self.year.last), default=None)

    def beyond_forecast(self, window: Window) -> list[Window]:
        """The part of a window that no forecast reaches: what lies within it, the forecast tells better."""
        ends = self.garden.forecast_ends
        if ends is None or window.by_day < self.garden.today:
            return [window]
        first = max(window.from_day, ends + timedelta(days=1))
        return [replace(window, from_day=first)] if first <= window.by_day else []

    def _local(self, moment: datetime) -> date:
        return moment.astimezone(self.garden.site.zone).date()

    def _turn(self, known: FreezeDates | None, safe: MonthDay, half: MonthDay) -> TurnDates | None:
        """The dates of past winters carried to this year; the calendar's where none are known."""
        if known is None or known.share is None:
            return TurnDates(safe=self.year.on(*safe), half=self.year.on(*half), basis=Basis.CALENDAR)
        middle = known.half or known.safe  # fewer than half of years freeze so: take the day of one in ten
        if middle is None:
            return None
        edge = known.safe or middle
        return TurnDates(safe=self.year.same_day(edge), half=self.year.same_day(middle), basis=Basis.PAST_WINTERS)


@dataclass(frozen=True, kw_only=True)
class GardenYear:
    """One year of jobs of one garden: what a rule for the whole garden looks at."""

    garden: GardenFacts
    year: JobYear

    @property
    def trees(self) -> list[Facts]:
        """Every tree that is cared for: not those left bare on purpose."""
        return [
            Facts(garden=self.garden, one=one, year=self.year) for one in self.garden.trees if not one.tree.left_bare
        ]
