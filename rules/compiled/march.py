"""The march of covers in C, built beside this file where a compiler was at hand."""

import ctypes
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

MOST_NODES: Final = 8  # as in march.c
BUILT: Final = Path(__file__).with_name("compiled.so")

_COUNTS: Final = ("rows", "hours", "steps", "weathers", "cells", "shells", "unfilled")
_ARRAYS: Final = (
    "vented", "closed", "states", "row_of", "history_of", "instants", "first", "soil_c", "soil_marks_c", "bare_c",
    "start_c", "start_j", "kept", "history_c", "nodes_c", "water_j",
)  # fmt: skip


class Task(ctypes.Structure):
    """One march: its counts and its arrays, laid out as in march.c."""

    _fields_ = [*((name, ctypes.c_int64) for name in _COUNTS), *((name, ctypes.c_void_p) for name in _ARRAYS)]


def library(built: Path = BUILT) -> ctypes.CDLL | None:
    """The C march; None where it was not built, or where the machine that runs it is not what it was built for."""
    try:
        found = ctypes.CDLL(str(built))
    except OSError:
        return None
    return found if found.able() else None


MARCH: Final = library()


def marched(
    march: ctypes.CDLL, counts: Mapping[str, int], given: Mapping[str, npt.NDArray[Any] | None], marks: Sequence[int]
) -> dict[str, Array]:
    """The last four arrays of `Task`, filled; `counts` and `given` are the others by name, `marks` those of history."""
    rows, nodes, hours = counts["rows"], counts["cells"] + counts["shells"] + 2, counts["hours"]
    if nodes > MOST_NODES:
        raise ValueError(f"the chain has {nodes} nodes, the built march takes {MOST_NODES}")
    found = {
        "kept": np.empty((hours, 3, rows)), "history_c": np.empty((len(marks), nodes, rows)),
        "nodes_c": np.empty((nodes, rows)), "water_j": np.empty(rows),
    }  # fmt: skip
    history_of = np.full(hours, -1)
    history_of[list(marks)] = np.arange(len(marks))
    arrays = {**given, "history_of": history_of, **found}
    held = {name: None if one is None else np.ascontiguousarray(one) for name, one in arrays.items()}
    places = {name: None if one is None else one.ctypes.data for name, one in held.items()}
    march.march(ctypes.byref(Task(**counts, **places)))
    return found
