"""The march of covers in C: what it is given and what it gives back."""

from collections.abc import Mapping, Sequence
from ctypes import CDLL
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from rules.compiled.library import call

Array = npt.NDArray[np.float64]

MOST_NODES: Final = 8  # as in march.c
COUNTS: Final = ("rows", "hours", "steps", "weathers", "cells", "shells", "unfilled")
GIVEN: Final = (
    "vented", "closed", "states", "row_of", "hourly", "shares", "soil_c", "bare_c", "start_c", "start_j",
)  # fmt: skip


def marched(
    built: CDLL, counts: Mapping[str, int], given: Mapping[str, npt.NDArray[Any] | None], marks: Sequence[int]
) -> dict[str, Array]:
    """Wood, top and air `kept` (hours, 3, rows), `history_c` at the marks (marks, nodes, rows), and what is held at
    the end, `nodes_c` (nodes, rows) and `water_j` (rows,); `counts` and `given` by the names of `Task` in march.c.
    """
    rows, nodes, hours = counts["rows"], counts["cells"] + counts["shells"] + 2, counts["hours"]
    if nodes > MOST_NODES:
        raise ValueError(f"the chain has {nodes} nodes, the built march takes {MOST_NODES}")
    shapes = {"kept": (hours, 3, rows), "history_c": (len(marks), nodes, rows), "nodes_c": (nodes, rows)}
    found = {name: np.empty(shape) for name, shape in {**shapes, "water_j": (rows,)}.items()}
    history_of = np.full(hours, -1)
    history_of[list(marks)] = np.arange(len(marks))
    arrays = [*(given[name] for name in GIVEN), history_of, *found.values()]
    call(built.march, [counts[name] for name in COUNTS], arrays)
    return found
