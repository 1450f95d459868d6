"""The march of a batch of covers through the hours: states that change, bare spells, buckets, freezing soil."""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from rules.heat.network import Grid, Network, network
from rules.heat.properties import CoverProperties
from rules.heat.step import (
    GAMMA,
    WATER_J_KGK,
    Drive,
    Elimination,
    advance,
    bucket_c,
    conductances,
    drive,
    elimination,
    factor,
    freezing,
    frozen,
    loads,
    picked,
)
from rules.heat.surroundings import TreeAir, bare_stem_c, instants, stem_excess_c

Array = npt.NDArray[np.float64]
States = npt.NDArray[np.int64]

BARE: Final = 0
VENTED: Final = 1
CLOSED: Final = 2
ROWS_AT_ONCE: Final = 4096  # keeps one node of all rows in the fastest cache


@dataclass(frozen=True, kw_only=True, eq=False)
class Forcing:
    """All that drives a batch, last axis the distinct weathers; `row_of` says which one each cover stands in."""

    instants: Array  # (hours - 1, steps, 3, 7, weathers): at γ, at the middle and at the end of each step
    first: Array  # (7, weathers)
    soil_c: Array  # (hours - 1, steps, 2, depths, weathers): mean of stage one, and end of each step
    soil_marks_c: Array  # (hours, depths, weathers)
    bare_c: Array  # (hours, weathers)
    row_of: npt.NDArray[np.int64] | None  # None: all covers stand in the only weather

    def at(self, values: Array) -> Any:
        """Values of one instant as numbers, or as arrays over the covers."""
        return values[..., 0].tolist() if self.row_of is None else values.take(self.row_of, axis=-1, mode="clip")

    def standing(self, row_of: npt.NDArray[np.int64]) -> "Forcing":
        """The same weathers for covers that each stand in one of them."""
        if len(row_of) > 1:
            return replace(self, row_of=None if self.first.shape[-1] == 1 else row_of)
        only = slice(int(row_of[0]), int(row_of[0]) + 1)
        sides = {name: getattr(self, name)[..., only] for name in _SIDES}
        return Forcing(**sides, row_of=None)


_SIDES: Final = [field.name for field in fields(Forcing) if field.name != "row_of"]


def joined(forcings: Sequence[Forcing]) -> Forcing:
    """Weathers side by side, in their order."""
    sides = {name: np.concatenate([getattr(one, name) for one in forcings], axis=-1) for name in _SIDES}
    return Forcing(**sides, row_of=None)


@dataclass(frozen=True, kw_only=True, eq=False)
class Marched:
    """Temperatures [°C], shape (hours, rows); `nodes_c` (rows, nodes) and `water_j` (rows,) at the last mark."""

    wood_c: Array
    top_c: Array
    air_c: Array
    nodes_c: Array
    water_j: Array
    history_c: Array  # (marks kept, nodes, rows), wood last


def forcing(
    weather: TreeAir, soil_marks_c: Array, steps_per_hour: int, row_of: npt.NDArray[np.int64] | None = None
) -> Forcing:
    """Weather of shape (weathers, hours) or (hours,) and undisturbed soil (hours, depths, weathers), made ready."""
    begins = np.arange(steps_per_hour)[:, None]
    offsets = (begins + np.array([GAMMA, 0.5, 1.0])).ravel() / steps_per_hour
    points = instants(weather, offsets)
    early, late = soil_marks_c[:-1, None, None], soil_marks_c[1:, None, None]
    share = ((begins + np.array([GAMMA / 2, 1.0])) / steps_per_hour)[..., None, None]
    return Forcing(
        instants=points.reshape(len(points), steps_per_hour, 3, *points.shape[2:]),
        first=instants(weather, np.zeros(1))[0, 0],
        soil_c=early + (late - early) * share,
        soil_marks_c=soil_marks_c,
        bare_c=np.atleast_2d(bare_stem_c(weather)).T,
        row_of=row_of,
    )


def march(
    vented: CoverProperties,
    closed: CoverProperties,
    states: States,
    forced: Forcing,
    grid: Grid,
    start_c: Array | None = None,
    water_j: Array | None = None,
    history_marks: Sequence[int] = (),
) -> Marched:
    """Temperatures of a batch of covers, hour by hour.

    Parameters
    ----------
    vented, closed
        Properties, each value a number (one cover) or an array over the rows.
    states
        State of each row from each mark on: 0 bare, 1 vented, 2 closed; shape (rows, hours).
    start_c, water_j
        Nodes (rows, nodes), deepest soil first, wood last [°C], and heat of the buckets (rows,) [J above water at
        0 °C] at the first mark; None starts from undisturbed soil and outdoor air.
    history_marks
        Hours whose nodes are kept.
    """
    rows, hours = states.shape
    networks = (_plain(network(vented, grid), rows), _plain(network(closed, grid), rows))
    pace = _Pace(networks, states, forced, grid, start_c, water_j)
    kept = np.empty((hours, 3, rows))
    history, place = np.empty((len(history_marks), grid.nodes, rows)), {mark: i for i, mark in enumerate(history_marks)}
    for mark in range(hours):
        if mark:
            pace.hour(mark - 1)
        kept[mark, 0], kept[mark, 1], kept[mark, 2] = pace.wood, pace.top(mark), pace.chain[grid.cells]
        if mark in place:
            for node, value in enumerate([*pace.chain, pace.wood]):
                history[place[mark], node] = value
    nodes = np.stack([np.broadcast_to(value, rows) for value in [*pace.chain, pace.wood]], axis=-1)
    return Marched(
        wood_c=kept[:, 0],
        top_c=kept[:, 1],
        air_c=kept[:, 2],
        nodes_c=nodes,
        water_j=np.array(np.broadcast_to(pace.water_j, rows)),
        history_c=history,
    )


def open_tip_c(point: list[Any], inside_c: Any, mouth: Any) -> Any:
    """The tip of a stem that is partly out in the open [°C]: a bare stem behind a wall.

    Air, wind, sun and sky come to it from outside by the share `mouth`, the rest of its air and of what it sees is the
    air and the walls inside. 1 is the bare stem itself, 0 a stem among walls as warm as their air.
    """
    air, radiative, wind, side_sky, side_sun, *_ = point
    return inside_c + mouth * (air - inside_c) + stem_excess_c(radiative, wind, side_sky, side_sun, mouth)


class _Pace:
    """Where the march stands: nodes, buckets, and the elimination of the present states."""

    fixed: Elimination
    driving: Drive
    ices: tuple[list[Any], Elimination] | None  # which soil cells froze in the last step, and its elimination

    def __init__(
        self,
        networks: tuple[Network, Network],
        states: States,
        forced: Forcing,
        grid: Grid,
        start_c: Array | None,
        water_j: Array | None,
    ) -> None:
        self.networks, self.states, self.forced, self.grid = networks, states, forced, grid
        self.changes = np.append(True, (states[:, 1:] != states[:, :-1]).any(axis=0)).tolist()
        self.bare = states == BARE
        self.any_bare, self.all_bare = self.bare.any(axis=0).tolist(), self.bare.all(axis=0).tolist()
        self.point = forced.at(forced.first)
        self.wet = bool(np.any(np.asarray(networks[1].water_kg) > 0))
        self.chain, self.wood = self._at_outdoors(0)
        self.wood = self.chain[grid.cells]
        if start_c is not None:
            *self.chain, self.wood = start_c[0].tolist() if len(start_c) == 1 else list(start_c.T.copy())
        self.water_j: Any = self._fresh_water_j() if water_j is None else _plain_value(water_j, len(states))
        self._take_states(0)
        self._uncover(0, self.bare[:, 0])

    def hour(self, hour: int) -> None:
        """March from one hour mark to the next."""
        if self.changes[hour]:
            self._take_states(hour)
        points, soils = self.forced.instants[hour], self.forced.soil_c[hour]
        if self.all_bare[hour]:
            self.point = self.forced.at(points[-1, -1])
            self.driving = drive(self.fixed, self.point)
        else:
            for step, soil in zip(points, soils, strict=True):
                self._step(*self.forced.at(step), *self.forced.at(soil))
        if self.any_bare[hour] or self.any_bare[hour + 1]:
            self._uncover(hour + 1, self.bare[:, hour] | self.bare[:, hour + 1])

    def top(self, mark: int) -> Any:
        """The last 15 cm of the stem [°C]: part of the way to what is outside of them; bare, as the rest."""
        net = self.fixed.network
        covered = self.wood + net.top_share * (self.driving[1] - self.wood)
        if self.fixed.unfilled:
            covered = covered + net.side_share * (self.driving[0] - self.wood)
        if self.fixed.mouth:
            out = open_tip_c(self.point, self.chain[self.grid.cells], net.mouth)
            covered = out if isinstance(net.mouth, float) else np.where(np.asarray(net.mouth) > 0, out, covered)
        if not self.any_bare[mark]:
            return covered
        return self.wood if self.all_bare[mark] else np.where(self.bare[:, mark], self.wood, covered)

    def _step(self, at_gamma: Any, middle: Any, end: Any, soil_mean: Any, soil_end: Any) -> None:
        fixed = self._freezing() if self.fixed.freezes else self.fixed
        air = self.chain[self.grid.cells]
        outside = conductances(fixed, middle, air)
        mean = tuple((now + later) * 0.5 for now, later in zip(self.driving, drive(fixed, at_gamma), strict=True))
        self.driving = drive(fixed, end)
        mean_loads, end_loads = loads(fixed, outside, mean, soil_mean), loads(fixed, outside, self.driving, soil_end)
        bucket_w_k = fixed.network.bucket_w_k if self.wet else 0.0
        if self.wet:
            bucket = bucket_c(self.water_j, fixed.network.water_kg)
            mean_loads, end_loads = _with_bucket(mean_loads, end_loads, bucket_w_k * bucket)
        pivots = factor(fixed, outside, bucket_w_k)
        self.chain, self.wood, *_ = advance(fixed, pivots, self.chain, self.wood, mean_loads, end_loads)
        if self.wet:
            step_s = fixed.stage_s * 2 / GAMMA
            self.water_j = self.water_j + step_s * bucket_w_k * (self.chain[self.grid.cells] - bucket)
        self.point = end

    def _take_states(self, hour: int) -> None:
        net = picked(*self.networks, self.states[:, hour] == VENTED)
        self.fixed = elimination(net, 3600 / self.forced.instants.shape[1])
        self.ices = None
        self.driving = drive(self.fixed, self.point)

    def _freezing(self) -> Elimination:
        """Latent heat by the temperatures at the start of the step; made anew only when another cell freezes."""
        which = freezing(self.chain[: self.grid.cells])
        if self.ices is None or not _same(which, self.ices[0]):
            self.ices = which, frozen(self.fixed, which)
        return self.ices[1]

    def _at_outdoors(self, mark: int) -> tuple[list[Any], Any]:
        soil = self.forced.at(self.forced.soil_marks_c[mark])
        return [*list(soil)[:-1], *[self.point[0]] * (1 + self.grid.shells)], self.forced.at(self.forced.bare_c[mark])

    def _uncover(self, mark: int, bare: npt.NDArray[np.bool_]) -> None:
        """Without its cover the stem is as the bare one, the floor as the soil beside, the fill as the air."""
        if not bare.any():
            return
        chain, wood = self._at_outdoors(mark)
        whole = bool(bare.all())
        self.chain = chain if whole else [np.where(bare, o, c) for o, c in zip(chain, self.chain, strict=True)]
        self.wood = wood if whole else np.where(bare, wood, self.wood)
        if self.wet:
            fresh = self._fresh_water_j()
            self.water_j = fresh if whole else np.where(bare, fresh, self.water_j)

    def _fresh_water_j(self) -> Any:
        """Water as cold as the air, but liquid."""
        warm = self.chain[self.grid.cells] - 0.5
        return WATER_J_KGK * self.networks[1].water_kg * (0.5 + 0.5 * (warm + abs(warm)))


def _same(which: list[Any], before: list[Any]) -> bool:
    if isinstance(which[0], bool):
        return which == before
    return not any((a != b).any() for a, b in zip(which, before, strict=True))


def _with_bucket(mean: tuple[Any, ...], end: tuple[Any, ...], heat_w: Any) -> tuple[tuple[Any, ...], tuple[Any, ...]]:
    return (mean[0], mean[1] + heat_w, *mean[2:]), (end[0], end[1] + heat_w, *end[2:])


def _plain_value(value: Any, rows: int) -> Any:
    return float(np.asarray(value).reshape(-1)[0]) if rows == 1 else value


def _plain(net: Network, rows: int) -> Network:
    """The same network with bare numbers when it is of one cover: Python's are faster than arrays of one."""
    if rows > 1:
        return net
    values: dict[str, Any] = {field.name: getattr(net, field.name) for field in fields(Network)}
    for name, value in values.items():
        single = tuple(_plain_value(one, 1) for one in value) if isinstance(value, tuple) else _plain_value(value, 1)
        values[name] = single
    return Network(**values)
