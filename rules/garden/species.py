"""What each tissue can take by species, class and phase, and how fast it hardens: the species table and its look-up."""

import difflib
import tomllib
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cache, lru_cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

import numpy as np
import numpy.typing as npt

from rules.garden.tree import Phase

UNKNOWN = "unknown"  # a species nobody has a row for: the grower's own limits stand in
OWN_GAP_C = 3.0  # from 10 to 50 % where only a grower's own limit is known: rule b, fig
OWN_GAPS_C = {Phase.GROWING: 1.2, Phase.RIPENING: 1.5}  # and of green tissue and unhardened wood: fig
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

    lt10_c: float
    lt50_c: float
    source: str


@dataclass(frozen=True, kw_only=True)
class Kinetics:
    """How one class hardens, softens and wakes: the constants of the daily model, on the scale of its own range.

    Thresholds in °C; `ka` hardening and `kd` softening in shares of the range per °C-day, before ("endo") and after
    ("eco") the chill is met; `frost_gain` how much faster nights of -3 °C and less let it harden; leaf-out after
    `leaf_out_c_days` over `develop_base_c`. Its chill is met by `chill_portions` where a need is published, else by
    `chill_sum_c_days` (base 10 °C, below 0), else half on the northern (month, day) `half_ready`, moved by
    `half_ready_shift_days` where its doubt is followed.
    """

    tth_endo_c: float
    tth_eco_c: float
    ka_endo: float
    ka_eco: float
    kd_endo: float
    kd_eco: float
    theta: float
    frost_gain: float
    develop_base_c: float
    leaf_out_c_days: float
    chill_portions: float | None
    chill_sum_c_days: float | None
    half_ready: tuple[int, int]
    evergreen: bool
    source: str
    half_ready_shift_days: float = 0.0


@dataclass(frozen=True, kw_only=True)
class RipeningHeat:
    """Degree-days [°C d] over `base_c` [°C] from leaf-out to the first ripe fruit of the main crop, evenly likely."""

    low_c_d: float
    high_c_d: float
    base_c: float
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

    def lt50_c(self, phase: Phase) -> float:
        """The watched organ's 50 % injury temperature [°C] in a phase."""
        return self.wood_hardiness(phase).lt50_c

    def sd_c(self, lt50_c: npt.ArrayLike) -> npt.NDArray[np.float64]:
        """One sd of its LT10 [°C]: narrow for green tissue, wide for wood at rest, sliding with its 50 % point."""
        ends = self.lt50_c(Phase.RESTING), self.lt50_c(Phase.GROWING)
        return np.asarray(np.interp(np.asarray(lt50_c, dtype=np.float64), ends, (self.sd_resting_c, self.sd_growing_c)))


@lru_cache(maxsize=256)
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

    >>> species_row("persimmon").wood_hardiness(Phase.RESTING).lt10_c
    -12.0
    >>> species_row("fig", "Hardy Chicago").label
    'hardy fig, established'
    """
    key = _species_key(species)
    table = _table()
    class_ = _class_of(table[key]["class"], one_name(key, cultivar), age_years)
    young = age_years is not None and age_years < YOUNG_YEARS and "under_years" not in class_
    return _row(key, {**table["defaults"], **table[key], **class_}, young=young)


def with_own_limits(row: SpeciesRow, safe_to_c: Mapping[Phase, float]) -> SpeciesRow:
    """A row whose watched organ stands on a grower's own 10 % points [°C], for a species nobody has measured.

    What the grower leaves out follows from the resting value by rule d (hardening midway, waking midway again); no
    phase is harder than rest, none more tender than growth. The 50 % point lies 3 °C colder (rule b), in leaf 1.2 °C.
    """
    lt10_c = {phase: row.wood_hardiness(phase).lt10_c for phase in Phase} | dict(safe_to_c)
    if Phase.RESTING in safe_to_c:
        between = {Phase.HARDENING: (lt10_c[Phase.RIPENING] + lt10_c[Phase.RESTING]) / 2}
        between[Phase.WAKING] = (lt10_c[Phase.RIPENING] + between[Phase.HARDENING]) / 2
        lt10_c = {**lt10_c, **between, **safe_to_c}
    lt10_c = {phase: max(value, lt10_c[Phase.RESTING]) for phase, value in lt10_c.items()}
    lt10_c[Phase.GROWING] = max(lt10_c[Phase.GROWING], lt10_c[Phase.RIPENING], lt10_c[Phase.WAKING])
    source = "your own limits; estimate, to be calibrated: what you left out by rules b and d"
    own = {
        phase: Threshold(lt10_c=value, lt50_c=value - OWN_GAPS_C.get(phase, OWN_GAP_C), source=source)
        for phase, value in lt10_c.items()
    }
    green = dict.fromkeys((Phase.GROWING, Phase.RIPENING), own[Phase.GROWING])
    organs = {**row.organs, Organ.WOOD: own, Organ.BUDS: own, Organ.SHOOTS: green}
    return replace(row, label="your own limits", organs=MappingProxyType(organs), source=source)


def ripening_heat(species: str) -> RipeningHeat | None:
    """What a species' fruit needs to ripen; None where the table does not say."""
    found = _table()[species].get("ripening")
    return None if found is None else RipeningHeat(**found)


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
    return SpeciesRow(
        species=species,
        label=entry["label"],
        watched=watched,
        organs=MappingProxyType(_organs(entry, watched, source, young=young)),
        kinetics=_kinetics(entry),
        sd_resting_c=entry["sd_resting_c"],
        sd_growing_c=entry["sd_growing_c"],
        chill_need=entry["chill_need"],
        source=source,
    )


def _kinetics(entry: dict[str, Any]) -> Kinetics:
    month, day = (int(part) for part in entry["half_ready"].split("-"))
    named = {"chill_portions", "chill_sum_c_days", "half_ready", "evergreen", "source", "half_ready_shift_days"}
    constants = {name: float(entry[name]) for name in Kinetics.__annotations__ if name not in named}
    return Kinetics(
        **constants,
        chill_portions=entry.get("chill_portions"),
        chill_sum_c_days=entry.get("chill_sum_c_days"),
        half_ready=(month, day),
        evergreen=entry.get("evergreen", False),
        source=entry["kinetics_source"],
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
        beside = {p: Threshold(lt10_c=t.lt10_c, lt50_c=t.lt50_c, source=note) for p, t in own.items()}
    lt10_c, lt50_c = entry["roots"]
    roots = Threshold(lt10_c=lt10_c, lt50_c=lt50_c, source=entry["roots_source"])
    green = dict.fromkeys((Phase.GROWING, Phase.RIPENING), own[Phase.GROWING])
    return {watched: own, other: beside, Organ.SHOOTS: green, Organ.ROOTS: dict.fromkeys(Phase, roots)}


def _by_phase(pairs: Sequence[Sequence[float]], source: str, *, young: bool) -> Mapping[Phase, Threshold]:
    found = {phase: Threshold(lt10_c=p[0], lt50_c=p[1], source=source) for phase, p in zip(Phase, pairs, strict=True)}
    if young:  # never warmer than wood that has only begun to harden
        rest, before = found[Phase.RESTING], found[Phase.HARDENING]
        lt10_c, lt50_c = min(rest.lt10_c + YOUNG_LOSS_C, before.lt10_c), min(rest.lt50_c + YOUNG_LOSS_C, before.lt50_c)
        found[Phase.RESTING] = Threshold(lt10_c=lt10_c, lt50_c=lt50_c, source=source)
    return MappingProxyType(found)


@cache
def _table() -> dict[str, dict[str, Any]]:
    return tomllib.loads(files("rules.garden").joinpath("species.toml").read_text(encoding="utf-8"))


def plain(name: str) -> str:
    """A name without case, accents, quotes, points and double spaces, so that names compare as growers mean them.

    >>> plain("  Sal's  (EL)")
    'sals el'
    """
    bare = unicodedata.normalize("NFKD", name.casefold()).encode("ascii", "ignore").decode()
    kept = "".join(c if c.isalnum() else " " for c in bare.replace("'", "").replace(".", ""))
    return " ".join(kept.split())


def one_name(species: str, cultivar: str) -> str:
    """The plain name all synonyms of a cultivar share; one that is not in the table stands for itself.

    >>> one_name("fig", "Chicago Hardy")
    'hardy chicago'
    """
    return _synonyms(species).get(plain(cultivar), plain(cultivar))


@cache
def _synonyms(species: str) -> dict[str, str]:
    table = tomllib.loads(files("rules.garden").joinpath("cultivars.toml").read_text("utf-8"))
    rows: list[list[str]] = table["same"].get(species, [])
    return {plain(name): plain(row[0]) for row in rows for name in row}
