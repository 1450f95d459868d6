"""Temperature of the stems inside each cover, hour by hour, for many covers, states and weathers at once."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from rules.garden.cover import STATE_INDEX, Cover, CoverState
from rules.garden.tree import SiteSoil
from rules.heat.marching.batch import Batch, Rows, Weathers, march_together
from rules.heat.marching.marched import BARE
from rules.heat.marching.start import HeatStart
from rules.heat.properties import (
    CoverProperties,
    ReadCover,
    mouths_of,
    perturbed,
    properties_of,
    spread_of,
    stacked,
    structure_sd_c,
    taken,
)
from rules.heat.surroundings import Surroundings, TreeAir, bare_stem_c, changed

__all__ = [
    "HeatStart",
    "InsideTemperatures",
    "SpreadRows",
    "against_limits_c",
    "inside_temperatures",
    "inside_with_spread",
]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class InsideTemperatures:
    """Temperatures inside the covers [°C], shape (covers, hours), or (covers, members, hours) under members.

    `wood_c` is mid-height, `top_c` the last 15 cm (an estimate that errs cold), `air_c` the stem-zone air. A bare tree
    has the bare stem for wood and top, outdoor air for air. `spread_c` is one standard deviation of `wood_c`, from
    unknown straw, cap, leaks, wood and soil and from what the equations themselves miss, shape (covers, hours); None
    where it was not asked for.
    """

    start_utc: datetime
    wood_c: Array
    top_c: Array
    air_c: Array
    finish: HeatStart
    spread_c: Array | None = None


def inside_temperatures(
    covers: Sequence[Cover],
    states: npt.ArrayLike,
    weather: Weathers,
    start: HeatStart | None = None,
    *,
    soil: SiteSoil | None = None,
) -> InsideTemperatures:
    """Wood, top and air inside each cover.

    Parameters
    ----------
    covers
        One cover per row of `states`; the same cover may come many times with different states.
    states
        State index from each hour mark on, shape (covers, hours): 0 bare, 1 vented, 2 closed.
    weather
        Weather at the tree, one for all covers or one per cover; arrays (hours,) or (members, hours).
    start
        What covers and ground hold at the first mark; without it the soil starts from the yearly wave of `soil` and
        the rest from the first air: ten days of past weather wash that out, five within 0.1 °C.
    soil
        Soil of the site; needed where there is no `start`.

    Raises
    ------
    ValueError
        States or weather of the wrong shape, a missing hour, an unbelievable value, neither start nor soil.
    """
    rows = _described(covers, states, weather, start, soil)
    march_together([rows])
    return _inside(rows)


def inside_with_spread(
    covers: Sequence[Cover],
    states: npt.ArrayLike,
    weather: Weathers,
    start: HeatStart | None = None,
    *,
    soil: SiteSoil | None = None,
) -> InsideTemperatures:
    """The same as `inside_temperatures`, with `spread_c`, in one call for many covers and members.

    The spread comes from covers with one number moved up and down by its standard deviation, marched beside them
    under the mean of the members: half the difference of each pair, added in squares. A start without
    `perturbed_c` has forgotten the doubt about the heat stored so far; it comes back within about three days.
    """
    rows, doubt = _described(covers, states, weather, start, soil), SpreadRows(covers, states, weather, start, soil)
    march_together([rows, doubt.rows])
    inside = _inside(rows)
    return replace(inside, spread_c=doubt.spread_c(), finish=replace(inside.finish, perturbed_c=doubt.nodes()))


def _described(
    covers: Sequence[Cover], states: npt.ArrayLike, weather: Weathers, start: HeatStart | None, soil: SiteSoil | None
) -> Rows:
    """The covers as they are described, to be marched."""
    batch = Batch(covers, states, weather, start, soil)
    properties = tuple(_taken(covers, state) for state in (CoverState.VENTED, CoverState.CLOSED))
    held = (None, None) if start is None else (start.nodes_c, start.water_j)
    return Rows(batch, properties, *held)


def against_limits_c(
    inside: tuple[Array, Array, Array], covers: Sequence[Cover], states: npt.ArrayLike, weathers: Weathers
) -> tuple[Array, Array]:
    """Wood and top [°C] as limits count, each of the shape of those of `inside`: wood, top, air.

    Limits are of the air about a bare tree, whose stems were colder by what they radiated. So a bare tree has the air
    for both, and off a tip is taken what a bare stem radiates, by the share to which the tip is out in the open. A
    covered stem colder than the air outside lost that to the sky as well, through its film or by its wrap: so much is
    given back, at most what a bare stem lost. So it counts as colder than a bare one just where the stem itself is.
    """
    wood_c, top_c, air_c = inside
    listed = [weathers] * len(covers) if not isinstance(weathers, Sequence) else weathers
    radiated = {id(one): bare_stem_c(one) - one.air_c for one in listed}
    table, shape = np.asarray(states), (len(covers), *wood_c.shape[1:])
    bare = (table == STATE_INDEX[CoverState.BARE]).reshape(len(table), *[1] * (wood_c.ndim - 2), -1)
    mouths = np.stack([mouths_of(cover)[row] for cover, row in zip(covers, table, strict=True)]).reshape(bare.shape)
    open_c = np.stack([radiated[id(one)] for one in listed]).reshape(shape)
    outside_c = np.stack([one.air_c for one in listed]).reshape(shape)

    def given_back(stem_c: Array) -> Array:
        return stem_c + np.minimum(np.maximum(-open_c, 0.0), np.maximum(outside_c - stem_c, 0.0))

    tip_c = np.where(mouths > 0, top_c - mouths * open_c, given_back(top_c))
    return np.where(bare, air_c, given_back(wood_c)), np.where(bare, air_c, tip_c)


class SpreadRows:
    """Covers with one number moved up and down under the mean of the members, to be marched with whatever else is."""

    def __init__(
        self,
        covers: Sequence[Cover],
        states: npt.ArrayLike,
        weather: Weathers,
        start: HeatStart | None,
        soil: SiteSoil | None,
    ) -> None:
        listed = [weather] * len(covers) if not isinstance(weather, Sequence) else list(weather)
        means = {id(one): _mean_member(one) for one in listed}
        self.covers, self.start = covers, _mean_start(start)
        batch = Batch(covers, states, [means[id(one)] for one in listed], self.start, soil)
        both = (CoverState.VENTED, CoverState.CLOSED)
        properties = tuple(perturbed(stacked([properties_of(cover, state) for cover in covers])) for state in both)
        self.variants = len(np.asarray(properties[0].outer_radius_m)) // len(covers)
        self.rows = Rows(batch, properties, *self._held(), self.variants, only_wood=True)

    def _held(self) -> tuple[Array | None, Array | None]:
        """Nodes and buckets of the moved covers at the first mark."""
        start, variants = self.start, self.variants
        if start is None:
            return None, None
        known = np.repeat(start.nodes_c, variants, axis=1) if start.perturbed_c is None else start.perturbed_c
        nodes_c = known.reshape(len(self.covers) * variants, 1, -1)
        return nodes_c, np.repeat(start.water_j, variants, axis=1).reshape(-1, 1)

    def spread_c(self) -> Array:
        """One sd of the wood, shape (covers, hours), once the rows were marched."""
        batch, covers = self.rows.batch, self.covers
        wood_c = self.rows.found()[0][0].reshape(len(covers), self.variants // 2, 2, batch.hours)
        own_c = np.array([structure_sd_c(cover) for cover in covers])[:, None] * (batch.states != BARE)
        halves_c = np.concatenate([(wood_c[:, :, 0] - wood_c[:, :, 1]) / 2, own_c[:, None]], axis=1)
        by_degree_c = _by_degree(covers, batch.states, batch, self.start)
        return np.stack([spread_of(c, halves_c[i], by_degree_c.get(i)) for i, c in enumerate(covers)])

    def nodes(self) -> Array:
        """The nodes of the moved covers at the last mark, shape (covers, variants, nodes)."""
        return self.rows.nodes.reshape(len(self.covers), self.variants, -1)


def _by_degree(
    covers: Sequence[Cover], states: npt.ArrayLike, batch: Batch, start: HeatStart | None
) -> dict[int, Array]:
    """What the wood inside each cover that was read gains [°C], (hours,), from air 1 °C warmer from now on."""
    rows = [i for i, cover in enumerate(covers) if isinstance(cover, ReadCover)]
    if not rows:
        return {}
    told = [batch.weathers[batch.weather_of[i]] for i in rows]
    warmer = [changed(one, lambda row: row) for one in told]
    warmer = [replace(one, air_c=one.air_c + 1.0) for one in warmer]
    read, held = [covers[i] for i in rows], start.of(rows) if start else None
    plain, warm = (
        inside_temperatures(read, np.asarray(states)[rows], air, held, soil=batch.soil).wood_c for air in (told, warmer)
    )
    return {row: gain[0] for row, gain in zip(rows, warm - plain, strict=True)}


def _inside(rows: Rows) -> InsideTemperatures:
    """Rows folded back into covers and members, once they were marched."""
    batch, (kept, nodes, water) = rows.batch, rows.found()
    covers, members = len(batch.states), batch.members
    single = np.ndim(batch.weathers[0].air_c) == 1
    shape = (covers, batch.hours) if single else (covers, members, batch.hours)
    wood_c, top_c, air_c = (values.reshape(shape) for values in kept)
    finish = HeatStart(
        at_utc=batch.start_utc + timedelta(hours=batch.hours - 1),
        nodes_c=nodes.reshape(covers, members, -1),
        water_j=water.reshape(covers, members),
        soil_c=batch.soil_c[batch.weather_of],
        soil=batch.soil,
    )
    return InsideTemperatures(start_utc=batch.start_utc, wood_c=wood_c, top_c=top_c, air_c=air_c, finish=finish)


def _taken(covers: Sequence[Cover], state: CoverState) -> CoverProperties:
    """Properties of a list of covers in which many may be the same object."""
    places = {key: place for place, key in enumerate({id(cover): None for cover in covers})}
    unique = list({id(cover): cover for cover in covers}.values())
    whole = stacked([properties_of(cover, state) for cover in unique])
    return taken(whole, np.array([places[id(cover)] for cover in covers]))


def _mean_member(weather: TreeAir) -> Surroundings:
    return changed(weather, lambda row: np.asarray(np.atleast_2d(row).mean(axis=0)))


def _mean_start(start: HeatStart | None) -> HeatStart | None:
    if start is None:
        return None

    def mean(values: Array) -> Array:
        return np.asarray(values.mean(axis=1, keepdims=True))

    return replace(start, nodes_c=mean(start.nodes_c), water_j=mean(start.water_j), soil_c=mean(start.soil_c))
