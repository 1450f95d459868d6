"""kill -9 again and again on both databases: how many replies and nudges were lost, or came twice unmarked.

python tests/benchmarks/thousand_kills.py [KILLS]
"""

import random
import sys
import tempfile
import time
from pathlib import Path

from bot.logbook import open_logbook
from tests.bot.crash.test_crash import Messenger, crash_often, faults
from tests.bot.postgres_server import running_server

AT_A_TIME = 50


def main() -> None:
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    with running_server() as server, tempfile.TemporaryDirectory() as folder:
        for database in ("sqlite", "postgresql"):
            killed = typed = wrong = 0
            began = time.perf_counter()
            for batch in range(-(-kills // AT_A_TIME)):
                name = f"batch_{batch}"
                if database == "postgresql":
                    server.run(f"CREATE DATABASE {name}")
                place = server.url(name) if database == "postgresql" else Path(folder) / name
                open_logbook(place).close()
                messenger = Messenger(chance=random.Random(batch))
                ends = crash_often(place, messenger, "durable", kills=min(AT_A_TIME, kills - killed), seed=batch)
                found = faults(place, messenger)
                killed += len(ends) - 1
                typed += messenger.typed
                wrong += len(found)
                for fault in found:
                    print(database, fault, flush=True)
            took = time.perf_counter() - began
            answered = f"{killed} kills, {typed} messages answered, {40 * (batch + 1)} nudges"
            print(f"{database}: {answered}; lost or doubled unmarked: {wrong}", flush=True)
            print(f"{database}: {took / killed:.2f} s a kill and recovery", flush=True)


if __name__ == "__main__":
    main()
