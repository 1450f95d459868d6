"""Deaths at every write and every send, by seed, on both databases: answers lost, told late, doubled.

    nice python -m tests.benchmarks.every_write [KILLS] [FIRST_SEED] [DATABASE ...]

Seeds follow each other until there were so many deaths; each can be run again alone, and dies the same deaths.
"""

import sys
import tempfile
import time
from itertools import count
from pathlib import Path

from tests.bot.crash.every_write import Found, course
from tests.bot.postgres_server import running_server


def main() -> None:
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    databases = sys.argv[3:] or ["sqlite", "postgresql"]
    with running_server() as server:
        for database in databases:
            began, all_found = time.perf_counter(), list[Found]()
            for seed in count(first):
                with tempfile.TemporaryDirectory() as folder:
                    place: Path | str = Path(folder) / "larkmoor.logbook"
                    if database == "postgresql":
                        server.run(f"CREATE DATABASE seed_{seed}")
                        place = server.url(f"seed_{seed}")
                    found = course(place, Path(folder), seed)
                all_found.append(found)
                for sentence in found.wrong:
                    print(f"{database}, seed {seed}: {sentence}", flush=True)
                if sum(one.kills for one in all_found) >= kills:
                    break
            print(f"{database}, seeds {first} to {seed}: {summary(all_found, time.perf_counter() - began)}", flush=True)


def summary(all_found: list[Found], took_s: float) -> str:
    kills, said, late, wrong = (
        sum(one) for one in zip(*((f.kills, f.said, f.told_late, len(f.wrong)) for f in all_found), strict=True)
    )
    return (
        f"{kills} deaths, {said} messages said; told late {late}; lost, doubled or never heard {wrong}; "
        f"{took_s / kills:.2f} s a death and recovery"
    )


if __name__ == "__main__":
    main()
