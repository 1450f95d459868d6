"""Spoilt garden files and answers of weather services: how many were read, refused, unhandled, and the slowest.

    nice python -m tests.benchmarks.mutated_files [GARDENS] [ANSWERS] [FIRST SEED]

Each is told by its seed, which makes it again.
"""

import sys
import tempfile
import time
import traceback
from collections.abc import Callable
from functools import partial
from pathlib import Path

from tests.bot.forecasts.test_forecasts_spoilt_by_seed import read_spoilt_answer
from tests.bot.settings.test_settings_spoilt_by_seed import read_spoilt_garden


def run(what: str, read: Callable[[int], bool], seeds: range) -> None:
    """One line of figures; every seed that was not handled is told with its traceback."""
    good = refused = unhandled = 0
    slowest_s, slowest = 0.0, seeds.start
    for seed in seeds:
        began_s = time.process_time()
        try:
            is_good = read(seed)
        except Exception:  # noqa: BLE001 - counted and shown
            unhandled += 1
            print(f"{what}, seed {seed}:\n{traceback.format_exc()}", flush=True)
            continue
        took_s = time.process_time() - began_s
        if took_s > slowest_s:
            slowest_s, slowest = took_s, seed
        good, refused = good + is_good, refused + (not is_good)
    said = f"{good} read, {refused} refused, {unhandled} unhandled; slowest {slowest_s:.2f} s of work (seed {slowest})"
    print(f"{len(seeds)} {what}: {said}", flush=True)


def main() -> None:
    gardens, answers, first = (int(word) for word in (*sys.argv[1:], *("5000", "3000", "1000")[len(sys.argv) - 1 :]))
    with tempfile.TemporaryDirectory() as name:
        for part in ("forecasts", "past"):
            (Path(name) / part).mkdir()
        run("garden files", partial(read_spoilt_garden, Path(name) / "garden.toml"), range(first, first + gardens))
    run("answers", read_spoilt_answer, range(first, first + answers))


if __name__ == "__main__":
    main()
