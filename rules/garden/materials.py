"""What a cover is built of: fills, wraps, skins, tops and the soil below, and the table of what each of them does."""

import tomllib
from enum import StrEnum
from functools import cache
from importlib.resources import files
from typing import Any


class Fill(StrEnum):
    """What lies between the two cages."""

    NONE = "none"
    STRAW = "straw"
    WET_STRAW = "wet straw"
    LEAVES = "leaves"
    SHAVINGS = "wood shavings"
    SOIL = "soil"


class Blanket(StrEnum):
    """What is wrapped round the inner cage."""

    NONE = "none"
    BURLAP = "burlap"
    FLEECE = "fleece"
    MOVING = "moving blanket"
    FOIL = "bubble foil"
    INSULATING = "insulating blanket"


class Film(StrEnum):
    """The outermost skin."""

    NONE = "none"
    CLEAR = "clear"
    ANTI_DRIP = "clear anti-drip"
    WHITE = "white"
    BLACK = "black"


class BlanketPlace(StrEnum):
    """On which side of the fill the blanket is."""

    INSIDE = "inside"
    OUTSIDE = "outside"


class Cap(StrEnum):
    """What lies over the top when the cover is closed."""

    NONE = "none"  # open to the sky, unless a plug of fill or a lid of boards lies there
    GATHERED = "gathered"  # the wrap itself, drawn together over the top
    VENTED = "vented"  # insulated, with a hole that stays open
    FILM = "film"
    INSULATED = "insulated"


class Ground(StrEnum):
    """The soil under the cover."""

    LOAM = "loam"
    SAND = "sand"
    CLAY = "clay"
    PEAT = "peat"


@cache
def materials() -> dict[str, dict[str, dict[str, Any]]]:
    """Tables of fills, blankets, films, caps, ground and presets, each row with its source."""
    return tomllib.loads(files("rules.garden").joinpath("materials.toml").read_text("utf-8"))
