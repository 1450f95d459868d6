"""What is bought for covers and in what pieces, how large the grower's pieces are, and what lies in the shed."""

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib.resources import files
from typing import Annotated, Final, Self

from pydantic import Field, model_validator

from rules.garden.tree import Noun

BALE_KG_M3: Final = 107.0  # small dry bales, 16 kg in 14 x 18 x 36 in; common practice, no source
BELIEVABLE_BALE_KG_M3: Final = (40.0, 250.0)  # beyond small (70-150) and pressed large bales; assumed, no source


class SupplyKind(StrEnum):
    """What is bought for covers, each with a row in the table of supplies."""

    STRAW = "straw"
    LEAVES = "leaves"
    WOOD_SHAVINGS = "wood_shavings"
    SOIL = "soil"
    CLEAR_FILM = "clear_film"
    ANTI_DRIP_FILM = "anti_drip_film"
    WHITE_FILM = "white_film"
    BLACK_FILM = "black_film"
    BURLAP = "burlap"
    FLEECE = "fleece"
    MOVING_BLANKET = "moving_blanket"
    BUBBLE_FOIL = "bubble_foil"
    INSULATING_BLANKET = "insulating_blanket"
    WIRE_MESH = "wire_mesh"
    BOARDS = "boards"
    STAKES = "stakes"
    STAKE_ENDS = "stake_ends"  # caps for the tops of stakes
    TIES = "ties"
    STRAPS = "straps"
    CAPS = "caps"  # insulated lids


class SupplyUnit(StrEnum):
    """Units of the amounts."""

    KG = "kg"
    M2 = "m2"
    M3 = "m3"
    M = "m"
    PIECE = "piece"


class Bale(Noun):
    """The grower's straw bale: its weight, or its size, from which its weight follows; nothing, and it is the table's.

    >>> round(Bale(length_m=0.9144, width_m=0.4572, height_m=0.3556).straw_kg)
    16
    """

    weight_kg: Annotated[float | None, Field(gt=0, le=1000)] = None
    length_m: Annotated[float | None, Field(gt=0, le=3)] = None
    width_m: Annotated[float | None, Field(gt=0, le=3)] = None
    height_m: Annotated[float | None, Field(gt=0, le=3)] = None

    @model_validator(mode="after")
    def _must_say_enough(self) -> Self:
        volume_m3 = self.volume_m3
        if volume_m3 is None and (self.length_m, self.width_m, self.height_m) != (None, None, None):
            raise ValueError("the size of a bale is its length_m, width_m and height_m, all three")
        if self.weight_kg is not None and volume_m3 is not None:
            low, high = BELIEVABLE_BALE_KG_M3
            if not low <= self.weight_kg / volume_m3 <= high:
                raise ValueError(
                    f"a bale of {self.weight_kg:g} kg and this size weighs {self.weight_kg / volume_m3:.0f} kg/m³, "
                    f"believable is {low:g} to {high:g}"
                )
        return self

    @property
    def volume_m3(self) -> float | None:
        """Its volume as baled [m³]; None where a side is not known."""
        sides = (self.length_m, self.width_m, self.height_m)
        known = [side for side in sides if side is not None]
        return math.prod(known) if len(known) == len(sides) else None

    @property
    def straw_kg(self) -> float | None:
        """The straw in it [kg], which fills a cage loose-packed (`STRAW_KG_M3`); None where nothing is said of it."""
        by_size = None if self.volume_m3 is None else BALE_KG_M3 * self.volume_m3
        return by_size if self.weight_kg is None else self.weight_kg


class Shed(Noun):
    """What lies in the shed, in pieces as they are bought, and how large the grower's pieces are.

    `have` counts bales, sheets, rolls, stakes; half a roll is 0.5. `piece` replaces the size of a piece in its unit:
    `straw = 20` is a bale of 20 kg, `white_film = 24` a sheet of 24 m². `bale` is the straw bale by weight or size.
    """

    have: Mapping[SupplyKind, Annotated[float, Field(ge=0, le=100_000)]] = {}
    piece: Mapping[SupplyKind, Annotated[float, Field(gt=0, le=100_000)]] = {}
    bale: Bale = Bale()

    def piece_of(self, kind: SupplyKind) -> float:
        """The size of one piece in its unit: the grower's own, else that of the table."""
        own = self.piece.get(kind) or (self.bale.straw_kg if kind is SupplyKind.STRAW else None)
        return own or supply_rows()[kind].piece


@dataclass(frozen=True, kw_only=True)
class SupplyRow:
    """How one thing is bought: size of a piece in `unit`, share wasted, share of a piece one may go without."""

    unit: SupplyUnit
    piece: float
    waste: float
    slack: float
    source: str


@cache
def supply_rows() -> Mapping[SupplyKind, SupplyRow]:
    """The table of supplies, each row with its source."""
    table = tomllib.loads(files("rules.garden").joinpath("supplies.toml").read_text("utf-8"))
    return {
        SupplyKind(name): SupplyRow(
            unit=SupplyUnit(row["unit"]),
            piece=row["piece"],
            waste=row["waste"],
            slack=row.get("slack", 0.0),
            source=row["source"],
        )
        for name, row in table.items()
    }
