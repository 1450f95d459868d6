"""The beam search in C: what it is given and what it gives back."""

from collections.abc import Mapping
from ctypes import CDLL
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from rules.compiled.library import call

NODES: Final = 8  # these three as in search.c
MOST_BEAM: Final = 8
MOST_SLOTS: Final = 64
GIVEN: Final = (
    "middle_c", "tip_c", "standing_cost", "nodes_c", "fades", "tissue", "tip_keeps", "lt50_c", "softens_c", "width_c",
    "unforeseen_c", "work", "worth", "lost", "tail_off_c", "tail", "off_c", "state", "prefix", "visits",
)  # fmt: skip


def searched(
    built: CDLL, shape: tuple[int, int, int, int], beam: int, given: Mapping[str, npt.NDArray[Any]]
) -> tuple[npt.NDArray[Any], npt.NDArray[Any], npt.NDArray[np.int64]]:
    """Cost and share lost, (trees, members, acts), and course, (trees, members, acts, slots), of the best answers.

    `shape` is trees, members, slots, states; `given` by the names of `Task` in search.c.
    """
    trees, members, slots, states = shape
    acts = (trees, members, states)
    found = np.empty(acts, np.float32), np.empty(acts, np.float32), np.empty((*acts, slots), np.int64)
    counts = [*shape, beam, given["prefix"].shape[1], *given["tail"].shape[2:]]
    call(built.search, counts, [*(given[name] for name in GIVEN), *found])
    return found
