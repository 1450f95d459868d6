"""The file of a garden that begins in the chat: its first text, and the time zone of a place."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import tomlkit

from bot.settings.editing import adding_covered_tree
from bot.settings.garden import Garden
from bot.settings.writing import write_garden
from bot.weather_services import offered
from rules.garden.tree import Site, Tending

FIRST_TEXT = """\
# The garden file of {name}, begun in the chat. Change it by hand or in the chat: remarks stay, and each change is read
# within a minute. Check it with:  bedstraw check FILE

name = {name_quoted}

# Nothing is sent between these times of your own clock; what would fall there is sent earlier.
quiet_from = "21:00"
quiet_until = "07:00"

# Whom to ask for the weather, in this order: {services}.
services = ["open-meteo"]
# services_together = true   # with two or more: hear all of them, and weigh each by how it did here
# page_on_saturdays = true   # a page to look at, sent each Saturday afternoon

# Whose way covers are tended: "fewest trips", "early", or "as I was taught".
tending = "{tending}"

[site]
latitude_deg = {latitude_deg} # south of the equator is negative
longitude_deg = {longitude_deg} # west of Greenwich is negative
elevation_m = {elevation_m}
time_zone = "{time_zone}"

[units] # what you want to read in the chat
fahrenheit = {fahrenheit}
wind = "{wind}"
length = "{length}"

[[people]]
name = {owner_quoted}
role = "owner"

"""


@dataclass(frozen=True, kw_only=True)
class FirstWords:
    """All that a garden's first file needs besides its first tree."""

    name: str
    owner: str
    site: Site
    fahrenheit: bool
    tending: Tending = Tending.FEWEST_TRIPS


def begin_garden(
    path: Path, words: FirstWords, tree: Mapping[str, Any], cover: str | None, cover_values: Mapping[str, Any]
) -> Garden:
    """The garden whose file was just written: place, units, owner, first tree and its cover, if it has one.

    Raises
    ------
    GardenError
        What was said makes no garden, or the file cannot be written.
    """
    document = tomlkit.parse(_first_text(words))
    adding_covered_tree(tree, cover, cover_values)(document)
    return write_garden(path, tomlkit.dumps(document))


def _first_text(words: FirstWords) -> str:
    return FIRST_TEXT.format(
        name=" ".join(words.name.split()),
        name_quoted=tomlkit.string(words.name).as_string(),
        owner_quoted=tomlkit.string(words.owner).as_string(),
        latitude_deg=words.site.latitude_deg,
        longitude_deg=words.site.longitude_deg,
        elevation_m=round(words.site.elevation_m),
        time_zone=words.site.time_zone,
        services=offered(),
        tending=words.tending.value,
        fahrenheit="true" if words.fahrenheit else "false",
        wind="mph" if words.fahrenheit else "km/h",
        length="in" if words.fahrenheit else "cm",
    )


def called(text: str, name: str) -> str:
    """The text of a garden file that was read before, its garden under another name."""
    document = tomlkit.parse(text)
    document["name"] = name
    return tomlkit.dumps(document)


def time_zone_at(latitude_deg: float, longitude_deg: float) -> str | None:
    """The name of the time zone of a place; None out at sea and at the poles.

    >>> time_zone_at(39, -109)
    'America/Denver'
    """
    from tzfpy import get_tz  # its map takes a while to load and is needed once in a garden's life

    zone = get_tz(longitude_deg, latitude_deg)
    return None if not zone or zone.startswith("Etc/") else zone


def name_of_file(path: Path) -> str:
    """What a garden is called after its file.

    >>> name_of_file(Path("larkmoor.toml"))
    'Larkmoor'
    """
    words = path.stem.replace("_", " ").replace("-", " ").strip() or "Garden"
    return (words[:1].upper() + words[1:])[:60]
