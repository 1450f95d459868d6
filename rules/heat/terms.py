"""Why it is as cold as it is inside one cover: the heat flows of the model in one night."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from rules.garden.cover import Cover, CoverState
from rules.garden.tree import SiteSoil
from rules.heat.marching.batch import GRID, Batch
from rules.heat.marching.forcing import Forcing
from rules.heat.marching.march import march
from rules.heat.marching.marched import BARE, VENTED, Marched
from rules.heat.marching.start import HeatStart
from rules.heat.marching.step import Elimination, conductances, drive, elimination, picked
from rules.heat.network import Network, network
from rules.heat.night_lows import night_lows
from rules.heat.properties import properties_of, structure_shown_c
from rules.heat.surroundings import Surroundings, TreeAir, part, stem_excess_c

Array = npt.NDArray[np.float64]
NIGHT_HOURS = 12
AFTER_H = 24  # of the next night, whose beginning ends this one
SUN_HOURS = 24  # "the sun of the day before" is that of the 24 hours before the lowest one


@dataclass(frozen=True, kw_only=True)
class HeatTerms:
    """Heat flows of the twelve hours up to the lowest wood temperature of a night, and what earlier days do to it.

    Parameters
    ----------
    hour
        Index of the lowest hour.
    wood_c, outdoor_c, gain_c
        Wood and outdoor air at that hour; lowest wood less lowest outdoor air of the night [°C].
    ground_w, fill_w, wood_w
        Heat arriving from the ground, and given off by the fill and by the wood as they cool, means of those
        hours [W].
    side_w, cap_w, leaks_w
        Heat leaving through the side, the cap, and with the air through leaks and vents, means [W].
    sky_w
        Heat that air and wood inside radiate out through a clear dry film, mean [W].
    sun_c
        How much warmer the night is for the sun of the day before [°C].
    nights
        Nights so far, this one included, in a row with outdoor air below the threshold; heat stored before the spell
        is spent after a few, and the gain shrinks.
    tip_walls_c, tip_still_air_c
        Of a tip under an open top at that hour: how much warmer walls and air inside make it than one in the open, and
        how much colder the wind they keep off it, which would have warmed it [°C]; None under a shut top.
    settles_c
        Where the inside would settle if the last of those hours held on: a short formula, for words only.
    """

    hour: int
    wood_c: float
    outdoor_c: float
    gain_c: float
    ground_w: float
    fill_w: float
    wood_w: float
    side_w: float
    cap_w: float
    leaks_w: float
    sun_c: float
    nights: int
    settles_c: float
    tip_walls_c: float | None = None
    tip_still_air_c: float | None = None
    sky_w: float = 0.0


def heat_terms(
    cover: Cover,
    states: npt.ArrayLike,
    weather: TreeAir,
    night: tuple[int, int],
    threshold_c: float,
    start: HeatStart | None = None,
    *,
    soil: SiteSoil | None = None,
) -> HeatTerms:
    """The terms of one night.

    Parameters
    ----------
    states
        State index of the cover from each hour on, shape (hours,).
    weather
        One member, arrays (hours,).
    night
        First hour index of the night and the one after its last.
    threshold_c
        What counts as a night of the spell [°C]: usually what the wood can take.

    Raises
    ------
    ValueError
        The tree is bare at the lowest hour (there is nothing to explain but sky and wind), or the night lies outside.
    """
    first, last = night
    hours = weather.air_c.shape[-1]
    if not 1 <= first < last <= hours:
        raise ValueError(f"night is hours {first} to {last}, it must lie within 1 to {hours}")
    hours = min(last + AFTER_H, hours)  # what comes later explains nothing
    table, told = np.asarray(states)[:hours], part(weather, 0, hours)
    marched, forced, networks = _marched(cover, table, told, start, soil)
    spans = [slice(first, last), slice(last, hours)][: 1 + (last < hours)]
    hour = int(night_lows(marched.wood_c[:, 0], spans, table != BARE)[1][0])
    if table[hour] == BARE:
        raise ValueError(f"the tree is bare at hour {hour}, heat terms are those of a cover")
    dark, *_ = _marched(cover, table, _without_sun(told, hour), start, soil)
    wood_c = float(marched.wood_c[hour, 0]) + structure_shown_c(cover)
    net = picked(*networks, table[hour : hour + 1] == VENTED)
    return HeatTerms(
        hour=hour,
        wood_c=wood_c,
        outdoor_c=float(weather.air_c[hour]),
        gain_c=wood_c - float(weather.air_c[first:last].min()),
        sun_c=float(marched.wood_c[hour, 0] - dark.wood_c[hour, 0]),
        nights=nights_below(weather.air_c[:last], hour, threshold_c),
        **_flows(marched, forced, net, hour),
        **_open_tip(net, forced, float(marched.air_c[hour, 0]), hour),
    )


def _marched(
    cover: Cover, states: Any, weather: TreeAir, start: HeatStart | None, soil: SiteSoil | None
) -> tuple[Marched, Forcing, tuple[Network, Network]]:
    batch = Batch([cover], states[None], weather, start, soil)
    vented, closed = properties_of(cover, CoverState.VENTED), properties_of(cover, CoverState.CLOSED)
    forced = batch.forced(0).standing(np.zeros(1, dtype=np.int64), int(batch.steps[0]))
    held: tuple[Array | None, Array | None] = (None, None)
    if start is not None:
        held = start.nodes_c[:, 0], start.water_j[:, 0]
    marched = march(vented, closed, batch.states, forced, GRID, *held, history_marks=range(batch.hours))
    return marched, forced, (network(vented, GRID), network(closed, GRID))


def _without_sun(weather: Surroundings, hour: int) -> Surroundings:
    dark = np.ones(weather.air_c.shape[-1])
    dark[max(hour - SUN_HOURS, 0) : hour + 1] = 0.0
    return replace(weather, sun_side_w_m2=weather.sun_side_w_m2 * dark, sun_top_w_m2=weather.sun_top_w_m2 * dark)


def _flows(marched: Marched, forced: Forcing, net: Network, hour: int) -> dict[str, float]:
    """Means over the hours up to `hour`; stores by what they lost, flows by their values at the marks."""
    fixed = elimination(net, 3600.0)
    first = max(hour - NIGHT_HOURS, 0)
    marks = range(first, hour + 1)
    each = [_crossing(fixed, forced, marched.history_c[mark, :, 0].tolist(), mark) for mark in marks]
    weights = np.array([0.5, *[1.0] * (len(each) - 2), 0.5]) / (hour - first)
    lost = (marched.history_c[first, :, 0] - marched.history_c[hour, :, 0]).tolist()
    span_s = 3600 * (hour - first)
    given = [capacity * fall / span_s for capacity, fall in zip(net.capacities, lost, strict=False)]
    flows = {name: float(weights @ [one[name] for one in each]) for name in each[0]}
    flows["settles_c"] = each[-1]["settles_c"]
    return flows | {
        "fill_w": float(sum(given[GRID.cells + 1 :])),
        "wood_w": float(net.wood_j_k * lost[-1] / span_s),
    }


def _crossing(fixed: Elimination, forced: Forcing, nodes: list[float], mark: int) -> dict[str, float]:
    """Heat flows at one mark [W] and where they would settle [°C]."""
    net, cells = fixed.network, GRID.cells
    point = forced.point(mark)
    side, cap, vent, through, unfilled = conductances(fixed, point, nodes[cells])
    side_c, top_c, air_c, around_c, _ = drive(fixed, point)
    ground_c = float(forced.soil_c[mark, 0, 0])
    around = _series(net, cells, side) + unfilled
    pulls = [(around, side_c), (cap, top_c), (vent, air_c), (_to_ground(net, cells), ground_c)]
    return {
        "ground_w": float(net.links[cells - 1] * (nodes[cells - 1] - nodes[cells])),
        "side_w": float(side * (nodes[-2] - side_c) + unfilled * (nodes[cells] - side_c)),
        "cap_w": float(cap * (nodes[cells] - top_c)),
        "sky_w": float(through * (nodes[cells] + nodes[-1] - 2 * around_c)),
        "leaks_w": float(vent * (nodes[cells] - air_c)),
        "settles_c": float(sum(g * c for g, c in pulls) / sum(g for g, _ in pulls)),
    }


def _open_tip(net: Network, forced: Forcing, inside_c: float, mark: int) -> dict[str, float]:
    """What makes a tip that is partly out in the open differ from one that is wholly so [°C]; nothing of any other.

    Both as limits count: a bare tree has the air.
    """
    mouth = float(np.max(net.mouth))
    if not 0 < mouth < 1:
        return {}
    air, radiative, wind, side_sky, side_sun, *_ = forced.point(mark)
    sheltered, bare = (stem_excess_c(radiative, wind, side_sky, side_sun, share) for share in (mouth, 1.0))
    return {
        "tip_walls_c": float((1 - mouth) * (inside_c - air)),
        "tip_still_air_c": float(mouth * bare - sheltered),
    }


def _series(net: Network, cells: int, side: float) -> float:
    """Stem-zone air to the outer surface through the whole fill [W/K]."""
    return float(1 / (sum(1 / link for link in net.links[cells:]) + 1 / side))


def _to_ground(net: Network, cells: int) -> float:
    """Stem-zone air to the deepest cell [W/K]."""
    return float(1 / sum(1 / link for link in net.links[:cells]))


def nights_below(air_c: Sequence[float] | Array, hour: int, threshold_c: float) -> int:
    """Spans of 24 hours ending at `hour`, counted back while each has air below the threshold.

    >>> nights_below([-6.0] * 24 + [1.0] * 24 + [-6.0] * 48, 95, -5.0)
    2
    """
    nights, end = 0, hour + 1
    while end > 0 and min(air_c[max(end - 24, 0) : end]) < threshold_c:
        nights, end = nights + 1, end - 24
    return nights
