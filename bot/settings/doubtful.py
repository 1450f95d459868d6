"""What is understood but doubtful in a garden: most often a sign, a unit or a word that slipped."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from functools import cache
from importlib.resources import files
from typing import Final
from zoneinfo import ZoneInfo

from bot.settings.garden import Garden
from bot.settings.new_garden import time_zone_at
from bot.settings.problems import Problem
from bot.weather_services import SERVICES
from rules.garden.cover import Preset
from rules.garden.species import UNKNOWN, species_row
from rules.garden.tree import Phase, Purpose, Tree
from rules.garden.units import CM_PER_INCH, M_PER_FOOT

FAR_FROM_ZONE_DEG: Final = 45.0  # 3 h of sun; the widest zones (China, western Alaska) stay under it
TROPICS_DEG: Final = 15.0  # nearer the equator a wrong sign of the latitude does not show
FAR_FROM_TABLE_C: Final = 6.0  # own threshold against the species table; assumed
HIGH_M: Final = 3000.0  # above it hardly any fruit tree is grown; feet read as metres end up there; assumed
USUAL_COVER_M: Final = (0.5, 3.5)  # how high people build; inches read as centimetres end up outside; assumed
USUAL_TREE_M: Final = (0.3, 8.0)  # assumed
LONG_QUIET_H: Final = 14.0  # quieter than this leaves no evening and morning to speak; assumed


def doubtful(garden: Garden) -> tuple[Problem, ...]:
    """Everything in a garden that is allowed but looks like a slip, in the order of the file."""
    return (*_place(garden), *_quiet(garden), *_services(garden), *_trees(garden), *_covers(garden), *_sensors(garden))


def _place(garden: Garden) -> Iterator[Problem]:
    site = garden.site
    # January and July both, so that a clock set forward in either half of the year does not count
    offsets = [
        datetime(2025, month, 1, tzinfo=UTC).astimezone(site.zone).utcoffset() or timedelta() for month in (1, 7)
    ]
    meridian_deg = min(offsets).total_seconds() / 240  # 4 minutes of clock for each degree
    away_deg = abs((site.longitude_deg - meridian_deg + 180) % 360 - 180)
    if away_deg > FAR_FROM_ZONE_DEG:
        said = f"lies {away_deg:.0f}° from the middle of {site.time_zone}; west of Greenwich is negative"
        yield Problem(key="site.longitude_deg", value=site.longitude_deg, sentence=said)
    if offsets[0] == offsets[1] and (other := _with_summer_time(garden)):
        said = f"has no summer time, but clocks where this garden lies have one: is it {other}?"
        yield Problem(key="site.time_zone", value=site.time_zone, sentence=said)
    if site.elevation_m > HIGH_M:
        feet = f"{site.elevation_m:.0f} m, which is {site.elevation_m / M_PER_FOOT:.0f} ft"
        yield Problem(key="site.elevation_m", value=feet, sentence="is high for fruit trees; metres, or feet?")
    zone_latitude = zone_latitudes().get(site.time_zone)
    far = zone_latitude is not None and min(abs(zone_latitude), abs(site.latitude_deg)) > TROPICS_DEG
    if zone_latitude is not None and far and zone_latitude * site.latitude_deg < 0:
        said = f"is not on the half of the earth where {site.time_zone} is; south of the equator is negative"
        yield Problem(key="site.latitude_deg", value=site.latitude_deg, sentence=said)


def _with_summer_time(garden: Garden) -> str:
    """The time zone of the place, where its clocks are set forward in summer; empty where they are not, or unknown."""
    found = time_zone_at(garden.site.latitude_deg, garden.site.longitude_deg)
    if found is None:
        return ""
    offsets = {datetime(2025, month, 1, tzinfo=UTC).astimezone(ZoneInfo(found)).utcoffset() for month in (1, 7)}
    return found if len(offsets) > 1 else ""


@cache
def zone_latitudes() -> dict[str, float]:
    """Latitude [degrees] of the chief place of each time zone, from the time zone database's own table."""
    text = files("tzdata").joinpath("zoneinfo", "zone.tab").read_text(encoding="utf-8")
    rows = [row.split("\t") for row in text.splitlines() if row and not row.startswith("#")]
    return {row[2]: float(row[1][:3]) for row in rows}  # ±DDMM…: whole degrees are enough


def _quiet(garden: Garden) -> Iterator[Problem]:
    start, end = garden.quiet_from, garden.quiet_until
    hours = ((end.hour * 60 + end.minute) - (start.hour * 60 + start.minute)) % 1440 / 60
    if hours > LONG_QUIET_H:
        said = f"makes {hours:g} quiet hours a day; nudges have little room left before dusk"
        yield Problem(key="quiet_until", value=f"{end:%H:%M}", sentence=said)


def _sensors(garden: Garden) -> Iterator[Problem]:
    """A tree may be removed or renamed in the chat while its thermometer stays."""
    for i, one in enumerate(garden.sensors, start=1):
        if garden.tree_called(one.tree) is None:
            said = "is no tree of this garden; nothing is heard"
            yield Problem(key=f"sensors[{i}].tree", value=one.tree, sentence=said)


def _services(garden: Garden) -> Iterator[Problem]:
    for name in garden.services:
        service = SERVICES[name]
        if not service.covers(garden.site.latitude_deg, garden.site.longitude_deg):
            said = f'has "{name}", which forecasts for {service.region} only; this garden seems to lie outside'
            yield Problem(key="services", sentence=said)


def _trees(garden: Garden) -> Iterator[Problem]:
    for i, tree in enumerate(garden.trees, start=1):
        for key, value, said in _tree(garden, tree):
            yield Problem(key=f"trees[{i}].{key}", value=value, named=tree.name, sentence=said)


def _tree(garden: Garden, tree: Tree) -> Iterator[tuple[str, object, str]]:
    if tree.purpose is Purpose.KEEP and tree.worth_trips == 0:
        yield "worth_trips", 0, "is worth no trip, so nothing will ever be asked for it"
    if tree.left_bare and tree.cover is not None:
        yield "left_bare", True, "is left bare, so its cover will never be asked for"
    twin = garden.tree_called(tree.twin) if tree.twin else None
    if twin is not None and twin.species != tree.species:
        yield "twin", tree.twin, f"is a {twin.species}, this is a {tree.species}: they cannot be compared"
    if tree.height_m is not None and not USUAL_TREE_M[0] <= tree.height_m <= USUAL_TREE_M[1]:
        yield "height_m", tree.height_m, "metres is unusual for a tree under a cover; the right unit?"
    row = species_row(tree.species, tree.cultivar, None)
    if row.species == UNKNOWN:
        if Phase.RESTING not in tree.safe_to_c:
            yield "species", tree.species, "is as tender as a young fig to me until safe_to_c has resting = -15 or so"
        return
    for phase, own_c in tree.safe_to_c.items():
        table_c = row.wood_hardiness(phase).lt10_c
        if abs(own_c - table_c) > FAR_FROM_TABLE_C:
            yield (
                f"safe_to_c.{phase}",
                own_c,
                f"is far from the table's {table_c:g} °C for {row.label}; it is used all the same",
            )


def _covers(garden: Garden) -> Iterator[Problem]:
    used = {tree.cover for tree in garden.trees}
    for name, cover in garden.covers.items():
        if name not in used:
            yield Problem(key=f"covers.{name}", sentence="is on no tree")
        high_m, low = cover.height_m, cover.preset is Preset.MOUND
        if high_m > USUAL_COVER_M[1] or (high_m < USUAL_COVER_M[0] and not low):
            said = f"is {high_m * 100:.0f} cm or {high_m * 100 / CM_PER_INCH:.0f} in high: the right unit?"
            yield Problem(key=f"covers.{name}.height", sentence=said)
