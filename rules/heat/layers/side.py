"""The side of a cover, band by band from the ground up, and the one path through it that loses as much heat."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import log
from typing import Any, Final

from rules.garden.condition import Layer
from rules.garden.cover import Cover
from rules.garden.materials import BlanketPlace, Fill, materials

STILL_AIR_M2K_W: Final = 0.17  # a still layer of 15 mm and more (ISO 6946, from memory)
CLEAR_FILM_GAP_M2K_W: Final = 0.1  # a clear film stands a little off the fill, assumed
BOARD_W_MK: Final = 0.13  # softwood, ISO 10456, from memory
SNOW_W_MK: Final = 0.1  # fresh snow (De Vries 1963)
INSIDE_M2K_W: Final = 0.13  # inner surface, heat flow sideways (ISO 6946)
OUTSIDE_M2K_W: Final = 0.1  # outer surface on a calm night, only to weigh bands against each other
NO_FILL_W_MK: Final = 5.0  # a film and its laths as a 1 cm shell that hardly resists
NO_FILL_J_M3K: Final = 3e5
NO_FILL_M: Final = 0.01
WET: Final = Fill.WET_STRAW  # leaves and shavings wet through count as straw wet through, assumed


@dataclass(frozen=True, kw_only=True)
class Band:
    """A part of the side in which the layers are the same all the way up.

    `fill_w_mk` of the fill [W/mK], None where none is; `inner_m2k_w` between the inside air and the fill, `outer_m2k_w`
    between fill and outer surface [m²K/W], surfaces not counted; `film` whether a film is there.
    """

    height_m: float
    fill_w_mk: float | None
    inner_m2k_w: float
    outer_m2k_w: float
    film: bool

    def loss_w_m2k(self, inner_m: float, outer_m: float) -> float:
        """Heat through it a square metre of its outer side [W/m²K], between these radii [m]."""
        ratio = outer_m / inner_m
        fill = outer_m * log(ratio) / (self.fill_w_mk or NO_FILL_W_MK)
        return 1 / ((INSIDE_M2K_W + self.inner_m2k_w) * ratio + fill + self.outer_m2k_w + OUTSIDE_M2K_W)


def standing_m(cover: Cover) -> float:
    """How high anything stands today [m]; above it the tree is in the open. Its built height where only a roof is."""
    layers = cover.built_of - cover.condition.off
    return max((cover.reach_m(layer) for layer in layers), default=cover.height_m)


def side(cover: Cover) -> dict[str, Any]:
    """The properties of the side and of the cages of a cover as it stands."""
    high_m = standing_m(cover)
    bands = bands_of(cover, high_m)
    filled = [band for band in bands if band.fill_w_mk is not None]
    inner_m, outer_m = _radii_m(cover, bool(filled))
    sizes = {"inner_radius_m": inner_m, "outer_radius_m": outer_m, "height_m": high_m}
    if not filled:
        return sizes | {"fill_w_mk": NO_FILL_W_MK, "fill_j_m3k": NO_FILL_J_M3K} | _joined(bands, inner_m, outer_m)
    above = [band for band in bands if band.fill_w_mk is None]
    row = _fill_row(cover)
    return sizes | {"fill_j_m3k": row["heat_capacity_j_m3k"]} | _joined(filled, inner_m, outer_m) | _unfilled(above)


def bands_of(cover: Cover, high_m: float) -> list[Band]:
    """The bands of its side from the ground up to a height."""
    snow_m, bank_m = cover.condition.snow_round_m, cover.height_m / 2 if cover.snow_bank_m else 0.0
    reaches = [cover.reach_m(layer) for layer in Layer]
    edges = sorted({0.0, high_m, *(edge for edge in (*reaches, snow_m, bank_m) if 0 < edge < high_m)})
    return [_band(cover, low, high) for low, high in pairwise(edges)]


def _band(cover: Cover, low_m: float, high_m: float) -> Band:
    on = {layer for layer in Layer if cover.reach_m(layer) >= high_m}
    film, blanket_m2k_w = Layer.FILM in on, 0.0
    outside = cover.blanket_place is BlanketPlace.OUTSIDE
    proof = (film and not cover.condition.torn) or Layer.BOARDS in on
    if Layer.BLANKET in on:
        blanket = materials()["blanket"][cover.blanket]
        blanket_m2k_w = blanket["resistance_m2k_w"]
        proof |= outside and blanket["stops_wind"]
    clear = film and materials()["film"][cover.film]["sun_passed"] > 0
    backed = bool(on & {Layer.FILL, Layer.BLANKET})
    outer = cover.boards_m / BOARD_W_MK if Layer.BOARDS in on else 0.0
    outer += STILL_AIR_M2K_W if film and cover.second_film else 0.0
    outer += CLEAR_FILM_GAP_M2K_W if clear and backed else 0.0
    outer += (blanket_m2k_w if outside else 0.0) + _snow_m(cover, high_m) / SNOW_W_MK
    key = "conductivity_w_mk" if proof else "bare_conductivity_w_mk"
    return Band(
        height_m=high_m - low_m,
        fill_w_mk=_fill_row(cover)[key] if Layer.FILL in on else None,
        inner_m2k_w=0.0 if outside else blanket_m2k_w,
        outer_m2k_w=outer,
        film=film,
    )


def _fill_row(cover: Cover) -> dict[str, Any]:
    wet = cover.condition.wet and cover.fill not in (Fill.NONE, Fill.SOIL)
    return materials()["fill"][WET if wet else cover.fill]


def _snow_m(cover: Cover, top_m: float) -> float:
    """Thickness of the snow against the side below a height [m]: what lies round it is as thick as it is high."""
    lying_m = cover.condition.snow_round_m if top_m <= cover.condition.snow_round_m else 0.0
    return lying_m + (cover.snow_bank_m if top_m <= cover.height_m / 2 else 0.0)


def _radii_m(cover: Cover, filled: bool) -> tuple[float, float]:
    if filled:
        return cover.inner_radius_m, cover.outer_radius_m
    outer_m = max(cover.outer_radius_m, cover.inner_radius_m + NO_FILL_M)
    return outer_m - NO_FILL_M, outer_m


def _mean(bands: Sequence[Band], values: Sequence[float]) -> float:
    if len(set(values)) == 1:
        return values[0]
    whole_m = sum(band.height_m for band in bands)
    return sum(band.height_m * value for band, value in zip(bands, values, strict=True)) / whole_m


def _joined(bands: Sequence[Band], inner_m: float, outer_m: float) -> dict[str, Any]:
    """Bands side by side as one: their mean conductivity and blanket, and a gap that makes up the whole loss.

    Series of means lose at least as much as the mean of series, so that gap is never negative.
    """
    fill_w_mk = _mean(bands, [band.fill_w_mk or NO_FILL_W_MK for band in bands])
    blanket = 1 / _mean(bands, [1 / (INSIDE_M2K_W + band.inner_m2k_w) for band in bands]) - INSIDE_M2K_W
    blanket = bands[0].inner_m2k_w if len({band.inner_m2k_w for band in bands}) == 1 else blanket
    if len({(band.inner_m2k_w, band.fill_w_mk, band.outer_m2k_w) for band in bands}) == 1:
        gap = bands[0].outer_m2k_w
    else:
        alone = Band(height_m=1, fill_w_mk=fill_w_mk, inner_m2k_w=blanket, outer_m2k_w=0, film=False)
        whole = _mean(bands, [band.loss_w_m2k(inner_m, outer_m) for band in bands])
        gap = max(0.0, 1 / whole - 1 / alone.loss_w_m2k(inner_m, outer_m))
    return {"fill_w_mk": fill_w_mk, "blanket_m2k_w": blanket, "gap_m2k_w": gap}


def _unfilled(bands: Sequence[Band]) -> dict[str, Any]:
    """The side above the fill: how high it is, and what resists there besides its surfaces."""
    if not bands:
        return {}
    surfaces = INSIDE_M2K_W + OUTSIDE_M2K_W
    loss = _mean(bands, [1 / (surfaces + band.inner_m2k_w + band.outer_m2k_w) for band in bands])
    return {"unfilled_m": sum(band.height_m for band in bands), "unfilled_m2k_w": 1 / loss - surfaces}
