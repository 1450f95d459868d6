"""Keys of the garden file in the grower's units → the same values in °C and SI.

A noun's field says its unit (`elevation_m`); the grower may write the same thing in any unit of that kind
(`elevation_ft`). The words of the nouns themselves tell what is possible, so a new field needs nothing here.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

from rules.garden.shed import SupplyKind
from rules.garden.units import CM_PER_INCH, KG_PER_POUND, M_PER_FOOT, M_S_PER_KM_H, M_S_PER_KNOT, M_S_PER_MPH

LITRES_PER_US_GALLON: Final = 3.785411784  # exact: 231 cubic inches


@dataclass(frozen=True, kw_only=True)
class Unit:
    """One unit: what it measures, how it is written, and base = value x `factor` + `shift`.

    >>> round(UNITS["f"].to_base(23.0), 6), UNITS["f"].from_base(-5.0)
    (-5.0, 23.0)
    """

    kind: str
    written: str
    factor: float = 1.0
    shift: float = 0.0

    def to_base(self, value: float) -> float:
        """The value in the base unit of its kind."""
        return value * self.factor + self.shift

    def from_base(self, value: float) -> float:
        """The value in this unit of something given in the base unit, free of rounding dust."""
        return round((value - self.shift) / self.factor, 9)


# Endings of keys, longest first so that `wind_m_s` is not read as seconds of `wind_m`.
UNITS: Final[Mapping[str, Unit]] = {
    "km_h": Unit(kind="speed", written="km/h", factor=M_S_PER_KM_H),
    "m_s": Unit(kind="speed", written="m/s"),
    "mph": Unit(kind="speed", written="mph", factor=M_S_PER_MPH),
    "kn": Unit(kind="speed", written="kn", factor=M_S_PER_KNOT),
    "mm": Unit(kind="length", written="mm", factor=0.001),
    "cm": Unit(kind="length", written="cm", factor=0.01),
    "in": Unit(kind="length", written="in", factor=CM_PER_INCH / 100),
    "ft": Unit(kind="length", written="ft", factor=M_PER_FOOT),
    "kg": Unit(kind="mass", written="kg"),
    "lb": Unit(kind="mass", written="lb", factor=KG_PER_POUND),
    "gal": Unit(kind="volume", written="US gal", factor=LITRES_PER_US_GALLON),
    "l": Unit(kind="volume", written="l"),
    "m": Unit(kind="length", written="m"),
    "c": Unit(kind="temperature", written="°C"),
    "f": Unit(kind="temperature", written="°F", factor=1 / 1.8, shift=-32 / 1.8),
}


@lru_cache(1000)  # of what growers write, the longest file has hundreds of keys
def stem_and_unit(key: str) -> tuple[str, Unit] | None:
    """What a key is about and the unit it ends in; None for a key without a unit.

    >>> stem_and_unit("elevation_ft")[0], stem_and_unit("name")
    ('elevation', None)
    """
    for ending, unit in UNITS.items():
        if key.endswith("_" + ending) and len(key) > len(ending) + 1:
            return key[: -len(ending) - 1], unit
    return None


def field_meant(key: str, fields: Mapping[str, Any]) -> str | None:
    """The field a key stands for: itself, or the one with the same stem and a unit of the same kind."""
    if key in fields:
        return key
    given = stem_and_unit(key)
    for field in fields if given else ():
        meant = stem_and_unit(field)
        if given and meant and (meant[0], meant[1].kind) == (given[0], given[1].kind):
            return field
    return None


def in_field_unit(value: Any, key: str, field: str) -> Any:
    """The value of `key` in the unit of `field`; numbers inside a list or a table too, anything else untouched."""
    given, meant = stem_and_unit(key), stem_and_unit(field)
    if key == field or given is None or meant is None:
        return value
    if isinstance(value, dict):
        return {name: in_field_unit(item, key, field) for name, item in value.items()}
    if isinstance(value, list):
        return [in_field_unit(item, key, field) for item in value]
    if isinstance(value, bool) or not isinstance(value, int | float):
        return value
    return meant[1].from_base(given[1].to_base(value))


def spellings(fields: Mapping[str, Any]) -> Iterator[str]:
    """Every key that is understood for these fields: each field in every unit of its kind."""
    for field in fields:
        yield field
        if meant := stem_and_unit(field):
            yield from (f"{meant[0]}_{end}" for end, unit in UNITS.items() if unit.kind == meant[1].kind)


# One piece and several, as they are asked for in a shop.
PIECES: Final = {
    SupplyKind.STRAW: ("bale of straw", "bales of straw"),
    SupplyKind.LEAVES: ("bag of dry leaves", "bags of dry leaves"),
    SupplyKind.WOOD_SHAVINGS: ("bale of wood shavings", "bales of wood shavings"),
    SupplyKind.SOIL: ("barrow of soil", "barrows of soil"),
    SupplyKind.CLEAR_FILM: ("sheet of clear film", "sheets of clear film"),
    SupplyKind.ANTI_DRIP_FILM: ("sheet of anti-drip film", "sheets of anti-drip film"),
    SupplyKind.WHITE_FILM: ("sheet of white film", "sheets of white film"),
    SupplyKind.BLACK_FILM: ("sheet of black film", "sheets of black film"),
    SupplyKind.BURLAP: ("roll of burlap", "rolls of burlap"),
    SupplyKind.FLEECE: ("sheet of fleece", "sheets of fleece"),
    SupplyKind.MOVING_BLANKET: ("moving blanket", "moving blankets"),
    SupplyKind.BUBBLE_FOIL: ("roll of bubble foil", "rolls of bubble foil"),
    SupplyKind.INSULATING_BLANKET: ("roll of insulating blanket", "rolls of insulating blanket"),
    SupplyKind.WIRE_MESH: ("roll of wire mesh", "rolls of wire mesh"),
    SupplyKind.BOARDS: ("sheet of board", "sheets of board"),
    SupplyKind.STAKES: ("stake", "stakes"),
    SupplyKind.STAKE_ENDS: ("guard cap for a stake", "guard caps for stakes"),
    SupplyKind.TIES: ("bag of ties", "bags of ties"),
    SupplyKind.STRAPS: ("strap", "straps"),
    SupplyKind.CAPS: ("insulated lid", "insulated lids"),
}
