"""What was understood of a garden file, in the grower's own words and units."""

from collections.abc import Iterator
from typing import Final

from bot.settings.doubtful import doubtful
from bot.settings.garden import Garden, Units
from bot.settings.grower_units import PIECES, UNITS
from bot.weather_services import SERVICES
from rules.garden.cover import Cover
from rules.garden.materials import Blanket, BlanketPlace, Fill, Film
from rules.garden.tree import Purpose, Standing, Tree

STANDINGS: Final = {
    Standing.OPEN: "in the open",
    Standing.WALL: "against the wall of a heated house",
    Standing.EAVE: "under an eave",
    Standing.HOLLOW: "in a hollow where cold air gathers",
    Standing.SLOPE: "on a slope",
    Standing.COURT: "in a paved court",
    Standing.POT: "in a pot",
}
PURPOSES: Final = {Purpose.KEEP: "to keep", Purpose.TRIAL: "on trial", Purpose.GIVE_AWAY: "to give away"}
MINUS: Final = "−"


def in_plain_words(garden: Garden) -> str:
    """What was understood of a garden, line by line, and what is doubtful about it at the end."""
    doubts = [f"  {doubt}" for doubt in doubtful(garden)]
    lines = [*_place(garden), "", *_trees(garden), "", *_covers(garden), *_jobs_and_shed(garden), *_sensors(garden)]
    if doubts:
        lines += ["", "Understood, but look again:", *doubts]
    return "\n".join(lines)


def _place(garden: Garden) -> Iterator[str]:
    site = garden.site
    north, east = ("N" if site.latitude_deg >= 0 else "S"), ("E" if site.longitude_deg >= 0 else "W")
    elevation = (
        f"{_number(UNITS['ft'].from_base(site.elevation_m))} ft" if _inches(garden) else f"{site.elevation_m:.0f} m"
    )
    place = f"{abs(site.latitude_deg):g}° {north}, {abs(site.longitude_deg):g}° {east}, {elevation} up"
    yield f"{garden.name}: {place}. Times in {site.time_zone}."
    yield f"Quiet from {garden.quiet_from:%H:%M} to {garden.quiet_until:%H:%M}. Units: {_units(garden.units)}."
    yield "People: " + ", ".join(f"{person.name} ({person.role})" for person in garden.people) + "."
    titles = [SERVICES[one].listed or SERVICES[one].title for one in garden.services]
    yield (
        f"Weather from {' and '.join(titles)}, heard together."
        if garden.services_together
        else (f"Weather from {', then '.join(titles)}.")
    )
    past = [("Past weather", garden.past_weather), ("Past winters", garden.past_winters)]
    yield from (f"{what}: {place.name}." if place else f"{what}: none given." for what, place in past)


def _jobs_and_shed(garden: Garden) -> Iterator[str]:
    if garden.jobs:
        tuned = [f"{kind} {'off' if own.on is False else 'tuned'}" for kind, own in garden.jobs.items()]
        yield from ("", f"Jobs: {', '.join(tuned)}.")
    if garden.shed.have:
        stock = [f"{count:g} {PIECES[kind][count != 1]}" for kind, count in garden.shed.have.items()]
        yield from ("", f"In the shed: {', '.join(stock)}.")


def _sensors(garden: Garden) -> Iterator[str]:
    if garden.sensors:
        yield from ("", "Thermometers heard over MQTT:")
        yield from (f"  {one.topic}: {one.place} at {one.tree}, in °{one.unit.upper()}." for one in garden.sensors)


def _units(units: Units) -> str:
    comma = ", decimal comma" if units.decimal == "comma" else ""
    return f"{'°F' if units.fahrenheit else '°C'}, {units.wind}, {units.length}{comma}"


def _trees(garden: Garden) -> Iterator[str]:
    yield f"{len(garden.trees)} {'tree' if len(garden.trees) == 1 else 'trees'}:"
    for i, tree in enumerate(garden.trees, start=1):
        yield f"  {i} {_called(tree)}: {_kind(tree)}, {STANDINGS[tree.standing]}, {_what_for(tree)}."
        if tree.safe_to_c:
            own = ", ".join(f"{_degrees(own_c, garden.units)} {phase}" for phase, own_c in tree.safe_to_c.items())
            yield f"    By your own word it is safe to {own}."


def _called(tree: Tree) -> str:
    return f"{tree.name} (also {', '.join(tree.short_names)})" if tree.short_names else tree.name


def _kind(tree: Tree) -> str:
    cultivar = f" '{tree.cultivar}'" if tree.cultivar else ""
    planted = f", planted {tree.planted_year}" if tree.planted_year else ", planting year not given"
    return f"{tree.species}{cultivar}{planted}"


def _what_for(tree: Tree) -> str:
    worth = f"{PURPOSES[tree.purpose]}, worth {tree.worth_trips:g} {'trip' if tree.worth_trips == 1 else 'trips'}"
    cover = f"cover {tree.cover}" if tree.cover else "no cover"
    cover = "left bare on purpose" if tree.left_bare else cover
    twin = f" beside its twin {tree.twin}" if tree.twin else ""
    return f"{worth}, {cover}{twin}"


def _covers(garden: Garden) -> Iterator[str]:
    yield f"{len(garden.covers)} {'cover' if len(garden.covers) == 1 else 'covers'}:"
    for name, cover in garden.covers.items():
        yield f"  {name}: {_build(cover, inches=_inches(garden))}."


def _build(cover: Cover, *, inches: bool) -> str:
    """Layers from the inside out and how far up each reaches, cap, sizes."""
    fill = [] if cover.fill is Fill.NONE else [f"{_size(cover.fill_thickness_m, inches=inches)} of {cover.fill}"]
    fill = [text + _reach(cover.fill_height_m, inches=inches) for text in fill]
    blanket = (
        [] if cover.blanket is Blanket.NONE else [f"{cover.blanket}{_reach(cover.blanket_height_m, inches=inches)}"]
    )
    outside = cover.blanket_place is BlanketPlace.OUTSIDE
    layers = [*fill, *([f"{blanket[0]} outside"] if outside else blanket)]
    layers += [] if cover.film is Film.NONE else [f"{cover.film} film{_reach(cover.film_height_m, inches=inches)}"]
    wide, high = _size(cover.outer_diameter_m, inches=inches), _size(cover.height_m, inches=inches)
    body = f"{', '.join(layers) or 'no layers'}, {_top(cover, inches=inches)}, {wide} wide, {high} high"
    return f"{cover.preset}: {body}, {cover.minutes_to_wrap:g} minutes to wrap, {cover.minutes_to_close:g} to close"


def _reach(height_m: float | None, *, inches: bool) -> str:
    return "" if height_m is None else f" up to {_size(height_m, inches=inches)}"


def _top(cover: Cover, *, inches: bool) -> str:
    lid = f", {_size(cover.lid_m, inches=inches)} lid" if cover.lid_m else ""
    taller = cover.tree_height_m is not None and cover.tree_height_m > cover.height_m
    return f"cap {cover.cap}{lid}{', the tree taller than it' if taller else ''}"


def _inches(garden: Garden) -> bool:
    return garden.units.length == "in"


def _size(metres: float, *, inches: bool) -> str:
    unit = UNITS["in" if inches else "cm"]
    return f"{_number(unit.from_base(metres))} {unit.written}"


def _degrees(celsius: float, units: Units) -> str:
    unit = UNITS["f" if units.fahrenheit else "c"]
    return f"{unit.from_base(celsius):.3g} {unit.written}".replace("-", MINUS)


def _number(value: float) -> str:
    return f"{value:.1f}" if 0 < value < 1 else f"{value:.0f}"
