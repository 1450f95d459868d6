"""Many covers under many weathers laid out in rows, checked, and marched together."""

from collections.abc import Sequence
from datetime import datetime
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.condition import Layer
from rules.garden.cover import STATE_INDEX, Cover
from rules.garden.tree import SiteSoil
from rules.heat.layers.side import SNOW_W_MK
from rules.heat.marching.forcing import Forcing, forcing, joined
from rules.heat.marching.march import ROWS_AT_ONCE, march
from rules.heat.marching.marched import BARE, Marched
from rules.heat.marching.start import HeatStart
from rules.heat.network import Grid
from rules.heat.properties import CoverProperties, structure_shown_c, taken, thinned
from rules.heat.surroundings import TreeAir, checked
from rules.site.soil import at_depths, soil_parts_c

Array = npt.NDArray[np.float64]
States = npt.NDArray[np.int64]
Weathers = TreeAir | Sequence[TreeAir]

GRID: Final = Grid()


class Batch:
    """Covers, states and weathers of one call, checked and laid out in rows of one cover and one member each."""

    def __init__(
        self,
        covers: Sequence[Cover],
        states: npt.ArrayLike,
        weather: Weathers,
        start: HeatStart | None,
        soil: SiteSoil | None,
    ) -> None:
        if not covers:
            raise ValueError("covers holds 0 covers, it must hold at least 1")
        listed = list(weather) if isinstance(weather, Sequence) else [weather]
        skies = listed * len(covers) if len(listed) == 1 else listed
        # snow round a cover lies on the soil beside it too: each depth of it is a place of its own
        stood = [(id(sky), cover.condition.snow_round_m) for sky, cover in zip(skies, covers, strict=False)]
        found = dict(zip(stood, skies, strict=False))
        self.weathers = [checked(one) for one in found.values()]
        self.snow_m2k_w = np.array([snow_m / SNOW_W_MK for _, snow_m in found])
        places = {key: place for place, key in enumerate(found)}
        self.steps = np.array([1 if cover.reach_m(Layer.FILL) else 2 for cover in covers])
        self.states = _checked_states(states, len(covers), self.weathers)
        if len(listed) not in (1, len(covers)):
            raise ValueError(f"weather has {len(listed)} entries, it must have 1 or one per cover ({len(covers)})")
        self.weather_of = np.array([places[key] for key in stood])
        self.shown_c = np.array([structure_shown_c(cover) for cover in covers])
        self.members = np.atleast_2d(self.weathers[0].air_c).shape[0]
        self.hours = self.states.shape[1]
        self.start_utc = self.weathers[0].start_utc
        self.soil = _soil_of(start, soil, self.start_utc, (len(covers), self.members))
        first = None if start is None else _with_members(start.soil_c, self.members)[self._one_cover_each()]
        self.depths_c, self.soil_c = self._undisturbed_c(first)

    def _one_cover_each(self) -> npt.NDArray[np.int64]:
        return np.array([int(np.argmax(self.weather_of == place)) for place in range(len(self.weathers))])

    def _undisturbed_c(self, first: Array | None) -> tuple[Array, Array]:
        """Undisturbed soil: as covers feel it, (hours, weathers, members, depths), and whole at the end, (…, 30)."""
        shape = (self.members, self.hours)
        air, wind, sky, sun = (
            np.concatenate([np.broadcast_to(getattr(one, name), shape) for one in self.weathers])
            for name in ("air_c", "wind_m_s", "sky_emissivity", "sun_top_w_m2")
        )
        begin = None if first is None else first.reshape(-1, first.shape[-1])
        snow = np.repeat(self.snow_m2k_w, self.members)
        starts = [one.start_utc for one in self.weathers for _ in range(self.members)]
        each: list[Array] = []
        for part in soil_parts_c(self.soil, starts, air, wind, sky, sun, begin, snow):
            each.append(at_depths(part, GRID.depths_m))
        places = len(self.weathers), self.members, -1
        return np.concatenate(each).reshape(self.hours, *places), part[-1].reshape(places).copy()

    def forced(self, place: int) -> Forcing:
        """One of the weathers, all its members."""
        return forcing(self.weathers[place], np.swapaxes(self.depths_c[:, place], 1, 2))

    def march(
        self,
        properties: tuple[CoverProperties, ...],
        nodes_c: Array | None,
        water_j: Array | None,
        variants: int = 1,
        history_c: Array | None = None,
    ) -> tuple[list[Array], Array, Array]:
        """Temperatures (wood, top, air: each (rows, hours)), nodes and water; rows = covers x variants x members.

        `history_c`, shape (rows, hours, nodes), is filled with the nodes at every mark.
        """
        rows = Rows(self, properties, nodes_c, water_j, variants, history_c)
        march_together([rows])
        return rows.found()


class Rows:
    """The rows of one batch, covers x variants x members, and what becomes of them; parameters as of `Batch.march`.

    `marks` says at which hours `history_c` wants the nodes; None at all. With `only_wood` top and air are not kept.
    """

    def __init__(
        self,
        batch: Batch,
        properties: tuple[CoverProperties, ...],
        nodes_c: Array | None,
        water_j: Array | None,
        variants: int = 1,
        history_c: Array | None = None,
        marks: Sequence[int] | None = None,
        only_wood: bool = False,
    ) -> None:
        self.batch, self.properties, self.history_c = batch, properties, history_c
        self.marks = range(batch.hours) if marks is None else marks
        self.cover_of = np.repeat(np.arange(len(batch.states)), variants * batch.members)
        self.start_c, self.start_j = _rows(nodes_c, batch.members, 1), _rows(water_j, batch.members, 0)
        rows = len(self.cover_of)
        self.kept = [np.empty((rows, batch.hours)) for _ in range(1 if only_wood else 3)]
        self.nodes, self.water = np.empty((rows, GRID.nodes)), np.empty(rows)

    def stand_in(self, chosen: States) -> tuple[list[Forcing], States]:
        """The weathers that some rows stand in, and in which of their members, one after the other, each does."""
        batch = self.batch
        used, place = np.unique(batch.weather_of[self.cover_of[chosen]], return_inverse=True)
        return [batch.forced(one) for one in used.tolist()], place * batch.members + chosen % batch.members

    def take(self, chosen: States, marched: Marched, part: slice) -> None:
        """Keep what became of some rows, which are a part of what was marched."""
        into = _run(chosen)
        for own, values in zip(self.kept, (marched.wood_c, marched.top_c, marched.air_c), strict=False):
            own[into] = values[:, part].T
        self.nodes[into], self.water[into] = marched.nodes_c[part], marched.water_j[part]
        if self.history_c is not None:
            self.history_c[into] = np.moveaxis(marched.history_c[..., part], -1, 0)

    def found(self) -> tuple[list[Array], Array, Array]:
        """Temperatures, nodes and water, as `Batch.march` gives them."""
        batch = self.batch
        if batch.shown_c.any():
            shift_c = (batch.shown_c[:, None] * (batch.states != BARE))[self.cover_of]
            return [values + shift_c for values in self.kept], self.nodes, self.water
        return self.kept, self.nodes, self.water


def march_together(lists: Sequence[Rows]) -> None:
    """March the rows of several batches of the same hours side by side: a step costs hardly more for many than for few.

    All of them have a start, or none, and one of them at most a history.
    """
    for pieces, steps in _chunks(lists):
        forced = _forced(pieces, steps)
        vented, closed = (_properties(pieces, state) for state in range(2))
        states = np.concatenate([rows.batch.states[rows.cover_of[chosen]] for rows, chosen in pieces])
        begin, full = _begin(pieces)
        marks = next((rows.marks for rows, _ in pieces if rows.history_c is not None), ())
        marched = march(vented, closed, states, forced, GRID, begin, full, marks)
        ends = np.cumsum([0, *(len(chosen) for _, chosen in pieces)])
        for (rows, chosen), first, last in zip(pieces, ends, ends[1:], strict=False):
            rows.take(chosen, marched, slice(first, last))


Piece = tuple[Rows, States]  # some rows of a list, by index


def _forced(pieces: Sequence[Piece], steps: int) -> Forcing:
    """What drives some rows: the weathers they stand in side by side, and no others."""
    forces: list[Forcing] = []
    row_of: list[States] = []
    for rows, chosen in pieces:
        more, places = rows.stand_in(chosen)
        row_of.append(places + sum(one.bare_c.shape[-1] for one in forces))
        forces += more
    return joined(forces).standing(np.concatenate(row_of), steps)


def _properties(pieces: Sequence[Piece], state: int) -> CoverProperties:
    each = [(rows.properties[state], chosen // rows.batch.members) for rows, chosen in pieces]
    return taken(*each[0]) if len(each) == 1 else thinned(each)


def _begin(pieces: Sequence[Piece]) -> tuple[Array | None, Array | None]:
    """What some rows hold at the first mark: nodes and buckets."""
    nodes = [rows.start_c[chosen] for rows, chosen in pieces if rows.start_c is not None]
    water = [rows.start_j[chosen] for rows, chosen in pieces if rows.start_j is not None]
    return np.concatenate(nodes) if nodes else None, np.concatenate(water) if water else None


def _chunks(lists: Sequence[Rows]) -> list[tuple[list[Piece], int]]:
    """Pieces of equal step length, some thousands of rows at a time; a small list rides with the last of the others."""
    chunks: list[tuple[list[Piece], int]] = []
    for count in sorted({count for rows in lists for count in rows.batch.steps.tolist()}):
        room = 0
        for rows in lists:
            chosen = np.flatnonzero(rows.batch.steps[rows.cover_of] == count)
            for piece in np.array_split(chosen, -(-len(chosen) // ROWS_AT_ONCE)) if len(chosen) else ():
                if len(piece) > room:
                    chunks.append(([], count))
                    room = ROWS_AT_ONCE
                chunks[-1][0].append((rows, piece))
                room -= len(piece)
    return chunks


def _run(rows: States) -> States | slice:
    """Rows as a slice where they follow one another: copied many times faster than picked ones."""
    first, last = int(rows[0]), int(rows[-1])
    return slice(first, last + 1) if last - first + 1 == len(rows) else rows


def _rows(values: Array | None, members: int, trailing: int) -> Array | None:
    """Start values (covers, members, ...) in rows; one member serves all."""
    if values is None:
        return None
    wide = _with_members(values, members)
    return wide.reshape(-1, *wide.shape[2 : 2 + trailing])


def _with_members(values: Array, members: int) -> Array:
    return np.broadcast_to(values, (len(values), members, *values.shape[2:]))


def _checked_states(states: npt.ArrayLike, covers: int, weathers: Sequence[TreeAir]) -> States:
    table = np.asarray(states)
    hours = weathers[0].air_c.shape[-1]
    if table.shape != (covers, hours):
        raise ValueError(f"states have shape {table.shape}, they must be covers x hours, ({covers}, {hours})")
    if not np.isin(table, list(STATE_INDEX.values())).all():
        raise ValueError(f"states hold {table.min()} to {table.max()}, each must be 0 bare, 1 vented or 2 closed")
    for one in weathers[1:]:
        if one.air_c.shape != weathers[0].air_c.shape:
            raise ValueError(f"weather of shape {one.air_c.shape} does not match the first one")
    return table.astype(np.int64)


def _soil_of(start: HeatStart | None, soil: SiteSoil | None, begins: datetime, rows: tuple[int, int]) -> SiteSoil:
    if start is None:
        if soil is None:
            raise ValueError("neither start nor soil is given, the heat balance needs one of them")
        return soil
    if start.at_utc != begins:
        raise ValueError(f"start is of {start.at_utc}, it must be of the first hour of the weather, {begins}")
    held = start.water_j.shape
    if held[0] != rows[0] or held[1] not in (1, rows[1]):
        raise ValueError(f"start is of {held[0]} covers x {held[1]} members, it must be of {rows[0]} x 1 or {rows[1]}")
    return soil or start.soil
