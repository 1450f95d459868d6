"""Spoilt updates of the Bot API through the door's own way to an answer: refused, kept, unhandled, and the slowest.

    nice python -m tests.benchmarks.mutated_updates [UPDATES] [FIRST SEED]

Each seed is so many updates in one garden, and makes them again.
"""

import logging
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from tests.bot.telegram.spoilt_updates import SpoiltUpdates

BATCH = 500


def main() -> None:
    count, first = (int(word) for word in (*sys.argv[1:], *("20000", "1")[len(sys.argv) - 1 :]))
    logging.disable(logging.CRITICAL)  # each update that fails is told there
    began_s, done, refused, kept, sent, slowest_s, slowest = time.perf_counter(), 0, 0, 0, 0, 0.0, first
    seen = Counter[str]()
    for seed in range(first, first + -(-count // BATCH)):
        with tempfile.TemporaryDirectory() as folder:
            batch = SpoiltUpdates(Path(folder), seed)
            size = min(BATCH, count - done)
            for fault in batch.run(size):
                kind = fault.partition(" on ")[0]
                seen[kind] += 1
                if seen[kind] <= 2:
                    print(f"seed {seed}: {fault[:1500]}", flush=True)
            batch.logbook.close()
        done, refused, kept, sent = done + size, refused + batch.refused, kept + batch.kept, sent + batch.sent
        if batch.slowest_s > slowest_s:
            slowest_s, slowest = batch.slowest_s, seed
    said = f"{refused} held no update, {kept} kept, {sent} messages sent, {sum(seen.values())} unhandled"
    took = f"slowest {slowest_s:.2f} s of work (seed {slowest}), {time.perf_counter() - began_s:.0f} s in all"
    print(f"{done} spoilt updates, seeds {first} to {seed}: {said}; {took}", flush=True)


if __name__ == "__main__":
    main()
