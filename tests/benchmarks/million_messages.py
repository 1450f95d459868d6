"""Arbitrary messages through the whole reply path: raw update, inbox, reading, answer, records, outbox, sent.

    nice python -m tests.benchmarks.million_messages [COUNT] [SEED]

A batch has its own copy of the demo garden, which the chat may change, and its own logbook in a folder of RAM where
there is one. The clock moves on between messages, so that the flood guard lets nearly all of them through. Of what
takes a second to answer (pictures, covers that might be) one in ten is asked. A fault is whatever escapes the reply
path, and every update of a sound shape that ends as failed in the inbox.
"""

import shutil
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from tests.bot.answers.message_batch import Batch

BATCH = 800
RAM = Path("/dev/shm")  # noqa: S108 - the benchmark's own folder below it


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    began, heard, sent, seen = time.perf_counter(), 0, 0, Counter[str]()
    for seed in range(first, first + -(-count // BATCH)):
        folder = Path(tempfile.mkdtemp(prefix="messages-", dir=RAM if RAM.is_dir() else None))
        try:
            batch = Batch(folder, seed)
            size = min(BATCH, count - heard)
            for fault in batch.run(size):
                seen[fault.partition(" on ")[0]] += 1
                if seen[fault.partition(" on ")[0]] <= 3:
                    print(f"seed {seed}: {fault[:1500]}", flush=True)
            batch.logbook.close()
            heard, sent = heard + size, sent + batch.sent
        finally:
            shutil.rmtree(folder)
        took = time.perf_counter() - began
        if (seed - first) % 5 == 0 or heard >= count:
            tally = f"seeds {first} to {seed}: {heard} messages, {sent} sent, faults {sum(seen.values())}"
            print(f"{tally}, {took:.0f} s, {1000 * took / heard:.1f} ms a message", flush=True)


if __name__ == "__main__":
    main()
