"""The march where nothing was built: states that change, bare spells, buckets, freezing soil, all rows at once."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import fields
from itertools import pairwise, repeat
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from rules.heat.marching.forcing import Forcing
from rules.heat.marching.marched import BARE, VENTED, Marched, open_tip_c
from rules.heat.marching.step import (
    GAMMA,
    WATER_J_KGK,
    Drive,
    Elimination,
    advance,
    bucket_c,
    conductances,
    draught,
    drive,
    elimination,
    factor,
    freezing,
    frozen,
    loads,
    picked,
)
from rules.heat.network import Grid, Network

Array = npt.NDArray[np.float64]
States = npt.NDArray[np.int64]

STEPS_AT_ONCE: Final = 8192  # rows times steps for which what comes from outside is laid out at once


def marched_in_arrays(
    both: tuple[Network, Network], states: States, forced: Forcing, grid: Grid,
    start_c: Array | None, water_j: Array | None, history_marks: Sequence[int],
) -> Marched:  # fmt: skip
    """Temperatures by an array over all rows for each line of a step; parameters as those of `march`."""
    rows = len(states)
    networks = (_plain(both[0], rows), _plain(both[1], rows))
    pace = _Pace(networks, states, forced, grid, start_c, water_j, history_marks)
    for first, last in pace.stretches():
        pace.go(first, last)
    nodes = np.stack([np.broadcast_to(value, rows) for value in [*pace.chain, pace.wood]], axis=-1)
    return Marched(
        wood_c=pace.kept[:, 0],
        top_c=pace.kept[:, 1],
        air_c=pace.kept[:, 2],
        nodes_c=nodes,
        water_j=np.array(np.broadcast_to(pace.water_j, rows)),
        history_c=pace.history,
    )


class _Pace:
    """Where the march stands: nodes, buckets, and the elimination of the present states."""

    fixed: Elimination
    driving: Drive
    ices: tuple[Any, Elimination] | None  # which soil cells froze in the last step, and its elimination

    def __init__(
        self,
        networks: tuple[Network, Network],
        states: States,
        forced: Forcing,
        grid: Grid,
        start_c: Array | None,
        water_j: Array | None,
        history_marks: Sequence[int],
    ) -> None:
        self.networks, self.states, self.forced, self.grid = networks, states, forced, grid
        self.rows, self.hours = states.shape
        self.steps = forced.steps
        self.changes = set((1 + np.flatnonzero((states[:, 1:] != states[:, :-1]).any(axis=0))).tolist())
        self.bare = states == BARE
        self.kept = np.empty((self.hours, 3, self.rows))
        self.history = np.empty((len(history_marks), grid.nodes, self.rows))
        self.place = {mark: i for i, mark in enumerate(history_marks)}
        self.point = forced.point(0)
        self.air = self.point[0]
        self.wet = bool(np.any(np.asarray(networks[1].water_kg) > 0))
        self.chain, self.wood = self._at_outdoors(0)
        self.wood = self.chain[grid.cells]
        if start_c is not None:
            *self.chain, self.wood = start_c[0].tolist() if len(start_c) == 1 else list(start_c.T.copy())
        self.water_j: Any = self._fresh_water_j() if water_j is None else _plain_value(water_j, len(states))
        self._take_states(0)
        self._uncover(0, self.bare[:, 0])
        self._keep(0)
        self._tops(0, 1, self.driving, self.point)

    def stretches(self) -> Iterator[tuple[int, int]]:
        """First and last mark of each run of hours in which no state changes, as long as the caches hold."""
        most = max(1, STEPS_AT_ONCE // (self.rows * self.steps))
        return pairwise(sorted({*range(0, self.hours - 1, most), *self.changes, self.hours - 1}))

    def go(self, first: int, last: int) -> None:
        """March from one mark to another; what comes from outside is reckoned for all steps at once."""
        if first in self.changes:
            self._take_states(first)
        if self.bare[:, first].all() and not self.place:
            self._stay_bare(first, last)
        else:
            self._steps(first, last)
        self.point = self.forced.point(last)

    def _stay_bare(self, first: int, last: int) -> None:
        marks = slice(first + 1, last + 1)
        self.kept[marks, :2] = self._wide(self.forced.at(self.forced.bare_c[marks]))[:, None]
        self.kept[marks, 2] = self._wide(self.forced.at(self.forced.hourly[marks, 0]))
        self._mark(last, self.kept[last, 2] if self.rows > 1 else float(self.kept[last, 2, 0]))

    def _wide(self, values: Any) -> Array:
        """Values of some marks as an array over marks and covers, or one column for all of them."""
        return np.reshape(values, (len(values), -1))

    def _steps(self, first: int, last: int) -> None:
        fixed = self.fixed
        at_gamma, middle, end, soil_mean, soil_end = self._told(first, last)
        ends, outside = drive(fixed, end), conductances(fixed, middle)
        starts = (_before(now, later) for now, later in zip(self.driving, ends, strict=True))
        mean = tuple((now + later) * 0.5 for now, later in zip(starts, drive(fixed, at_gamma), strict=True))
        pushed = loads(fixed, outside, mean, soil_mean), loads(fixed, outside, ends, soil_end)
        for step, each in enumerate(_each((outside, *pushed, (middle[0], mean[2], ends[2]))), start=1):
            self._step(*each)
            if step % self.steps == 0:
                self._mark(first + step // self.steps, each[-1][-1])
        self.driving = tuple(one[-1] if isinstance(one, np.ndarray) else one for one in ends)
        side_c, over_c, *point = (self._wide(one[self.steps - 1 :: self.steps]) for one in (*ends[:2], *end))
        self._tops(first + 1, last + 1, (side_c, over_c), point)

    def _told(self, first: int, last: int) -> list[Any]:
        air, soil_c = self.forced.air_and_soil(first, last)
        return [one[..., 0] if self.rows == 1 else one for one in (*air, *soil_c)]

    def _mark(self, mark: int, air_c: Any) -> None:
        self.air, bare = air_c, self.bare[:, mark - 1] | self.bare[:, mark]
        self._uncover(mark, bare)
        self._keep(mark)

    def _keep(self, mark: int) -> None:
        self.kept[mark, 0], self.kept[mark, 2] = self.wood, self.chain[self.grid.cells]
        if mark in self.place:
            for node, value in enumerate([*self.chain, self.wood]):
                self.history[self.place[mark], node] = value

    def _tops(self, first: int, last: int, driving: Drive, point: list[Any]) -> None:
        """The last 15 cm of the stem at some marks [°C]: part of the way to what is outside; bare, as the rest."""
        net, wood = self.fixed.network, self.kept[first:last, 0]
        covered = wood + net.top_share * (driving[1] - wood)
        if self.fixed.unfilled:
            covered = covered + net.side_share * (driving[0] - wood)
        if self.fixed.mouth:
            out = open_tip_c(point, self.kept[first:last, 2], net.mouth)
            covered = np.where(np.asarray(net.mouth) > 0, out, covered)
        bare = self.bare[:, first:last] | self.bare[:, [max(0, mark - 1) for mark in range(first, last)]]
        self.kept[first:last, 1] = np.where(bare.T, wood, covered)

    def _step(self, outside: Any, mean_loads: Any, end_loads: Any, airs: Any) -> None:
        fixed = self._freezing() if self.fixed.freezes else self.fixed
        if fixed.hole:
            through = draught(fixed, self.chain[self.grid.cells] - airs[0])
            outside = (*outside[:2], outside[2] + through, *outside[3:])
            mean_loads, end_loads = _warmed(mean_loads, through * airs[1]), _warmed(end_loads, through * airs[2])
        bucket_w_k = fixed.network.bucket_w_k if self.wet else 0.0
        if self.wet:
            bucket = bucket_c(self.water_j, fixed.network.water_kg)
            mean_loads, end_loads = (_warmed(each, bucket_w_k * bucket) for each in (mean_loads, end_loads))
        pivots = factor(fixed, outside, bucket_w_k)
        self.chain, self.wood, *_ = advance(fixed, pivots, self.chain, self.wood, mean_loads, end_loads)
        if self.wet:
            step_s = fixed.stage_s * 2 / GAMMA
            self.water_j = self.water_j + step_s * bucket_w_k * (self.chain[self.grid.cells] - bucket)

    def _take_states(self, hour: int) -> None:
        net = picked(*self.networks, self.states[:, hour] == VENTED)
        self.fixed = elimination(net, 3600 / self.steps)
        self.ices = None
        self.driving = drive(self.fixed, self.point)

    def _freezing(self) -> Elimination:
        """Latent heat by the temperatures at the start of the step; made anew only when another cell freezes."""
        which = freezing(np.array(self.chain[: self.grid.cells]))
        if self.ices is None or not np.array_equal(which, self.ices[0]):
            self.ices = which, frozen(self.fixed, which.tolist() if self.rows == 1 else which)
        return self.ices[1]

    def _at_outdoors(self, mark: int) -> tuple[list[Any], Any]:
        soil = self.forced.at(self.forced.soil_c[mark])
        return [*list(soil)[:-1], *[self.air] * (1 + self.grid.shells)], self.forced.at(self.forced.bare_c[mark])

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


def _warmed(heat: tuple[Any, ...], more_w: Any) -> tuple[Any, ...]:
    """Loads with more heat to the air inside."""
    return heat[0], heat[1] + more_w, *heat[2:]


def _before(now: Any, later: Any) -> Any:
    """Values at the beginning of each step from those now and at the end of each."""
    if not isinstance(later, np.ndarray):
        return later
    return np.concatenate([np.broadcast_to(now, later.shape[1:])[None], later[:-1]])


def _each(values: Any) -> Iterable[Any]:
    """Values step by step; one that holds for all steps comes again and again."""
    if isinstance(values, (list, tuple)):
        return zip(*(_each(one) for one in values), strict=False)
    if not isinstance(values, np.ndarray):
        return repeat(values)
    return values.tolist() if values.ndim == 1 else values


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
