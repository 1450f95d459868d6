"""What each tissue can take by species, class and phase, and how fast it hardens: the species table and its look-up."""

import difflib
import tomllib
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

import numpy as np
import numpy.typing as npt

from rules.garden.tree import Phase

YOUNG_YEARS = 3  # rule e of the table
YOUNG_LOSS_C = 2.0  # rule e: fig -7 against -9


class Organ(StrEnum):
    """The parts of a tree that freeze at different temperatures."""

    WOOD = "wood"
    BUDS = "buds"
    SHOOTS = "green shoots"
    ROOTS = "roots"  # in soil or potting mix, not in air


@dataclass(frozen=True, kw_only=True)
class Threshold:
    """Temperatures [°C] that injure 10 % and 50 % of one organ, and where they come from."""

    t10_c: float
    t50_c: float
    source: str


@dataclass(frozen=True, kw_only=True)
class Kinetics:
    """How one class hardens and softens: the constants of the daily model, before they meet its range.

    Temperatures in °C, sums in °C-days base 10, `ka` and `kd` in °C per degree-day, `ka` for a range of 23.9 °C.
    `eco_latest` is the northern (month, day) by which chill counts as met.
    """

    tth_endo_c: float
    tth_eco_c: float
    ka_endo: float
    ka_eco: float
    kd_endo: float
    kd_eco: float
    theta: float
    eco_sum_c_days: float
    eco_latest: tuple[int, int]
    source: str


@dataclass(frozen=True, kw_only=True)
class SpeciesRow:
    """One class of one species: what each organ can take in each phase.

    `watched` is the organ decisions rest on while nothing is green. Green shoots stand only while leaves are on.
    """

    species: str
    label: str
    watched: Organ
    organs: Mapping[Organ, Mapping[Phase, Threshold]]
    kinetics: Kinetics
    sd_resting_c: float
    sd_growing_c: float
    chill_need: str
    source: str

    def wood_hardiness(self, phase: Phase) -> Threshold:
        """The watched organ's thresholds in a phase."""
        return self.organs[self.watched][phase]

    def t50_c(self, phase: Phase) -> float:
        """The watched organ's 50 % injury temperature [°C] in a phase."""
        return self.wood_hardiness(phase).t50_c

    def sd_c(self, lt50_c: npt.ArrayLike) -> npt.NDArray[np.float64]:
        """One sd of its LT10 [°C]: narrow for green tissue, wide for wood at rest, sliding with its 50 % point."""
        ends = self.t50_c(Phase.RESTING), self.t50_c(Phase.GROWING)
        return np.asarray(np.interp(np.asarray(lt50_c, dtype=np.float64), ends, (self.sd_resting_c, self.sd_growing_c)))


def species_row(species: str, cultivar: str = "", age_years: int | None = None) -> SpeciesRow:
    """The row of the species table for a tree, by species, cultivar and age.

    Parameters
    ----------
    species
        Any name in `species_names()`; case and accents do not count.
    cultivar
        Chooses the class where its repute is known; an unknown one gets the species' standard class.
    age_years
        Years in the ground [a]; under three the resting values are warmer. None is taken as established.

    Raises
    ------
    ValueError
        The species is not in the table; the sentence names the nearest names.

    >>> species_row("persimmon").wood_hardiness(Phase.RESTING).t10_c
    -12.0
    >>> species_row("fig", "Hardy Chicago").label
    'hardy fig, established'
    """
    key = _species_key(species)
    table = _table()
    class_ = _class_of(table[key]["class"], plain(cultivar), age_years)
    young = age_years is not None and age_years < YOUNG_YEARS and "under_years" not in class_
    return _row(key, {**table["defaults"], **table[key], **class_}, young=young)


@cache
def species_names() -> Mapping[str, str]:
    """Every name a garden file may use for a species, with the species it stands for."""
    table = {key: entry for key, entry in _table().items() if key != "defaults"}
    own = {key: key for key in table}
    return MappingProxyType({plain(n): key for key, entry in table.items() for n in entry["names"]} | own)


def nearest_species(name: str) -> tuple[str, ...]:
    """Up to three names of the table that look like a misspelt one, nearest first; empty when none does.

    >>> nearest_species("pomegranite")[0]
    'pomegranate'
    """
    return tuple(difflib.get_close_matches(plain(name), sorted(species_names()), n=3, cutoff=0.6))


def cultivar_names(species: str) -> tuple[str, ...]:
    """The cultivars of a species whose class the table knows by repute, sorted; others get the standard class."""
    classes = _table()[_species_key(species)]["class"]
    return tuple(sorted(name for class_ in classes for name in class_.get("cultivars", ())))


def plain(name: str) -> str:
    """A name without case, accents, quotes, points and double spaces, so that names compare as growers mean them.

    >>> plain("  Sal's  (EL)")
    'sals el'
    """
    bare = unicodedata.normalize("NFKD", name.casefold()).encode("ascii", "ignore").decode()
    kept = "".join(c if c.isalnum() else " " for c in bare.replace("'", "").replace(".", ""))
    return " ".join(kept.split())


def _species_key(species: str) -> str:
    names = species_names()
    if plain(species) in names:
        return names[plain(species)]
    near = nearest_species(species)
    hint = f"did you mean {' or '.join(near)}?" if near else "no name in the table is near."
    raise ValueError(f"species {species!r} is not in the species table; {hint}")


def _class_of(classes: Sequence[dict[str, Any]], cultivar: str, age_years: int | None) -> dict[str, Any]:
    for class_ in classes:
        if age_years is not None and age_years < class_.get("under_years", 0):
            return class_
    for class_ in classes:
        if cultivar and cultivar in class_.get("cultivars", ()):
            return class_
    return next(class_ for class_ in classes if class_.get("default"))


def _row(species: str, entry: dict[str, Any], *, young: bool) -> SpeciesRow:
    watched = Organ(entry["watched"])
    source = entry["source"] + ("; under three years 2 °C warmer at rest, assumed" if young else "")
    month, day = (int(part) for part in entry["eco_latest"].split("-"))
    constants = {name: float(entry[name]) for name in Kinetics.__annotations__ if name not in {"eco_latest", "source"}}
    return SpeciesRow(
        species=species,
        label=entry["label"],
        watched=watched,
        organs=MappingProxyType(_organs(entry, watched, source, young=young)),
        kinetics=Kinetics(**constants, eco_latest=(month, day), source=entry["kinetics_source"]),
        sd_resting_c=entry["sd_resting_c"],
        sd_growing_c=entry["sd_growing_c"],
        chill_need=entry["chill_need"],
        source=source,
    )


def _organs(
    entry: dict[str, Any], watched: Organ, source: str, *, young: bool
) -> dict[Organ, Mapping[Phase, Threshold]]:
    own = _by_phase(entry[watched], source, young=young)
    other = Organ.BUDS if watched is Organ.WOOD else Organ.WOOD
    if other in entry:
        beside = _by_phase(entry[other], entry.get(f"{other}_source", source), young=young and other is Organ.WOOD)
    else:
        note = f"estimate, to be calibrated: no own evidence, taken as {watched}"
        beside = {p: Threshold(t10_c=t.t10_c, t50_c=t.t50_c, source=note) for p, t in own.items()}
    t10_c, t50_c = entry["roots"]
    roots = Threshold(t10_c=t10_c, t50_c=t50_c, source=entry["roots_source"])
    green = dict.fromkeys((Phase.GROWING, Phase.RIPENING), own[Phase.GROWING])
    return {watched: own, other: beside, Organ.SHOOTS: green, Organ.ROOTS: dict.fromkeys(Phase, roots)}


def _by_phase(pairs: Sequence[Sequence[float]], source: str, *, young: bool) -> Mapping[Phase, Threshold]:
    found = {phase: Threshold(t10_c=p[0], t50_c=p[1], source=source) for phase, p in zip(Phase, pairs, strict=True)}
    if young:  # never warmer than wood that has only begun to harden
        rest, before = found[Phase.RESTING], found[Phase.HARDENING]
        t10_c, t50_c = min(rest.t10_c + YOUNG_LOSS_C, before.t10_c), min(rest.t50_c + YOUNG_LOSS_C, before.t50_c)
        found[Phase.RESTING] = Threshold(t10_c=t10_c, t50_c=t50_c, source=source)
    return MappingProxyType(found)


@cache
def _table() -> dict[str, dict[str, Any]]:
    return tomllib.loads(files("rules.garden").joinpath("species.toml").read_text(encoding="utf-8"))
