"""The numbers of a cover in one state, from its layers, and how sure we are of each."""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from functools import lru_cache
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from rules.garden.condition import Layer
from rules.garden.cover import Cover, CoverState
from rules.garden.materials import materials
from rules.heat.layers.side import NO_FILL_M, side
from rules.heat.layers.skin import skin
from rules.heat.layers.top import top

Array = npt.NDArray[np.float64]
Values = float | Array

GREEN_WOOD_J_KGK: Final = 2500.0  # from memory


@dataclass(frozen=True, kw_only=True, eq=False)
class CoverProperties:
    """The numbers of a cover in one state; the values here are those of straw + blanket + grey-white film, closed.

    Sizes [m], resistances [m²K/W], conductivities [W/mK], heat capacities [J/m³K] or [J/K], `wood_link_w_k` wood to
    air [W/K]; `..._absorbed`, `..._passed`, `..._exposure` shares; leaks as air changes [1/h] and [1/h per m/s];
    `air_multiplier` counts twigs, wire and leaves as air. Each a number or an array over covers.
    """

    inner_radius_m: Values = 0.30
    outer_radius_m: Values = 0.50
    height_m: Values = 1.80
    inside_m2k_w: Values = 0.13
    blanket_m2k_w: Values = 0.7
    unfilled_m: Values = 0.0  # of the height, at the top: the side without fill
    unfilled_m2k_w: Values = 0.0
    fill_w_mk: Values = 0.07
    fill_j_m3k: Values = 96e3
    gap_m2k_w: Values = 0.0
    cap_m2k_w: Values = 0.7
    open_top: Values = 0.0  # 1 where nothing lies over the top
    mouth: Values = 0.0  # how much the tip is out in the open
    headroom: Values = 0.0  # 1 where the tip is far below the top, in the mixed air of a room
    emissivity: Values = 0.90
    side_absorbed: Values = 0.3
    cap_absorbed: Values = 0.3
    sun_passed: Values = 0.0
    fill_absorbed: Values = 0.6
    sun_inside: Values = 0.0
    long_wave_passed: Values = 0.0
    wind_exposure: Values = 1.0
    sky_exposure: Values = 1.0  # of the side
    sun_exposure: Values = 1.0
    leaks_per_h: Values = 0.5
    wind_leaks_per_h: Values = 0.5
    vent_hole_m: Values = 0.0
    wood_j_k: Values = 25e3
    wood_link_w_k: Values = 8.0
    air_multiplier: Values = 3.0
    ground_w_mk: Values = 1.0
    ground_j_m3k: Values = 2.2e6
    floor_m2k_w: Values = 0.15
    footprint: Values = 0.25  # share of the ring that counts as floor, and
    lateral: Values = 1.1  # factor of the sideways loss: both fitted to a two-dimensional model
    water_kg: Values = 0.0
    soil_water: Values = 0.0  # m³ of freezable water per m³ of soil; 0 leaves its latent heat out


def stacked(properties: Sequence[CoverProperties]) -> CoverProperties:
    """Many covers as one, each value an array over the covers."""
    names = [field.name for field in fields(CoverProperties)]
    return CoverProperties(**{name: np.array([getattr(one, name) for one in properties], float) for name in names})


def joined(properties: Sequence[CoverProperties]) -> CoverProperties:
    """The covers of several lists, each value an array over its covers, in one list."""
    names = [field.name for field in fields(CoverProperties)]
    return CoverProperties(**{name: np.concatenate([getattr(one, name) for one in properties]) for name in names})


def taken(properties: CoverProperties, rows: npt.NDArray[np.int64]) -> CoverProperties:
    """Some of many covers, in any order; a value that is the same for all of them becomes one number."""
    values = {field.name: np.asarray(getattr(properties, field.name)) for field in fields(CoverProperties)}
    return CoverProperties(
        **{name: _thin(value[rows] if value.ndim else value[None]) for name, value in values.items()}
    )


def thinned(lists: Sequence[tuple[CoverProperties, npt.NDArray[np.int64]]]) -> CoverProperties:
    """Some of each of several lists, side by side, thinned in the same way."""
    wide = [
        {name: np.broadcast_to(np.asarray(value)[rows] if np.ndim(value) else value, len(rows))
         for name, value in vars(properties).items()}
        for properties, rows in lists
    ]  # fmt: skip
    return CoverProperties(**{name: _thin(np.concatenate([one[name] for one in wide])) for name in wide[0]})


def _thin(values: Array) -> Values:
    return float(values[0]) if (values == values[0]).all() else values


class ReadCover(Cover):
    """A cover as a thermometer inside has shown it, in place of the one the grower described.

    `shown` is how far each of its unknown numbers lies from the described one, `doubt` the covariance of what is left
    unknown of them, both in the prior sd and the order of `UNKNOWNS`; `with_air_c` is their covariance with the air
    outside [°C].
    """

    shown: tuple[float, ...]
    doubt: tuple[tuple[float, ...], ...]
    with_air_c: tuple[float, ...]


@lru_cache(maxsize=4096)
def properties_of(cover: Cover, state: CoverState) -> CoverProperties:
    """The numbers of a cover, vented or closed (for a bare tree: of the cover when closed).

    The mound, the pot under a roof and the box are sets of these same numbers, not models of their own: a mound is a
    low wide cage with its fill on top, a roof is a cap over sides that the wind walks through, a box a round cage.
    """
    ground = materials()["ground"][cover.ground]
    layers: dict[str, Any] = {
        "wood_j_k": GREEN_WOOD_J_KGK * cover.wood_kg,
        "wood_link_w_k": 8.0 * (cover.wood_kg / 10) ** 0.45,  # 8 W/K at 10 kg, 15 at 40: assumed
        "air_multiplier": 40.0 if cover.packed else 3.0,
        "water_kg": cover.water_l,
        "headroom": float(cover.is_room),
        "ground_w_mk": ground["conductivity_w_mk"],
        "ground_j_m3k": ground["heat_capacity_j_m3k"],
        "soil_water": ground["water_m3m3"],
    }
    layers |= skin(cover) | side(cover)
    layers |= top(cover, state, layers["fill_w_mk"])
    described = CoverProperties(**layers)
    return moved(described, cover.shown) if isinstance(cover, ReadCover) else described


def mouths_of(cover: Cover) -> Array:
    """How much the tip is out in the open [0-1] in each state, shape (states,): all of it when bare."""
    built = (properties_of(cover, state).mouth for state in (CoverState.VENTED, CoverState.CLOSED))
    return np.array([1.0, *built], dtype=float)


# What is not known of a real cover: one standard deviation of the logarithm of each number (rough guesses, no source),
# for straw + blanket + film; sky, wind and sun exposures relative. Leaks in still air and wind are one unknown each.
LOG_SD: Final[dict[str, float]] = {
    "fill_w_mk": 0.25,
    "blanket_m2k_w": 0.3,
    "cap_m2k_w": 0.4,
    "leaks_per_h": 0.7,
    "wind_leaks_per_h": 0.7,
    "wood_j_k": 0.5,
    "wood_link_w_k": 0.4,
    "ground_w_mk": 0.4,
    "ground_j_m3k": 0.12,
    "fill_j_m3k": 0.25,
    "air_multiplier": 0.5,
    "lateral": 0.2,
    "wind_exposure": 0.35,
    "sky_exposure": 0.25,
    "sun_exposure": 0.25,
}
OUTER_RADIUS_SD_M: Final = 0.02
# What the equations themselves miss, one sd [°C], besides the spread of what they are told: so wide that the 80 %
# interval holds 21 of 25 measured nights (tests/rules/heat/measured_covers.py). Wind that washes through a fill without
# film, and the depth of snow that nobody measures, make it wider: assumed, no source. A roof over open sides has little
# to be wrong about.
STRUCTURE_SD_C: Final = 1.7
WASHED_SD_C: Final = 2.5
SNOW_SD_C: Final = 1.5
OPEN_SIDES_SHARE: Final = 0.5
ROOM_SD_C: Final = 3.0  # nobody wrote down the walls of a room, nor what is on their other side: assumed
USUAL_INPUT_SD_C: Final = 0.7  # spread of the inputs of a straw cage on a cold night; computed
COVER_SD_C: Final = float(np.hypot(STRUCTURE_SD_C, USUAL_INPUT_SD_C))  # of a cover nobody has read, all in all
LEAST_SHARE: Final = 1 / 3  # of the prior spread: where the model itself made the readings a third was left (computed)


UNKNOWNS: Final = (*LOG_SD, "outer_radius_m", "structure")
STRUCTURE: Final = UNKNOWNS.index("structure")


def moved(p: CoverProperties, by_sd: Sequence[float]) -> CoverProperties:
    """The cover with each unknown number moved by so many sd of its own, in the order of `UNKNOWNS`."""
    changed = {name: getattr(p, name) * np.exp(sd * by_sd[i]) for i, (name, sd) in enumerate(LOG_SD.items())}
    wider_m = OUTER_RADIUS_SD_M * by_sd[len(LOG_SD)]
    radius_m = np.maximum(p.outer_radius_m + wider_m, np.add(p.inner_radius_m, NO_FILL_M))
    return replace(p, **changed, outer_radius_m=radius_m)


@lru_cache(maxsize=4096)
def structure_sd_c(cover: Cover) -> float:
    """One sd of what the equations themselves miss inside a cover that is on and was never read [°C]."""
    washed = bool(cover.reach_m(Layer.FILL)) and not (cover.reach_m(Layer.FILM) or cover.reach_m(Layer.BOARDS))
    own_c = (WASHED_SD_C if washed else STRUCTURE_SD_C) * (OPEN_SIDES_SHARE if cover.open_sides else 1.0)
    own_c = ROOM_SD_C if cover.is_room else own_c
    snowed = cover.snow_bank_m or cover.condition.snow_on_m or cover.condition.snow_round_m
    return float(np.hypot(own_c, SNOW_SD_C)) if snowed else own_c


def structure_shown_c(cover: Cover) -> float:
    """How much warmer a cover has shown itself than the equations make it [°C]: 0 before it was read."""
    return cover.shown[STRUCTURE] * structure_sd_c(cover) if isinstance(cover, ReadCover) else 0.0


def spread_of(cover: Cover, halves_c: Array, by_degree_c: Array | None = None) -> Array:
    """One sd of a temperature [°C], (hours,), from what 1 sd of each unknown number moves it, (unknowns, hours).

    In a cover that was read the doubts hang together, and with that of the air outside, of which 1 °C moves it by
    `by_degree_c`: readings inside say more of the sum of the two than of either. So added in squares to the doubt of
    the air it gives the doubt of both. Never is it less than a third of what it was before.
    """
    described_c2 = (halves_c**2).sum(axis=0)
    if not isinstance(cover, ReadCover) or by_degree_c is None:
        return np.asarray(np.sqrt(described_c2))
    left_c2 = np.einsum("ih,ij,jh->h", halves_c, np.array(cover.doubt), halves_c)
    left_c2 += 2 * by_degree_c * (np.array(cover.with_air_c) @ halves_c)
    return np.asarray(np.sqrt(np.maximum(left_c2, LEAST_SHARE**2 * described_c2)))


def perturbed(p: CoverProperties) -> CoverProperties:
    """Each cover with one number moved up, then down, by one standard deviation, number after number.

    Values are numbers (one cover) or arrays (covers,); those returned are arrays (covers x 2 unknowns,).
    """
    variants = 2 * (len(LOG_SD) + 1)
    given = {one.name: np.atleast_1d(np.asarray(getattr(p, one.name), float)) for one in fields(CoverProperties)}
    values = {name: np.repeat(value[:, None], variants, axis=1) for name, value in given.items()}
    for i, (name, sd) in enumerate(LOG_SD.items()):
        values[name][:, [2 * i, 2 * i + 1]] *= np.exp([sd, -sd])
    radius_m = values["outer_radius_m"][:, -2:] + np.multiply(OUTER_RADIUS_SD_M, [1, -1])
    values["outer_radius_m"][:, -2:] = np.maximum(radius_m, values["inner_radius_m"][:, -2:] + NO_FILL_M)
    return CoverProperties(**{name: value.reshape(-1) for name, value in values.items()})
