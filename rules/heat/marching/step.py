"""One time step of the cover chain: TR-BDF2, the same lines for one cover and for ten thousand.

Every line is plain arithmetic on nodes, so a node is a number for one cover and an array for a batch; the loops run
over hours and nodes, never over covers. TR-BDF2 (Bank et al. 1985, Hosea and Shampine 1996, from memory) is of second
order and L-stable: the small heat capacity of the air neither rings nor smears. Both stages share one matrix.
"""

import math
from dataclasses import dataclass, fields, replace
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from rules.heat.network import NOTHING_M2, Network
from rules.heat.properties import Values

Array = npt.NDArray[np.float64]
Point = list[Any]  # the seven columns of surroundings.instants, numbers or arrays over the batch
Drive = tuple[Any, ...]  # driving temperatures: side, top, air, long-wave surroundings; sun inside [W]

GAMMA: Final = 2 - math.sqrt(2)
FIRST_STAGE: Final = 2 / (GAMMA * (2 - GAMMA))  # twice the usual 1.2071, as stage one is solved for its mean
OLD: Final = math.sqrt(2)
WATER_J_KGK: Final = 4186.0
ICE_J_KGK: Final = 2100.0
MELT_J_KG: Final = 334e3


@dataclass(frozen=True, kw_only=True, eq=False)
class Elimination:
    """What does not change from step to step: stores over half a stage, and the soil already eliminated."""

    network: Network
    stage_s: float
    stores: list[Values]
    wood_store: Values
    wood_inverse: Values  # and share, where no long wave goes through
    wood_share: Values
    first_stores: list[Values]  # stores times FIRST_STAGE
    latent_stores: list[Values]
    soil_inverse: list[Values]
    soil_share: list[Values]
    air_diagonal: Values
    fill_diagonal: list[Values]
    clear: bool
    through: bool
    hole: bool
    open: bool
    mouth: bool
    unfilled: bool
    water: bool
    freezes: bool


def elimination(net: Network, step_s: float) -> Elimination:
    """The step-independent half of the elimination, no soil freezing."""
    stage_s = GAMMA * step_s / 2
    stores = [capacity / stage_s for capacity in net.capacities]
    links, cells = net.links, len(net.lateral)
    inverse, share, air_diagonal = _soil_eliminated(net, stores)
    wood_store = net.wood_j_k / stage_s
    fill = [stores[j] + links[j - 1] + (links[j] if j < len(links) else 0.0) for j in range(cells + 1, len(stores))]
    return Elimination(
        network=net,
        stage_s=stage_s,
        stores=stores,
        wood_store=wood_store,
        wood_inverse=1 / (wood_store + net.wood_link_w_k),
        wood_share=net.wood_link_w_k / (wood_store + net.wood_link_w_k),
        first_stores=[FIRST_STAGE * store for store in stores],
        latent_stores=[heat / stage_s for heat in net.latent],
        soil_inverse=inverse,
        soil_share=share,
        air_diagonal=air_diagonal,
        fill_diagonal=fill,
        clear=bool(np.any(np.asarray(net.fill_absorbed) > 0)),
        through=bool(np.any(np.asarray(net.through_m2) > 0) or np.any(np.asarray(net.sun_inside_m2) > 0)),
        hole=bool(np.any(np.asarray(net.buoyant_w_k) > 0)),
        open=bool(np.any(np.asarray(net.cap_convects) < 1)),
        mouth=bool(np.any(np.asarray(net.mouth) > 0)),
        unfilled=unfilled(net),
        water=bool(np.any(np.asarray(net.water_kg) > 0)),
        freezes=bool(np.any(np.asarray(net.latent[0]) > 0)),
    )


def unfilled(net: Network) -> bool:
    """Whether any cover has a side without fill."""
    return bool(np.any(np.asarray(net.unfilled_per_m2) < 1 / (2 * NOTHING_M2)))


def _soil_eliminated(net: Network, stores: list[Values]) -> tuple[list[Values], list[Values], Values]:
    """Inverse and share of each soil cell, and the diagonal of the air above them."""
    links, cells = net.links, len(net.lateral)
    inverse: list[Values] = []
    share: list[Values] = []
    for j in range(cells):
        diagonal = stores[j] + links[j] + net.lateral[j]
        diagonal = diagonal + (net.deep if j == 0 else links[j - 1] * (1 - share[j - 1]))
        inverse.append(1 / diagonal)
        share.append(links[j] * inverse[j])
    return inverse, share, stores[cells] + links[cells - 1] * (1 - share[-1]) + links[cells] + net.wood_link_w_k


def freezing(cells_c: Array) -> Any:
    """Which soil cells give off latent heat, deepest first: spread over one degree below zero."""
    return (cells_c > -1) & (cells_c < 0)


def frozen(fixed: Elimination, which: Any) -> Elimination:
    """The elimination with the latent heat of the soil cells that freeze."""
    latent = zip(which, fixed.latent_stores, fixed.stores, strict=False)
    stores = [store + cell * heat for cell, heat, store in latent]
    stores += fixed.stores[len(stores) :]
    inverse, share, air_diagonal = _soil_eliminated(fixed.network, stores)
    first = [FIRST_STAGE * store for store in stores[: len(which)]] + fixed.first_stores[len(which) :]
    return replace(
        fixed, stores=stores, first_stores=first, soil_inverse=inverse, soil_share=share, air_diagonal=air_diagonal
    )


def drive(fixed: Elimination, point: Point) -> Drive:
    """Driving temperatures [°C] of side and top (sol-air), the air, the long-wave surroundings; sun let inside [W]."""
    net = fixed.network
    air, radiative, wind, side_sky, side_sun, top_sky, top_sun = point
    resistance = 1 / (4 + 4 * wind * net.wind_exposure + net.emissivity * radiative)
    side = air + (net.side_absorbed * side_sun - net.sky_emissivity * side_sky) * resistance
    over = _over_top(fixed, point, resistance)
    top = air + (net.cap_absorbed * top_sun - net.cap_emissivity * top_sky) * over
    if fixed.clear:
        side = side + net.fill_absorbed * side_sun * (resistance + net.gap_m2k_w)
    if not fixed.through:
        return side, top, air, 0.0, 0.0
    return side, top, air, air - side_sky / radiative, net.sun_inside_m2 * side_sun


def conductances(fixed: Elimination, point: Point, air_inside_c: Any = None) -> tuple[Any, ...]:
    """Side, cap, ventilation, half the long-wave conductance and the side above the fill [W/K], frozen over one step.

    Surface film 4 + 4 v plus long wave (ISO 6946, from memory). Without the air inside, no draught.
    """
    net = fixed.network
    air, radiative, wind = point[:3]
    resistance = 1 / (4 + 4 * wind * net.wind_exposure + net.emissivity * radiative)
    side = 1 / (net.side_k_w + resistance * net.side_per_m2)
    cap = 1 / (net.cap_k_w + _over_top(fixed, point, resistance) * net.cap_per_m2)
    vent = net.still_w_k + net.wind_w_k * wind
    if fixed.hole and air_inside_c is not None:
        vent = vent + draught(fixed, air_inside_c - air)
    unfilled = 1 / (net.unfilled_k_w + resistance * net.unfilled_per_m2) if fixed.unfilled else 0.0
    return side, cap, vent, net.through_m2 * radiative if fixed.through else 0.0, unfilled


def draught(fixed: Elimination, warmer_c: Any) -> Any:
    """Buoyant exchange through a hole while the inside is warmer [W/K] (Epstein 1988)."""
    return fixed.network.buoyant_w_k * (0.5 * (warmer_c + abs(warmer_c))) ** 0.5


def _over_top(fixed: Elimination, point: Point, resistance: Values) -> Any:
    """Resistance of the surface over the top [m²K/W]; of an open one, which has none, that of long wave alone."""
    if not fixed.open:
        return resistance
    net, (_, radiative, wind, *_) = fixed.network, point
    convective = (4 + 4 * wind * net.wind_exposure) * net.cap_convects
    return 1 / (convective + net.cap_emissivity * radiative)


def loads(fixed: Elimination, outside: tuple[Any, ...], driving: Drive, soil_c: Any) -> tuple[list[Any], Any, Any, Any]:
    """Heat pushed into soil cells, air, last shell and wood [W] when all nodes are at 0 °C."""
    net = fixed.network
    side, cap, vent, through, unfilled = outside
    soil = [lateral * c for lateral, c in zip(net.lateral, soil_c, strict=False)]
    soil[0] = soil[0] + net.deep * soil_c[len(soil)]
    air = cap * driving[1] + vent * driving[2]
    if fixed.unfilled:
        air = air + unfilled * driving[0]
    if not fixed.through:
        return soil, air, side * driving[0], 0.0
    soil[-1] = soil[-1] + 0.3 * driving[4]
    air = air + through * driving[3] + 0.3 * driving[4]
    return soil, air, side * driving[0], through * driving[3] + 0.4 * driving[4]


def factor(fixed: Elimination, outside: tuple[Any, ...], bucket_w_k: Any = 0.0) -> tuple[Any, ...]:
    """Pivots of wood, air and fill, whose conductances change from step to step."""
    side, cap, vent, through, unfilled = outside
    link = fixed.network.wood_link_w_k
    wood_inverse, wood_share, air = fixed.wood_inverse, fixed.wood_share, fixed.air_diagonal + cap + vent
    if fixed.through:
        wood_inverse = 1 / (fixed.wood_store + link + through)
        wood_share = link * wood_inverse
        air = air + through
    inverse = 1 / (air + (unfilled + bucket_w_k) - link * wood_share)
    links = fixed.network.links[len(fixed.soil_share) :]
    inverses, shares = [*fixed.soil_inverse, inverse], list(fixed.soil_share)
    for j, diagonal in enumerate(fixed.fill_diagonal):
        shares.append(links[j] * inverse)
        rest = diagonal - links[j] * shares[-1]
        inverse = 1 / (rest + side if j + 1 == len(fixed.fill_diagonal) else rest)
        inverses.append(inverse)
    return inverses, shares, wood_inverse, wood_share


def solve(pivots: tuple[Any, ...], right: list[Any], wood: Any, cells: int) -> tuple[list[Any], Any]:
    """Temperatures of chain and wood: up from the deepest soil to the last shell, then back."""
    inverses, shares, wood_inverse, wood_share = pivots
    carried = right[0]
    below = [carried]
    for j in range(1, len(right)):
        carried = right[j] + shares[j - 1] * carried
        if j == cells:
            carried = carried + wood_share * wood
        below.append(carried)
    warm = carried * inverses[-1]
    chain = [warm]
    for j in range(len(right) - 2, -1, -1):
        warm = below[j] * inverses[j] + shares[j] * warm
        chain.append(warm)
    chain.reverse()
    return chain, wood * wood_inverse + wood_share * chain[cells]


def advance(
    fixed: Elimination,
    pivots: tuple[Any, ...],
    chain: list[Any],
    wood: Any,
    mean_loads: tuple[Any, ...],
    end_loads: tuple[Any, ...],
) -> tuple[list[Any], Any, list[Any], Any]:
    """One TR-BDF2 step; also the mean over its first stage, which the energy audit needs.

    Stage one is solved for X = (T_n + T*)/2: (C/a + K) X = C/a T_n + (F(t) + F(t + γ dt))/2, which spares the product
    K T_n; then T* = 2 X - T_n goes into stage two.
    """
    cells = len(fixed.soil_share)
    stores, wood_store = fixed.stores, fixed.wood_store
    held = [c * t for c, t in zip(stores, chain, strict=True)]
    right = _loaded([*held], mean_loads, cells)
    held_wood = wood_store * wood
    mean, wood_mean = solve(pivots, right, held_wood + mean_loads[3] if fixed.through else held_wood, cells)
    old = [c * x - OLD * kept for c, x, kept in zip(fixed.first_stores, mean, held, strict=True)]
    right = _loaded(old, end_loads, cells)
    wood_old = FIRST_STAGE * wood_store * wood_mean - OLD * held_wood
    new, wood_new = solve(pivots, right, wood_old + end_loads[3] if fixed.through else wood_old, cells)
    return new, wood_new, mean, wood_mean


def _loaded(right: list[Any], heat: tuple[Any, ...], cells: int) -> list[Any]:
    for j, soil in enumerate(heat[0]):
        right[j] = right[j] + soil
    right[cells] = right[cells] + heat[1]
    right[-1] = right[-1] + heat[2]
    return right


def bucket_c(enthalpy_j: Any, water_kg: Any) -> Any:
    """Temperature of a bucket [°C] from its heat above water at 0 °C [J]: water, then ice and water, then ice."""
    mass = water_kg + 1e-9
    warm = 0.5 * (enthalpy_j + abs(enthalpy_j))
    below = enthalpy_j - warm + MELT_J_KG * mass
    return warm / (WATER_J_KGK * mass) + 0.5 * (below - abs(below)) / (ICE_J_KGK * mass)


def picked(vented: Network, closed: Network, is_vented: npt.NDArray[np.bool_]) -> Network:
    """The network of a batch in which some covers stand vented."""
    if is_vented.all() or not is_vented.any():
        return vented if is_vented.all() else closed

    def one(low: Any, high: Any) -> Any:
        if isinstance(low, tuple):
            return tuple(one(a, b) for a, b in zip(low, high, strict=True))
        return np.where(is_vented, low, high)

    names = [field.name for field in fields(Network)]
    return Network(**{name: one(getattr(vented, name), getattr(closed, name)) for name in names})
