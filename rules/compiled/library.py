"""What .ci/compile built of the C beside this file, and how it is called."""

import ctypes
import zlib
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

BUILT: Final = Path(__file__).with_name("compiled.so")


def library(built: Path = BUILT) -> ctypes.CDLL | None:
    """What was built; None where nothing was, where it was built of other sources than lie here, or for other machines.

    One built before the C was changed would read its tasks wrongly.
    """
    try:
        found = ctypes.CDLL(str(built))
        found.stamp.restype = ctypes.c_uint32
        return found if found.stamp() == _stamp_of_sources() and found.able() else None
    except (OSError, AttributeError):
        return None


def _stamp_of_sources() -> int:
    """The CRC-32 of the C here, as .ci/compile reckons it."""
    files = [file for kind in ("*.c", "*.h") for file in sorted(Path(__file__).parent.glob(kind))]
    return zlib.crc32(b"".join(file.read_bytes() for file in files))


LIBRARY: Final = library()


def call(function: Any, counts: Sequence[int], arrays: Sequence[npt.NDArray[Any] | None]) -> None:
    """Call a function of the library with one task: counts, then arrays, in the order of its struct in C.

    The last arrays are those it fills: they must be contiguous, the others are made so.
    """
    held = [None if one is None else np.ascontiguousarray(one) for one in arrays]
    words = [*counts, *(0 if one is None else one.ctypes.data for one in held)]
    function((ctypes.c_int64 * len(words))(*words))
