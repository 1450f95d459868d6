"""What every test stands on: none reads what the caller's shell happens to say."""

import gc
import os

import pytest
from hypothesis import settings

# what failed here fails for everybody, and the reverse; scripts in tests/benchmarks prove with many examples
settings.register_profile("few, and the same every time", deadline=None, max_examples=25, derandomize=True)
settings.load_profile("few, and the same every time")

# all that the program reads of its environment but TERM; and programs that tests start are not compiled at each start
OURS = ("BEDSTRAW_", "NOTIFY_SOCKET", "NO_COLOR", "PYTHONDONTWRITEBYTECODE")


def pytest_configure(config: pytest.Config) -> None:
    """Clear the environment before any test is gathered, so that the programs tests start inherit nothing either."""
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as bot has it; the workers share the cores already
    for name in [name for name in os.environ if name.upper().startswith(OURS)]:
        del os.environ[name]
    gc.disable()  # what is imported and gathered stays: looking through it for garbage took a third of the gathering


def pytest_xdist_auto_num_workers() -> int:
    """One worker more than there are cores: the tests of the Telegram door wait for a wire most of their time."""
    return (os.cpu_count() or 1) + 1


def pytest_collection_finish() -> None:
    """What was imported and gathered stays to the end: looking through it for garbage took a fourteenth of the time."""
    gc.collect()
    gc.freeze()
    gc.enable()
    gc.set_threshold(100_000, 20, 20)
