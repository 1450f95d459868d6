"""The march of a batch of covers through the hours: in C where it was built, else in arrays."""

from collections.abc import Sequence
from ctypes import CDLL
from dataclasses import fields
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from rules.compiled.library import LIBRARY
from rules.compiled.march import MOST_NODES, marched
from rules.heat.marching.forcing import SIDES, Forcing
from rules.heat.marching.in_arrays import marched_in_arrays
from rules.heat.marching.marched import Marched
from rules.heat.marching.step import unfilled
from rules.heat.network import Grid, Network, network
from rules.heat.properties import CoverProperties

Array = npt.NDArray[np.float64]
States = npt.NDArray[np.int64]

ROWS_AT_ONCE: Final = 512  # keeps one node of all rows in the fastest cache


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
    both = network(vented, grid), network(closed, grid)
    if LIBRARY and grid.nodes <= MOST_NODES:
        return _built(LIBRARY, both, states, forced, grid, start_c, water_j, history_marks)
    return marched_in_arrays(both, states, forced, grid, start_c, water_j, history_marks)


def _built(
    library: CDLL, both: tuple[Network, Network], states: States, forced: Forcing, grid: Grid,
    start_c: Array | None, water_j: Array | None, history_marks: Sequence[int],
) -> Marched:  # fmt: skip
    """The same by the march that was built."""
    rows, hours = states.shape
    row_of = np.zeros(rows, dtype=np.int64) if forced.row_of is None else forced.row_of
    counts = {
        "rows": rows, "hours": hours, "steps": forced.steps, "weathers": forced.bare_c.shape[-1],
        "cells": grid.cells, "shells": grid.shells, "unfilled": int(any(unfilled(net) for net in both)),
    }  # fmt: skip
    given = {
        "vented": _coefficients(both[0], rows), "closed": _coefficients(both[1], rows), "states": states,
        "row_of": row_of, "start_c": None if start_c is None else start_c.T, "start_j": water_j,
        **{name: getattr(forced, name) for name in SIDES},
    }  # fmt: skip
    found = marched(library, counts, given, history_marks)
    kept = found["kept"]
    return Marched(
        wood_c=kept[:, 0], top_c=kept[:, 1], air_c=kept[:, 2],
        nodes_c=found["nodes_c"].T, water_j=found["water_j"], history_c=found["history_c"],
    )  # fmt: skip


def _coefficients(net: Network, rows: int) -> Array:
    """The values of a network as march.c reads them, shape (coefficients, rows): tuples filled up with zeros."""
    values: list[Any] = []
    for field in fields(Network):
        value = getattr(net, field.name)
        values += [*value, *[0.0] * (MOST_NODES - len(value))] if isinstance(value, tuple) else [value]
    found = np.empty((len(values), rows))
    for row, value in zip(found, values, strict=True):
        row[:] = value
    return found
