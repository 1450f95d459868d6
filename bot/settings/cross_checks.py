"""What one key of a garden file says about another: names, covers, twins, zones, services, thresholds.

These look at the file's tables before the nouns are made, so that they are reported together with whatever the nouns
refuse. A value of the wrong kind is passed over here; the nouns complain of it.
"""

import unicodedata
from collections.abc import Iterator
from datetime import date, time
from functools import cache
from itertools import pairwise
from typing import Any, Final, NamedTuple
from zoneinfo import available_timezones

from bot.settings.garden import Role
from bot.settings.problems import did_you_mean, listed
from bot.settings.toml_text.toml_lines import Path
from bot.weather_services import SERVICES, Service
from rules.garden.cover import BOUNDS
from rules.garden.species import UNKNOWN, nearest_species, plain, species_names
from rules.garden.tree import Phase


class Finding(NamedTuple):
    """One thing that is wrong: path in our units, sentence, and where it is about a range its ends in our unit."""

    path: Path
    sentence: str
    bounds: tuple[float, float] | None = None


WORDS_OF_THE_CHAT: Final = frozenset(
    {"all", "none", "everything", "wrapped", "wrap", "vented", "vent", "opened", "open", "closed", "close", "stripped"}
    | {"strip", "undo", "help", "due", "tonight", "today", "tomorrow", "trees", "why", "no", "yes", "not", "what"}
    | {"season", "away", "more", "cancel"}
)
PLANNED_YEARS: Final = 1  # a tree may be entered the winter before it is planted
# From the tenderest phase to the hardiest: wood can take least in growth, most at rest (starting table of the plants
# chapter: every row obeys it). Waking lies between growing and resting.
TENDER_TO_HARDY: Final = (
    (Phase.GROWING, Phase.RIPENING, Phase.HARDENING, Phase.RESTING),
    (Phase.GROWING, Phase.WAKING, Phase.RESTING),
)


def findings(garden: dict[str, Any], today: date) -> list[Finding]:
    """Everything that does not fit together, as path and sentence.

    Parameters
    ----------
    garden
        The file's tables with keys and numbers in our units.
    today
        The day against which planting years are judged.
    """
    trees = _rows(garden, "trees")
    return [
        *_place(garden),
        *_one_line(garden),
        *_people(garden),
        *_services(garden),
        *_names(trees),
        *_covers(garden, trees),
        *_twins(trees),
        *_species(trees),
        *_years(trees, today),
        *_thresholds(trees),
        *_cover_sizes(garden),
    ]


def _rows(garden: dict[str, Any], key: str) -> list[tuple[int, dict[str, Any]]]:
    entries = garden.get(key)
    return [(i, row) for i, row in enumerate(entries) if isinstance(row, dict)] if isinstance(entries, list) else []


def _text(row: dict[str, Any], key: str) -> str | None:
    value = row.get(key)
    if isinstance(value, date | time):  # TOML reads a bare 2000-01-01 as a date; the nouns take it as its text
        return value.isoformat()
    return value if isinstance(value, str) else None


def _place(garden: dict[str, Any]) -> Iterator[Finding]:
    site = garden.get("site")
    zone = _text(site, "time_zone") if isinstance(site, dict) else None
    if zone is not None and zone not in _time_zones():
        hint = did_you_mean(zone, _time_zones())
        yield Finding(("site", "time_zone"), f'must be the name of a time zone like "America/Denver"{hint}')
    quiet = (str(garden.get("quiet_from", ""))[:5], str(garden.get("quiet_until", ""))[:5])
    if quiet[0] and quiet[0] == quiet[1]:
        yield Finding(("quiet_until",), "must differ from quiet_from, or there is no telling when it is quiet")


@cache
def _time_zones() -> frozenset[str]:
    """Listed once: it reads a folder of six hundred files, and a garden file is read often."""
    return frozenset(available_timezones())


def _one_line(garden: dict[str, Any]) -> Iterator[Finding]:
    """Names that are not on one line; of NUL among others no database keeps a trace."""
    covers = garden.get("covers")
    named: list[tuple[Path, str | None]] = [(("name",), _text(garden, "name"))]
    named += [(("people", i, "name"), _text(row, "name")) for i, row in _rows(garden, "people")]
    named += [(("covers", name), name) for name in (covers if isinstance(covers, dict) else ())]
    for path, name in named:
        if name is not None and _has_control_letter(name):
            yield Finding(path, "must be on one line, without control characters")


def _has_control_letter(name: str) -> bool:
    return any(unicodedata.category(letter) == "Cc" for letter in name)


def _people(garden: dict[str, Any]) -> Iterator[Finding]:
    people = _rows(garden, "people")
    yield from _twice("people", [(i, name) for i, row in people if (name := _text(row, "name"))])
    if people and not any(row.get("role") == Role.OWNER for _, row in people):
        yield Finding(("people",), 'must hold at least one with role = "owner"')


def _services(garden: dict[str, Any]) -> Iterator[Finding]:
    services = garden.get("services")
    named = [name for name in services if isinstance(name, str)] if isinstance(services, list) else []
    for i, name in enumerate(named):
        if name in named[:i]:
            yield Finding(("services",), f'has "{name}" twice')
    if Service.SAVED in named and "saved_forecasts" not in garden:
        yield Finding(("saved_forecasts",), 'is missing; the service "saved" needs the folder of the saved forecasts')
    if garden.get("services_together") is True:
        yield from _together(named)
    wanting = [name for name, one in SERVICES.items() if one.needs_contact and name in named]
    if wanting and not str(garden.get("contact", "")).strip():
        yield Finding(("contact",), f"is missing; {listed(wanting)} must be told a mail address or web page of yours")


def _together(named: list[str]) -> Iterator[Finding]:
    if Service.SAVED in named:
        yield Finding(("services",), 'has "saved" among services heard together; saved forecasts stand alone')
    elif len(set(named)) < 2:
        yield Finding(("services_together",), "needs two or more services; with one, leave it out")


def _names(trees: list[tuple[int, dict[str, Any]]]) -> Iterator[Finding]:
    yield from _twice("trees", [(i, name) for i, row in trees if (name := _text(row, "name"))])
    taken = {name.casefold(): i for i, row in trees if (name := _text(row, "name"))}
    for i, row in trees:
        shorts = row.get("short_names")
        for k, short in enumerate(shorts if isinstance(shorts, list) else ()):
            if isinstance(short, str):
                yield from (Finding(("trees", i, "short_names", k), said) for said in _word_faults(short))
                owner = taken.setdefault(short.casefold(), i)
                if owner != i:
                    yield Finding(("trees", i, "short_names", k), f"is already a name of trees[{owner + 1}]")
        name = _text(row, "name")
        yield from (Finding(("trees", i, "name"), said) for said in (_word_faults(name) if name else ()))


def _word_faults(name: str) -> Iterator[str]:
    """Why a name could not be told from the rest of a message."""
    if not name.strip() or name != name.strip():
        yield "must not be empty or have blanks at its ends"
    elif name.casefold() in WORDS_OF_THE_CHAT:
        yield "is a word of the conversation; choose another name"
    elif name.replace(".", "").replace(",", "").replace("-", "").isdigit():
        yield "must not be a number: numbers stand for temperatures and for the place in a list"
    elif "," in name or _has_control_letter(name):
        yield "must be on one line and without a comma"


def _twice(key: str, named: list[tuple[int, str]]) -> Iterator[Finding]:
    first: dict[str, int] = {}
    for i, name in named:
        earlier = first.setdefault(name.casefold(), i)
        if earlier != i:
            yield Finding((key, i, "name"), f"is already the name of {key}[{earlier + 1}]")


def _covers(garden: dict[str, Any], trees: list[tuple[int, dict[str, Any]]]) -> Iterator[Finding]:
    covers = garden.get("covers")
    known = list(covers) if isinstance(covers, dict) else []
    for i, row in trees:
        cover = _text(row, "cover")
        if cover is not None and cover not in known:
            choices = f"must be one of {listed(known)}" if known else "there are no covers in this file"
            yield Finding(("trees", i, "cover"), f"{choices}{did_you_mean(cover, known)}")


def _twins(trees: list[tuple[int, dict[str, Any]]]) -> Iterator[Finding]:
    names = [name for _, row in trees if (name := _text(row, "name"))]
    for i, row in trees:
        twin = _text(row, "twin")
        if twin is None:
            continue
        if twin == row.get("name"):
            yield Finding(("trees", i, "twin"), "must name another tree, not this one")
        elif twin not in names:
            yield Finding(("trees", i, "twin"), f"must be the name of a tree in this file{did_you_mean(twin, names)}")


def _species(trees: list[tuple[int, dict[str, Any]]]) -> Iterator[Finding]:
    known = species_names()
    for i, row in trees:
        species = _text(row, "species")
        if species is not None and plain(species) not in known:
            near = nearest_species(species)
            kinds = listed(sorted(set(known.values()) - {UNKNOWN}))
            hint = f' (did you mean "{near[0]}"?)' if near else f'; known are {kinds}; any other is "{UNKNOWN}"'
            yield Finding(("trees", i, "species"), f"is not in the table of what wood can take{hint}")


def _years(trees: list[tuple[int, dict[str, Any]]], today: date) -> Iterator[Finding]:
    latest = today.year + PLANNED_YEARS
    for i, row in trees:
        year = row.get("planted_year")
        if isinstance(year, int) and year > latest:
            yield Finding(("trees", i, "planted_year"), f"must be at most {latest}, next year")


def _thresholds(trees: list[tuple[int, dict[str, Any]]]) -> Iterator[Finding]:
    for i, row in trees:
        own = row.get("safe_to_c")
        if not isinstance(own, dict):
            continue
        for order in TENDER_TO_HARDY:
            given = [(phase, own[phase]) for phase in order if isinstance(own.get(phase), int | float)]
            for (tender, warm), (hardy, cold) in pairwise(given):
                if cold > warm:
                    yield Finding(
                        ("trees", i, "safe_to_c", str(hardy)),
                        f"must not be warmer than {tender}: {hardy} wood can take more",
                    )


def _cover_sizes(garden: dict[str, Any]) -> Iterator[Finding]:
    """Sizes nobody builds, each named; the cover itself would stop at the first."""
    covers = garden.get("covers")
    for name, cover in covers.items() if isinstance(covers, dict) else ():
        if isinstance(cover, dict) and "condition" in cover:
            said = "is what you tell in the chat as it happens, not what the cover is built of; leave it out"
            yield Finding(("covers", name, "condition"), said)
        for field, (low, high) in BOUNDS.items() if isinstance(cover, dict) else ():
            value = cover.get(field)
            if isinstance(value, int | float) and not isinstance(value, bool) and not low <= value <= high:
                yield Finding(("covers", name, field), "must be", (low, high))
