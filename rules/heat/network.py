"""A cover as a chain of heat capacities joined by conductances: soil cells, stem-zone air, fill shells, wood.

Arithmetic only, so every value may be a number or an array over a batch of covers.
"""

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from rules.heat.properties import CoverProperties, Values

Array = npt.NDArray[np.float64]

AIR_J_M3K: Final = 1290.0  # heat capacity of air near 0 °C
EXCHANGE: Final = 0.055  # two-way buoyant flow through a horizontal opening (Epstein 1988; the constant from memory)
FIRST_ZERO_OF_J0: Final = 2.405
CAP_INSIDE_M2K_W: Final = 0.10  # inner surface, heat flow upward (ISO 6946)
# Open top: its walls, twice as much as the opening, give 2.5 W/m²K to the air (ISO 6946, flow sideways, from memory).
MOUTH_M2K_W: Final = 1 / (2 * 2.5)
MOUTH_FROM_INSIDE: Final = 0.5  # of the air in an open top comes from inside: as much goes out as in


BELOW_TIP_M2K_W: Final = 1.25
LAST_CELLS: Final = 0.74 / BELOW_TIP_M2K_W
CALM_SKIN_M2K_W: Final = 0.1  # outer surface on a calm night
NOTHING_M2: Final = 1e-9  # an area that carries no heat


@dataclass(frozen=True, kw_only=True)
class Grid:
    """How many shells of fill and cells of soil the chain has.

    Three and three keep the night minimum within 0.08 °C (rms) of 48 and 24; the same equations serve both.
    """

    shells: int = 3
    cells: int = 3

    def __post_init__(self) -> None:
        for name, count in (("shells", self.shells), ("cells", self.cells)):
            if count < 1:
                raise ValueError(f"{name} of the grid is {count}, it must be at least 1")

    @property
    def nodes(self) -> int:
        """Soil, air, fill and wood."""
        return self.cells + self.shells + 2

    @property
    def soil_m(self) -> Array:
        """Thickness of the soil cells [m], shallow first (chosen for least error against a fine grid)."""
        coarse = {1: [0.20], 2: [0.08, 0.27], 3: [0.05, 0.12, 0.28], 4: [0.03, 0.07, 0.15, 0.35]}
        if self.cells in coarse:
            return np.array(coarse[self.cells])
        growth = 1.35 if self.cells <= 12 else 1.35 ** (12 / self.cells)
        steps = growth ** np.arange(self.cells)
        return np.asarray(steps / steps.sum())

    @property
    def depths_m(self) -> Array:
        """Centres of the soil cells, deepest first, then their bottom edge [m], where undisturbed soil is felt."""
        bottom = np.cumsum(self.soil_m)
        return np.append((bottom - self.soil_m / 2)[::-1], bottom[-1])


@dataclass(frozen=True, kw_only=True, eq=False)
class Network:
    """Heat capacities [J/K] and conductances [W/K] of the chain, deepest soil first, air, fill outward.

    `links[j]` joins chain nodes j and j + 1. The outer surface adds 1/h to `side_k_w` and `cap_k_w`.
    """

    capacities: tuple[Values, ...]  # chain only
    links: tuple[Values, ...]
    lateral: tuple[Values, ...]  # soil to undisturbed soil, deepest first
    deep: Values
    wood_j_k: Values
    wood_link_w_k: Values
    side_k_w: Values  # last shell to the outer surface [K/W]
    side_per_m2: Values  # 1 / outer area
    cap_k_w: Values
    cap_per_m2: Values
    cap_emissivity: Values
    cap_convects: Values  # 0 where there is no surface over the top, which wind could warm
    top_share: Values  # how far the top of the stem follows the cap's outside, and
    side_share: Values  # the outside of a side without fill
    mouth: Values  # how much the tip is out in the open
    unfilled_k_w: Values
    unfilled_per_m2: Values
    still_w_k: Values
    wind_w_k: Values  # per m/s
    buoyant_w_k: Values  # per square root of a kelvin
    through_m2: Values  # half the area that long wave passes, times its share
    emissivity: Values
    sky_emissivity: Values  # of the side, times its exposure
    wind_exposure: Values
    side_absorbed: Values
    cap_absorbed: Values
    fill_absorbed: Values  # share of side sun absorbed by the fill under a clear film
    gap_m2k_w: Values
    sun_inside_m2: Values
    water_kg: Values
    bucket_w_k: Values
    latent: tuple[Values, ...]  # J/K added to a soil cell while it freezes, deepest first


def network(p: CoverProperties, grid: Grid) -> Network:
    """Coefficients of the chain (steady radial conduction, exact for any number of shells; Carslaw and Jaeger)."""
    filled_m = p.height_m - p.unfilled_m
    inner_m2 = 2 * math.pi * p.inner_radius_m * filled_m
    outer_m2 = 2 * math.pi * p.outer_radius_m * filled_m
    top_m2 = math.pi * p.inner_radius_m**2
    floor_m2 = math.pi * (p.inner_radius_m + p.footprint * (p.outer_radius_m - p.inner_radius_m)) ** 2
    soil_j_k, soil_links, lateral, latent = _soil(p, grid, floor_m2)
    fill_j_k, fill_links, last_k_w = _fill(p, grid, inner_m2)
    volume_m3 = top_m2 * p.height_m
    unfilled_m2 = 2 * math.pi * p.outer_radius_m * p.unfilled_m
    drawn_m2 = top_m2 * (1 - p.open_top * (1 - MOUTH_FROM_INSIDE))
    below_m2k_w = CAP_INSIDE_M2K_W * (1 - p.open_top) + MOUTH_M2K_W * p.open_top + p.cap_m2k_w
    top_share, side_share = tip_shares(p)
    return Network(
        capacities=(*soil_j_k, AIR_J_M3K * volume_m3 * p.air_multiplier, *fill_j_k),
        links=(*soil_links, *fill_links),
        lateral=lateral,
        deep=p.ground_w_mk * floor_m2 / (grid.soil_m[-1] / 2),
        wood_j_k=p.wood_j_k,
        wood_link_w_k=p.wood_link_w_k,
        side_k_w=last_k_w + p.gap_m2k_w / outer_m2,
        side_per_m2=1 / outer_m2,
        cap_k_w=below_m2k_w / drawn_m2,
        cap_per_m2=1 / drawn_m2,
        cap_emissivity=p.emissivity * (1 - p.open_top) + p.open_top,
        cap_convects=1 - p.open_top,
        top_share=top_share,
        side_share=side_share,
        mouth=p.mouth,
        unfilled_k_w=(p.inside_m2k_w + p.unfilled_m2k_w) / (unfilled_m2 + NOTHING_M2),
        unfilled_per_m2=1 / (unfilled_m2 + NOTHING_M2),
        still_w_k=AIR_J_M3K * p.leaks_per_h * volume_m3 / 3600,
        wind_w_k=AIR_J_M3K * p.wind_leaks_per_h * volume_m3 / 3600,
        buoyant_w_k=AIR_J_M3K * EXCHANGE * (9.81 / 270 * p.vent_hole_m**5) ** 0.5,
        through_m2=p.long_wave_passed * (outer_m2 + top_m2) / 4,
        emissivity=p.emissivity,
        sky_emissivity=p.emissivity * p.sky_exposure,
        wind_exposure=p.wind_exposure,
        side_absorbed=p.side_absorbed * p.sun_exposure,
        cap_absorbed=p.cap_absorbed * p.sun_exposure,
        fill_absorbed=p.sun_passed * (1 - p.sun_inside) * p.fill_absorbed * p.sun_exposure,
        gap_m2k_w=p.gap_m2k_w,
        sun_inside_m2=p.sun_inside * p.sun_passed * p.sun_exposure * outer_m2,
        water_kg=p.water_kg,
        bucket_w_k=p.water_kg / 10,
        latent=latent,
    )


def tip_shares(p: CoverProperties) -> tuple[Any, Any]:
    """Shares of the way from mid-stem to the outer surface of cap and side that the last 15 cm of the stem are at.

    Of the cap an estimate: read off a two-dimensional model of a stem zone packed with leaves (mid-stem -5.6, last 5 cm
    -13.0, -11.4, -9.1 °C for caps of 0.2, 0.7, 2 m²K/W under -12 °C and a clear sky; the last two cells together 0.73
    of that), which is a conductance of 1/1.25 W/m²K up to the tip beside that of the cap. Loose air mixes under a cold
    cap, so this errs on the cold side. A side without fill draws on the tip in the same way, with its larger area.
    With headroom neither does: the tip is in the same mixed air as the rest.
    """
    up, over = 1 / BELOW_TIP_M2K_W, 1 / (CAP_INSIDE_M2K_W + p.cap_m2k_w)
    beside = 2 * p.unfilled_m / p.inner_radius_m / (p.inside_m2k_w + p.unfilled_m2k_w + CALM_SKIN_M2K_W)
    near = 1 - np.asarray(p.headroom)
    return near * LAST_CELLS * over / (up + over + beside), near * beside / (up + over + beside)


def tip_keeps(p: CoverProperties) -> Any:
    """How much of a difference of mid-stem reaches the tip [0-1]."""
    top_share, side_share = tip_shares(p)
    return (p.mouth > 0) * (1 - p.mouth) + (1 - (p.mouth > 0)) * (1 - top_share - side_share)


def _soil(p: CoverProperties, grid: Grid, floor_m2: Values) -> tuple[tuple[Values, ...], ...]:
    thick = grid.soil_m[::-1].tolist()
    sideways = p.ground_w_mk / p.ground_j_m3k * (FIRST_ZERO_OF_J0 / (p.lateral * p.outer_radius_m)) ** 2
    capacities = tuple(p.ground_j_m3k * floor_m2 * dz for dz in thick)
    between = [p.ground_w_mk * floor_m2 / ((low + high) / 2) for low, high in pairwise(thick)]
    to_air = 1 / (p.floor_m2k_w / floor_m2 + thick[-1] / (2 * p.ground_w_mk * floor_m2))
    latent = tuple(1000 * 334e3 * p.soil_water * floor_m2 * dz for dz in thick)
    return capacities, (*between, to_air), tuple(c * sideways for c in capacities), latent


def _fill(p: CoverProperties, grid: Grid, inner_m2: Values) -> tuple[tuple[Values, ...], tuple[Values, ...], Values]:
    shells = grid.shells
    filled_m = p.height_m - p.unfilled_m
    along = 2 * math.pi * p.fill_w_mk * filled_m
    edges = [p.inner_radius_m + (p.outer_radius_m - p.inner_radius_m) * i / shells for i in range(shells + 1)]
    middles = [(low + high) / 2 for low, high in pairwise(edges)]
    capacities = tuple(p.fill_j_m3k * math.pi * (high**2 - low**2) * filled_m for low, high in pairwise(edges))
    from_air = 1 / ((p.inside_m2k_w + p.blanket_m2k_w) / inner_m2 + _log(middles[0] / p.inner_radius_m) / along)
    between = [along / _log(high / low) for low, high in pairwise(middles)]
    return capacities, (from_air, *between), _log(p.outer_radius_m / middles[-1]) / along


def _log(ratio: Values) -> Values:
    return math.log(ratio) if isinstance(ratio, float) else np.log(ratio)
