"""What each tree would feel with its cover left in each state, and how a change of state fades: heat with a memory.

Between two changes a cover forgets its past as fast as its nodes do, whatever the weather (its equations are linear
but for the draught of a warm cover, wet buckets and freezing soil). So three marches per tree and member, one per
state, and one of unit pushes per cover, give the temperatures of every sequence of states: those of the state it is
in, plus what is left of the difference it came with.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.cover import STATE_INDEX, STATES, Cover, CoverState
from rules.garden.tree import SiteSoil
from rules.heat.balance import against_limits_c
from rules.heat.marching.batch import GRID, Batch, Rows, march_together
from rules.heat.marching.start import HeatStart
from rules.heat.network import tip_keeps
from rules.heat.properties import CoverProperties, properties_of, stacked
from rules.heat.surroundings import Surroundings, TreeAir, bare_stem_c, changed

Floats = npt.NDArray[np.float64]
LEAST_SPREAD_C: Final = 0.05  # members nearer to each other than a thermometer reads tell no response
BARE: Final = STATE_INDEX[CoverState.BARE]
BUILT: Final = [STATE_INDEX[CoverState.VENTED], STATE_INDEX[CoverState.CLOSED]]
PUSH_C: Final = 2.0  # size of the unit pushes: that of a usual change


@dataclass(frozen=True, kw_only=True, eq=False)
class CoverCourses:
    """Courses of some covered trees [°C], states in the order bare, vented, closed.

    Parameters
    ----------
    wood_c, top_c, air_c
        Shape (trees, states, members, hours), as limits count: of a bare tree all three are the air at it.
    marks, nodes_c
        Chain and wood at some hours, shape (trees, states, members, marks, nodes).
    fading
        What is left of a difference of nodes after so many hours in one state, shape (trees, states, lags, nodes,
        nodes); 0 when bare, which forgets at once.
    tip_keeps
        How much of a difference of the wood reaches its top, shape (trees, states).
    """

    wood_c: Floats
    top_c: Floats
    air_c: Floats
    marks: tuple[int, ...]
    nodes_c: Floats
    fading: Floats
    tip_keeps: Floats

    def nodes_at(self, marks: Sequence[int]) -> Floats:
        """The nodes at some of the hours they were kept at."""
        return self.nodes_c[..., [self.marks.index(mark) for mark in marks], :]


def cover_courses(
    covers: Sequence[Cover],
    weathers: Sequence[TreeAir],
    start: HeatStart | None,
    soil: SiteSoil | None,
    lags_h: int,
    beside: Sequence[Rows] = (),
    marks: Sequence[int] | None = None,
) -> CoverCourses:
    """Courses of one cover per tree, in each state, under each member.

    Parameters
    ----------
    covers, weathers
        One of each per tree; weather (members, hours).
    start
        What these covers and the ground hold at the first mark.
    soil
        Needed where there is no start.
    lags_h
        How far `fading` reaches [h]: the longest time between two slots.
    beside
        Other rows of the same hours, marched with these.
    marks
        Hours at which the nodes are wanted; None is all of them.

    Raises
    ------
    ValueError
        What the heat balance refuses.
    """
    listed = [cover for cover in covers for _ in BUILT]
    skies = [weather for weather in weathers for _ in BUILT]
    states = np.tile(BUILT, len(covers))[:, None] * np.ones(weathers[0].air_c.shape[-1], dtype=int)
    held = start.of(np.repeat(np.arange(len(covers)), len(BUILT)).tolist()) if start else None
    batch = Batch(listed, states, skies, held, soil)
    shape = (len(covers), len(STATES), batch.members, batch.hours)
    kept = tuple(range(batch.hours) if marks is None else marks)
    nodes_c = np.empty((*shape[:3], len(kept), GRID.nodes))
    history = np.empty((len(listed) * batch.members, len(kept), GRID.nodes))
    begin = (None, None) if held is None else (held.nodes_c, held.water_j)
    rows = Rows(batch, _properties(listed), begin[0], begin[1], history_c=history, marks=kept)
    march_together([rows, *beside])
    nodes_c[:, BUILT] = history.reshape(len(covers), len(BUILT), batch.members, len(kept), GRID.nodes)
    nodes_c[:, BARE] = _bare_nodes_c(batch, weathers, kept)
    met = tuple(values.reshape(len(listed), batch.members, batch.hours) for values in rows.found()[0])
    limits = against_limits_c((met[0], met[1], met[2]), listed, states, skies)
    wood_c, top_c, air_c = (_with_bare(values, weathers, shape) for values in (*limits, met[2]))
    return CoverCourses(
        wood_c=wood_c,
        top_c=top_c,
        air_c=air_c,
        marks=kept,
        nodes_c=nodes_c,
        fading=_fading(covers, weathers, batch.soil, lags_h),
        tip_keeps=_tip_keeps(covers),
    )


def _with_bare(built_c: Floats, weathers: Sequence[TreeAir], shape: tuple[int, ...]) -> Floats:
    """Temperatures of the built states, and for the bare one the air at each tree, which limits are of."""
    found = np.empty(shape)
    found[:, BUILT] = built_c.reshape(shape[0], len(BUILT), *shape[2:])
    found[:, BARE] = np.stack([weather.air_c for weather in weathers])
    return found


def _bare_nodes_c(batch: Batch, weathers: Sequence[TreeAir], marks: Sequence[int]) -> Floats:
    """A tree without its cover: the floor as the soil beside, the rest as the air, the wood as a bare stem."""
    found: dict[tuple[int, int], Floats] = {}
    stand = [(int(batch.weather_of[tree * len(BUILT)]), id(weather)) for tree, weather in enumerate(weathers)]
    for place, weather in zip(stand, weathers, strict=True):
        if place not in found:
            soil_c = np.moveaxis(batch.depths_c[list(marks), place[0]], 0, 1)[..., :-1]
            air_c = np.repeat(weather.air_c[:, list(marks), None], 1 + GRID.shells, axis=-1)
            stem_c = bare_stem_c(weather)[:, list(marks), None]
            found[place] = np.concatenate([soil_c, air_c, stem_c], axis=-1)
    return np.stack([found[place] for place in stand])


def response_to_air(wood_c: Floats, air_c: Floats, axis: int | tuple[int, ...] = 0) -> Floats:
    """How much of a change of the air outside the wood feels [0-1], told by members that differ in nothing else.

    The spread of the wood's lows over that of the air's at the same tree, at most 1, and 1 where the members are too
    alike to tell. Not the slope of the one on the other: a slow cover answers to the hours before as well, which the
    slope takes for noise. Against a march through air 1 °C colder every night (637 nights of seven covers, December)
    it is 0.18 off (rms) inside a closed cover and 0.03 too low, the slope 0.24 and 0.14 too low.
    Of the departures of whole winters from the usual (ten of the High Plains) the coldest twentieth reach a closed
    straw cage by 0.67; members and nights of a forecast together tell 0.62, their slope 0.55.

    Parameters
    ----------
    wood_c, air_c
        Lows of the same hours under the same members [°C], shapes that broadcast.
    axis
        That of the members, or of members and nights.
    """
    spread_c = air_c.std(axis=axis)
    told = spread_c > LEAST_SPREAD_C
    return np.where(told, np.minimum(1.0, wood_c.std(axis=axis) / np.where(told, spread_c, 1.0)), 1.0)


def _properties(covers: Sequence[Cover]) -> tuple[CoverProperties, ...]:
    return tuple(
        stacked([properties_of(cover, state) for cover in covers]) for state in (CoverState.VENTED, CoverState.CLOSED)
    )


def _tip_keeps(covers: Sequence[Cover]) -> Floats:
    keeps = [np.broadcast_to(tip_keeps(one), len(covers)) for one in _properties(covers)]
    return np.vstack([np.ones(len(covers)), *keeps]).T


def _fading(covers: Sequence[Cover], weathers: Sequence[TreeAir], soil: SiteSoil, lags_h: int) -> Floats:
    """Each node pushed by PUSH_C in the mean weather, less the course without a push; soil that freezes left out."""
    pushes = np.vstack([np.zeros(GRID.nodes), PUSH_C * np.eye(GRID.nodes)])
    fading = np.zeros((len(covers), len(STATES), lags_h + 1, GRID.nodes, GRID.nodes))
    listed = [cover for cover in covers for _ in BUILT for _ in pushes]
    skies = {id(one): _still(one, lags_h + 1) for one in weathers}
    each = [skies[id(one)] for one in weathers for _ in BUILT for _ in pushes]
    states = np.tile(np.repeat(BUILT, len(pushes)), len(covers))[:, None] * np.ones(lags_h + 1, dtype=int)
    batch = Batch(listed, states, each, None, soil)
    nodes_c = np.array([one.air_c.mean() for one in each])[:, None, None] + np.tile(
        pushes, (len(covers) * len(BUILT), 1)
    ).reshape(-1, 1, GRID.nodes)
    history = np.empty((len(listed), lags_h + 1, GRID.nodes))
    unfrozen = tuple(replace(one, soil_water=0.0) for one in _properties(listed))
    batch.march(unfrozen, nodes_c, None, 1, history)
    courses = history.reshape(len(covers), len(BUILT), len(pushes), lags_h + 1, GRID.nodes)
    left = (courses[:, :, 1:] - courses[:, :, :1]) / PUSH_C
    fading[:, BUILT] = np.moveaxis(left, 2, -1)
    return fading


def _still(weather: TreeAir, hours: int) -> Surroundings:
    """The mean of a weather, standing still: only its wind matters to how differences fade."""
    return changed(weather, lambda row: np.full((1, hours), float(np.mean(row))))
