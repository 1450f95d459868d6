"""Memory that threads have freed is at hand for all of them, by the C library's own account."""

import platform
import subprocess
import sys

import pytest

# six threads at once, each with a block too large for Python's own pools; then the library lists its arenas
THREADS = """
import ctypes, threading
from bot.upkeep.memory import give_back_memory
{first}
together = threading.Barrier(6)
def work():
    block = bytes(1000)
    together.wait()
threads = [threading.Thread(target=work) for _ in range(6)]
for thread in threads: thread.start()
for thread in threads: thread.join()
library = ctypes.CDLL(None)
library.malloc_info(0, ctypes.c_void_p.in_dll(library, "stdout"))
library.fflush(None)
"""


def arenas(first: str) -> int:
    ran = subprocess.run(
        [sys.executable, "-c", THREADS.format(first=first)], capture_output=True, check=True, text=True
    )
    return ran.stdout.count("<heap nr=")


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="only glibc has arenas")
def test_all_threads_share_one_arena() -> None:
    """glibc's manual, mallopt(3): M_ARENA_MAX is the most that are made; without it one for almost each thread."""
    assert arenas("give_back_memory()") == 1
    assert arenas("") > 1
