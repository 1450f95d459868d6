"""What flower buds can take in spring, by species and stage, from published tables."""

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from statistics import NormalDist
from typing import Any, Final, NamedTuple

from rules.garden.units import c_from_f

Z90: Final = NormalDist().inv_cdf(0.9)  # 1.2816: from the middle of a normal dose curve to its 10 and 90 % points


class Critical(NamedTuple):
    """Temperatures that kill 10, 50 and 90 % of the buds [°C], and the sd of the dose curve [°C].

    None where the table gives no 90 %. Where no 50 % is printed it is the middle of the two, and the sd is
    (T10 - T90) / 2.563: a normal dose curve, an assumption.
    """

    t10_c: float
    t50_c: float | None
    t90_c: float | None
    sigma_c: float | None


@dataclass(frozen=True, kw_only=True)
class BudRow:
    """One stage of one published table.

    Parameters
    ----------
    species, stage
        As the table names them; stages of a species stand in the order they pass.
    critical
        What kills how many of the buds.
    unhurt_c
        Lowest temperature endured without damage [°C], by the earlier standard or, for grape, the same table.
    minutes
        How long the cold lasted [min].
    source
        Where the row was read, and how much of it was computed.
    """

    species: str
    stage: str
    critical: Critical
    unhurt_c: float | None
    minutes: int
    source: str


def critical(species: str, stage: str) -> Critical:
    """What the buds of a species can take at a stage, for 30 minutes (kaki: one hour).

    Where two tables contradict each other, as for grape, the warmer 10 % counts: the cold-side safe one.

    Raises
    ------
    ValueError
        A species or stage in none of the tables; the sentence names those that are.

    >>> critical("apple", "full bloom")  # doctest: +ELLIPSIS
    Critical(t10_c=-2.2..., t50_c=-3.0..., t90_c=-3.8..., sigma_c=0.65...)
    """
    return bud_row(species, stage).critical


def bud_row(species: str, stage: str) -> BudRow:
    """The row `critical` rests on, with its source; refuses as `critical`."""
    wanted = stage.strip().lower()
    rows = [row for row in bud_rows(species) if row.stage == wanted]
    if not rows:
        raise ValueError(f"no stage {stage!r} of {species}, the tables have {', '.join(stages(species))}")
    return max(rows, key=lambda row: row.critical.t10_c)


def stages(species: str) -> tuple[str, ...]:
    """The stages of a species in the order they pass; refuses as `critical`."""
    return tuple(dict.fromkeys(row.stage for row in bud_rows(species)))


def bud_rows(species: str) -> tuple[BudRow, ...]:
    """Every row of a species, of every table; refuses as `critical`."""
    found = tuple(row for row in _table() if row.species == species.strip().lower())
    if not found:
        raise ValueError(f"no critical spring temperatures of {species!r}, the tables have {', '.join(bud_species())}")
    return found


def bud_species() -> tuple[str, ...]:
    """The species with critical spring temperatures."""
    return tuple(dict.fromkeys(row.species for row in _table()))


@cache
def _table() -> tuple[BudRow, ...]:
    text = files("rules.wood.buds").joinpath("critical.toml").read_text("utf-8")
    table = tomllib.loads(text)
    return tuple(_row(entry, table["sources"]) for entry in table["rows"])


def _row(entry: dict[str, Any], sources: dict[str, str]) -> BudRow:
    t10_c, t50_c, t90_c = (_celsius(entry, name) for name in ("t10", "t50", "t90"))
    if t10_c is None:
        raise ValueError(f"critical.toml: {entry['species']}, {entry['stage']} has neither t10_f nor t10_c")
    if t50_c is None and t90_c is not None:
        t50_c = (t10_c + t90_c) / 2
    sigma_c = None if t90_c is None else (t10_c - t90_c) / (2 * Z90)
    return BudRow(
        species=entry["species"],
        stage=entry["stage"],
        critical=Critical(t10_c, t50_c, t90_c, sigma_c),
        unhurt_c=_celsius(entry, "unhurt"),
        minutes=entry.get("minutes", 30),
        source=sources[entry["source"]],
    )


def _celsius(entry: dict[str, Any], name: str) -> float | None:
    if f"{name}_f" in entry:
        return c_from_f(entry[f"{name}_f"])
    return entry.get(f"{name}_c")
