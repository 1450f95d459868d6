"""What an outlook stands on: a garden, its weather, its records; and the weather and the wood at each of its trees."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.condition import condition_at
from rules.garden.cover import Cover, Preset
from rules.garden.doubt import Doubt, DoubtKind
from rules.garden.records import Records, cover_conditions, shelter_of
from rules.garden.tree import Phase, Site, SiteSoil, Standing, Tree
from rules.heat.marching.start import HeatStart
from rules.learning import LearnedHardiness, shifted
from rules.plan.beyond_forecast import Tables
from rules.plan.grower.free_hours import ANY_TIME, FreeHours
from rules.site.microclimate import PRIORS, SiteOffset, TreeWeather, at_tree
from rules.site.soil import site_soil
from rules.weather.climatology import toward_usual
from rules.weather.daily_minima import DailyMinima
from rules.weather.hourly import Forecast, HourlyWeather
from rules.weather.members import PUBLISHED, ForecastError, leads_h, members
from rules.weather.timeline import Timeline, sliced, timeline
from rules.wood.dead_wood import WoodLost
from rules.wood.hardiness import Hardiness, HardinessSource, WoodDays, hardiness
from rules.wood.usual_wood import season_departure_c

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

MEMBERS: Final = 31
KNOWN_SHARE: Final = 0.5  # of the first doubt: with less of it left a tree's spot is no guess any more; assumed
LATEST: Final = datetime.max.replace(tzinfo=UTC)
NO_COVER: Final = Cover(name="none")  # stands in for the cover of a tree that has none; only its bare state is used


@dataclass(frozen=True, kw_only=True, eq=False)
class Carried:
    """What a round hands to the next, so that a long autumn is not marched through twice.

    Parameters
    ----------
    start_utc, told_c
        First mark, and the air at each tree, inside its cover, and its wood as limits count, to the moment of that look
        [°C], shape (2, trees, hours).
    finish, settled
        What covers and ground held at that moment, and at an earlier one before which no weather changes any more.
    late
        The weather from the settled moment on: `finish` holds within the hour, while none of it was told anew.
    states, covers
        How each cover stood at these marks, shape (trees, hours), and what it was like in each stretch of them.
    trees, offsets
        What else it rests on. Where a deed or a thermometer tells otherwise, the march begins anew: what is learned
        today holds for the autumn behind as well. Deeds of years gone by that are read no more change nothing.
    """

    start_utc: datetime
    told_c: Floats
    finish: HeatStart
    settled: HeatStart
    late: HourlyWeather
    states: Ints
    covers: tuple[tuple[datetime, tuple[Cover, ...]], ...]
    trees: tuple[Tree, ...]
    offsets: Mapping[str, SiteOffset] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True, eq=False)
class OutlookInputs:
    """What an outlook stands on: the garden, its weather and its records, all as plain values.

    `climate` is the daily minima of past winters, None where nobody knows them; `refused` and `away` as in `plan`.
    `offsets` is what thermometers taught of the air at each tree, by name; a tree that is not among them has the prior
    of its standing. `covers_read` has the covers of the trees inside which a thermometer was read, as it showed them.
    `forecast_error` is what the garden knows of its service; its bias is taken off `forecast` already. `accepted` is
    what its winters taught of its wood, as far as the grower accepted it. `free` is when somebody can work.
    `tables` are seasons' tables made before, so that nobody waits for them again; an outlook adds what it makes.
    `carried` is what the last look handed on, for questions between two looks. `asked` are the trees whose cover was
    asked for today already, and nobody answered.
    """

    site: Site
    trees: Sequence[Tree]
    covers: Mapping[str, Cover]
    forecast: Forecast | None
    past: HourlyWeather | None
    records: Records
    doubts: tuple[Doubt, ...] = ()
    climate: DailyMinima | None = None
    refused: tuple[tuple[str, datetime], ...] = ()
    away: tuple[tuple[date, date], ...] = ()
    offsets: Mapping[str, SiteOffset] = field(default_factory=dict)
    covers_read: Mapping[str, Cover] = field(default_factory=dict)
    forecast_error: ForecastError = PUBLISHED
    accepted: Mapping[str, Sequence[LearnedHardiness]] = field(default_factory=dict)
    free: FreeHours = ANY_TIME
    tables: Tables = field(default_factory=dict)
    carried: Carried | None = None
    asked: frozenset[str] = frozenset()

    @property
    def soil(self) -> SiteSoil:
        """Soil of the site, from its own past years where they are known."""
        return site_soil(self.site.latitude_deg, self.site.elevation_m, self.climate)

    def tree(self, name: str) -> Tree:
        """The tree called `name`.

        Raises
        ------
        KeyError
            If the garden has no such tree.
        """
        for tree in self.trees:
            if tree.name == name:
                return tree
        raise KeyError(name)


def timeline_of(inputs: OutlookInputs, now: datetime) -> Timeline | None:
    """Past and forecast joined at `now`; None without a forecast, or where it knows no air from now on."""
    return timeline(inputs.past, inputs.forecast.weather, now) if inputs.forecast else None


def tree_weathers(
    inputs: OutlookInputs, weather: HourlyWeather, trees: Sequence[Tree], air_c: Floats | None = None
) -> list[TreeWeather]:
    """Weather at each tree with what is known of its air; trees of one standing and offset share one.

    `air_c` are members of the field's air [°C], shape (members, hours), as in `at_tree`.
    """
    made: dict[tuple[Standing, SiteOffset | None], TreeWeather] = {}
    for tree in trees:
        place = tree.standing, inputs.offsets.get(tree.name)
        if place not in made:
            made[place] = at_tree(weather, inputs.site, tree.standing, air_c=air_c, offset=place[1])
    return [made[tree.standing, inputs.offsets.get(tree.name)] for tree in trees]


def members_ahead(inputs: OutlookInputs, forecast: Forecast, ahead: HourlyWeather, now: datetime) -> Floats:
    """Members of the open field's air on the hours ahead, shape (members, hours) [°C].

    About the series of these hours, joined and filled as it is, drawn toward the usual the further they lie.
    """
    offset = forecast.weather.index_of(ahead.start_utc)
    spread = members(forecast, now, MEMBERS, error=inputs.forecast_error)[:, offset : offset + ahead.hours]
    deviations = spread - np.nanmean(spread, axis=0) if spread.size else np.zeros((MEMBERS, ahead.hours))
    members_c = ahead.air_c + np.where(np.isnan(deviations), 0.0, deviations)
    lead_h = leads_h(ahead, min(forecast.known_since_utc, now))
    of_one = forecast.members_air_c is None
    return toward_usual(
        members_c, ahead, lead_h, inputs.climate, inputs.site, error=inputs.forecast_error, of_one=of_one
    )


def tree_hardiness(
    inputs: OutlookInputs, tree: Tree, wood_days: WoodDays, today: date, field: WoodDays | None = None
) -> Hardiness:
    """What one tree can take in the night that begins `today`: the model's, moved by what was accepted of its winters.

    A grower's own number stands as it is. `field` is the open field's air by day, which tells how usual the season is.
    """
    found = hardiness(
        tree, inputs.site, wood_days, inputs.records.sightings, today,
        departure_c=departure_c(inputs, tree, field, today), diebacks=inputs.records.diebacks,
        learned_c={phase: accepted_shift_c(inputs, tree, phase) for phase in Phase},
    )  # fmt: skip
    if _cover_untold(inputs, tree, found.lost):
        found = replace(found, lost=replace(found.lost, cover_untold=True))
    accepted = [one for one in inputs.accepted.get(tree.name, ()) if one.phase is found.phase]
    if not accepted or found.source is HardinessSource.YOUR_NUMBER:
        return found
    return replace(shifted(found, accepted[-1]), source=HardinessSource.YOUR_WINTERS)


def _cover_untold(inputs: OutlookInputs, tree: Tree, lost: WoodLost) -> bool:
    """Whether a tree has a cover of which nobody said how it stood in the night that took the most."""
    if lost.told or lost.evening is None or tree.left_bare or cover_of(inputs, tree) is None:
        return False
    zone = inputs.site.zone
    return not any(at.astimezone(zone).date() <= lost.evening for at, _ in inputs.records.stood.get(tree.name, ()))


def departure_c(inputs: OutlookInputs, tree: Tree, field: WoodDays | None, today: date) -> Floats | None:
    """How far such a tree's season is from the usual here, by day [°C]; None where the place is not known so well."""
    return None if field is None else season_departure_c(tree, inputs.site, inputs.climate, field, today)


def accepted_shift_c(inputs: OutlookInputs, tree: Tree, phase: Phase) -> float:
    """Change of what a tree can take in one phase [°C] that was accepted of its winters; 0 where none was."""
    accepted = [one.shift_c for one in inputs.accepted.get(tree.name, ()) if one.phase is phase]
    return accepted[-1] if accepted else 0.0


def cover_on(inputs: OutlookInputs, tree: Tree, at: datetime = LATEST) -> Cover:
    """The cover of a tree as `cover_of` has it, or one that stands in where it has none."""
    return cover_of(inputs, tree, at) or NO_COVER


def cover_of(inputs: OutlookInputs, tree: Tree, at: datetime = LATEST) -> Cover | None:
    """The cover of a tree in the condition it was in, as a thermometer inside showed it if one did; None without one.

    The condition is the last one told up to `at`.
    """
    built = inputs.covers.get(tree.cover) if tree.cover else None
    described = shelter_of(inputs.records, tree.name, built, at)
    if described is None:
        return None
    told = cover_conditions(inputs.records, tree.name, described)
    read = inputs.covers_read.get(tree.name, described) if described is built else described
    cover = read.standing(condition_at(told, at))
    sticks_out = tree.height_m is not None and tree.height_m > cover.height_m and not lies_within(cover)
    return cover.model_copy(update={"tree_height_m": tree.height_m}) if sticks_out else cover


def lies_within(cover: Cover) -> bool:
    """Whether a tree is inside however high it is, or its own cover says how high it stands."""
    return cover.preset is Preset.MOUND or cover.is_shelter or cover.tree_height_m is not None


def air_at(inputs: OutlookInputs, tree: Tree, moment: datetime) -> float | None:
    """Air [°C] that was expected at a tree at a moment, to the nearest hour; None where nothing was."""
    for weather in (inputs.past, inputs.forecast.weather if inputs.forecast else None):
        if weather is None:
            continue
        at = round((moment - weather.start_utc) / timedelta(hours=1))
        if 0 <= at < weather.hours and not np.isnan(weather.air_c[at]):
            return float(tree_weathers(inputs, sliced(weather, at, at + 1), [tree])[0].air_c[0])
    return None


def air_doubts(inputs: OutlookInputs, tree: Tree, weather: TreeWeather) -> tuple[Doubt, ...]:
    """The doubts of the weather at one tree; a few readings shrink the guess at its spot before they end it."""
    learned = inputs.offsets.get(tree.name)
    if learned is None or learned.sd_c(1.0) <= KNOWN_SHARE * PRIORS[tree.standing].sd_c(1.0):
        return weather.doubts
    return (*weather.doubts, Doubt(kind=DoubtKind.SITE_HALF_KNOWN, amount=weather.offset_sd_c))
