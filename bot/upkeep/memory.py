"""Memory of a round given back when it is over, where the C library would keep it for the next."""

import ctypes
from typing import Final

# glibc, malloc.h: what is to be set
ARENA_MAX: Final = -8
MMAP_THRESHOLD: Final = -3
# Without them a thread keeps what another has freed, and a program of eight trees takes 200 MB instead of 155.
ARENAS: Final = 1
LARGE_BYTES: Final = 2**18  # what is larger goes back at once; assumed


def give_back_memory() -> None:
    """Have one arena for all threads, and large arrays outside it; nothing where the C library is not glibc."""
    library = ctypes.CDLL(None)
    if hasattr(library, "mallopt") and hasattr(library, "gnu_get_libc_version"):
        library.mallopt(ARENA_MAX, ARENAS)
        library.mallopt(MMAP_THRESHOLD, LARGE_BYTES)
