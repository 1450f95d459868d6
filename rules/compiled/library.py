"""What .ci/compile built of the C beside this file, and how it is called."""

import ctypes
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

BUILT: Final = Path(__file__).with_name("compiled.so")


def library(built: Path = BUILT) -> ctypes.CDLL | None:
    """What was built; None where nothing was, or where the machine that runs it is not what it was built for."""
    try:
        found = ctypes.CDLL(str(built))
    except OSError:
        return None
    return found if found.able() else None


LIBRARY: Final = library()


def call(function: Any, counts: Sequence[int], arrays: Sequence[npt.NDArray[Any] | None]) -> None:
    """Call a function of the library with one task: counts, then arrays, in the order of its struct in C.

    The last arrays are those it fills: they must be contiguous, the others are made so.
    """
    held = [None if one is None else np.ascontiguousarray(one) for one in arrays]
    words = [*counts, *(0 if one is None else one.ctypes.data for one in held)]
    function((ctypes.c_int64 * len(words))(*words))
