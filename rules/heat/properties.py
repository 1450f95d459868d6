"""The numbers of a cover in one state, from its layers, and how sure we are of each."""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from functools import lru_cache
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from rules.garden.cover import Blanket, Cap, Cover, CoverState, Fill, Film, materials

Array = npt.NDArray[np.float64]
Values = float | Array

STILL_AIR_M2K_W: Final = 0.17  # a still layer of 15 mm and more (ISO 6946, from memory)
CLEAR_FILM_GAP_M2K_W: Final = 0.1  # a clear film stands a little off the fill, assumed
BOARD_W_MK: Final = 0.13  # softwood, ISO 10456, from memory
SNOW_W_MK: Final = 0.1  # fresh snow (De Vries 1963)
GREEN_WOOD_J_KGK: Final = 2500.0  # from memory
# Air changes [1/h] and [1/h per m/s] by how tight the skin is; guesses, nobody has measured them.
FILM_LEAKS: Final = (0.5, 0.5)
BOARD_LEAKS: Final = (1.0, 0.5)
CLOTH_LEAKS: Final = (3.0, 1.0)
OPEN_SIDE_LEAKS: Final = (30.0, 20.0)
OPEN_TOP_LEAKS: Final = (5.0, 3.0)
HOLE_LEAKS_PER_H: Final = 1.5  # what any hole in the top adds
SECOND_FILM_TIGHTNESS: Final = 0.6  # leaks left with a second film, assumed
DEFAULT_HOLE_M: Final = 0.1


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
    fill_w_mk: Values = 0.07
    fill_j_m3k: Values = 96e3
    gap_m2k_w: Values = 0.0
    cap_m2k_w: Values = 0.7
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


NO_FILL: Final = {"fill_w_mk": 5.0, "fill_j_m3k": 3e5}  # a film and its laths as a 1 cm shell that hardly resists
NO_FILL_M: Final = 0.01


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


def _thin(values: Array) -> Values:
    return float(values[0]) if (values == values[0]).all() else values


class ReadCover(Cover):
    """A cover as a thermometer inside has shown it, in place of the one the grower described.

    `shown` is how far each of its unknown numbers lies from the described one, `doubt` the covariance of what is left
    unknown of them, both in the prior sd and the order of `perturbed`; `with_air_c` is their covariance with the air
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
    layers: dict[str, Any] = {
        "inner_radius_m": cover.inner_radius_m,
        "height_m": cover.height_m,
        "wood_j_k": GREEN_WOOD_J_KGK * cover.wood_kg,
        "wood_link_w_k": 8.0 * (cover.wood_kg / 10) ** 0.45,  # 8 W/K at 10 kg, 15 at 40: assumed
        "air_multiplier": 40.0 if cover.packed else 3.0,
        "water_kg": cover.water_l,
        "ground_w_mk": materials()["ground"][cover.ground]["conductivity_w_mk"],
        "ground_j_m3k": materials()["ground"][cover.ground]["heat_capacity_j_m3k"],
    }
    layers |= _fill(cover) | _skin(cover)
    layers |= _top(cover, state, layers)
    properties = CoverProperties(**layers)
    described = replace(properties, gap_m2k_w=properties.gap_m2k_w + _snow_m2k_w(properties, cover.snow_bank_m))
    return moved(described, cover.shown) if isinstance(cover, ReadCover) else described


def _fill(cover: Cover) -> dict[str, Any]:
    blanket = materials()["blanket"].get(cover.blanket, {"resistance_m2k_w": 0.0})["resistance_m2k_w"]
    if cover.fill is Fill.NONE:
        outer_m = max(cover.outer_radius_m, cover.inner_radius_m + NO_FILL_M)
        return NO_FILL | {"blanket_m2k_w": blanket, "inner_radius_m": outer_m - NO_FILL_M, "outer_radius_m": outer_m}
    row = materials()["fill"][cover.fill]
    windproof = cover.film is not Film.NONE or cover.boards_m > 0
    return {
        "blanket_m2k_w": blanket,
        "outer_radius_m": cover.outer_radius_m,
        "fill_w_mk": row["conductivity_w_mk" if windproof else "bare_conductivity_w_mk"],
        "fill_j_m3k": row["heat_capacity_j_m3k"],
    }


def _skin(cover: Cover) -> dict[str, Any]:
    films = 2 if cover.second_film else 1
    gap_m2k_w = cover.boards_m / BOARD_W_MK + STILL_AIR_M2K_W * (films - 1)
    if cover.film is Film.NONE:
        absorbed = materials()["skin"]["bare"]["sun_absorbed"]
        return {"gap_m2k_w": gap_m2k_w, "side_absorbed": absorbed, "cap_absorbed": absorbed}
    row = materials()["film"][cover.film]
    empty = cover.fill is Fill.NONE and cover.blanket is Blanket.NONE
    clear = row["sun_passed"] > 0
    dry = row["long_wave_passed"] > 0 and empty
    return {
        "gap_m2k_w": gap_m2k_w + (CLEAR_FILM_GAP_M2K_W if clear and not empty else 0.0),
        "side_absorbed": row["sun_absorbed"],
        "cap_absorbed": 0.5 if clear else row["sun_absorbed"],  # sun through a clear top ends inside: assumed half
        "sun_passed": row["sun_passed"] ** films,
        "sun_inside": 0.6 if empty else 0.0,  # the rest strikes the far film and leaves: assumed
        "long_wave_passed": row["long_wave_passed"] ** films if empty else 0.0,
        "emissivity": row["emissivity"] if empty else 0.9,  # a clear film over a fill radiates as the fill does
        "inside_m2k_w": 0.2 if dry else 0.13,  # a dry film exchanges less long wave with the inside
    }


def _top(cover: Cover, state: CoverState, layers: dict[str, Any]) -> dict[str, Any]:
    still, windy = _leaks(cover)
    open_top = cover.cap is Cap.NONE or (state is CoverState.VENTED and cover.vent_hole_m is None)
    hole = cover.cap is Cap.VENTED or (state is CoverState.VENTED and cover.vent_hole_m is not None)
    if open_top:
        still, windy = max(still, OPEN_TOP_LEAKS[0]), max(windy, OPEN_TOP_LEAKS[1])
        return {
            "leaks_per_h": still, "wind_leaks_per_h": windy, "cap_m2k_w": 0.0, "vent_hole_m": 2 * cover.inner_radius_m
        }  # fmt: skip
    plug_w_mk = layers.get("fill_w_mk", 0.07) if cover.fill is not Fill.NONE else 0.07
    cap = materials()["cap"][cover.cap]["resistance_m2k_w"] + cover.plug_m / plug_w_mk
    closed = {"cap_m2k_w": cap + (STILL_AIR_M2K_W if cover.second_film else 0.0)}
    if not hole:
        return closed | {"leaks_per_h": still, "wind_leaks_per_h": windy, "vent_hole_m": 0.0}
    hole_m = cover.vent_hole_m or DEFAULT_HOLE_M
    # 0.5 air changes per m/s more for a 20 cm hole, and with its area: assumed
    windy += 0.5 * (hole_m / 0.2) ** 2
    return closed | {"leaks_per_h": still + HOLE_LEAKS_PER_H, "wind_leaks_per_h": windy, "vent_hole_m": hole_m}


def _leaks(cover: Cover) -> tuple[float, float]:
    if cover.open_sides:
        return OPEN_SIDE_LEAKS
    skin = FILM_LEAKS if cover.film is not Film.NONE else BOARD_LEAKS if cover.boards_m > 0 else CLOTH_LEAKS
    tight = SECOND_FILM_TIGHTNESS if cover.second_film else 1.0
    return skin[0] * tight, skin[1] * tight


def _snow_m2k_w(p: CoverProperties, snow_m: float) -> float:
    """Resistance that snow heaped to half the height adds to the whole side [m²K/W]: two paths side by side."""
    ratio = p.outer_radius_m / p.inner_radius_m
    fill = p.outer_radius_m * np.log(ratio) / p.fill_w_mk
    without = (p.inside_m2k_w + p.blanket_m2k_w) * ratio + fill + p.gap_m2k_w + 0.1
    return float(2 / (1 / without + 1 / (without + snow_m / SNOW_W_MK)) - without)


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
LEAST_SHARE: Final = 1 / 3  # of the prior spread: where the model itself made the readings a third was left (computed)


def moved(p: CoverProperties, by_sd: Sequence[float]) -> CoverProperties:
    """The cover with each unknown number moved by so many sd of its own, in the order of `perturbed`."""
    changed = {name: getattr(p, name) * np.exp(sd * by_sd[i]) for i, (name, sd) in enumerate(LOG_SD.items())}
    radius_m = np.maximum(p.outer_radius_m + OUTER_RADIUS_SD_M * by_sd[-1], np.add(p.inner_radius_m, NO_FILL_M))
    return replace(p, **changed, outer_radius_m=radius_m)


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
