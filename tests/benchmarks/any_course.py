"""Many courses of events on both databases: how many, how long, and whether an invariant was ever broken.

    nice python -m tests.benchmarks.any_course [EXAMPLES] [STEPS]

The machine of tests/bot/rounds/test_any_course_of_events.py, let run longer than a suite of tests can.
"""

import sys
import time
from itertools import count

from hypothesis import HealthCheck, settings
from hypothesis.stateful import run_state_machine_as_test

from bot.logbook import open_logbook
from tests.bot.postgres_server import running_server
from tests.bot.rounds.test_any_course_of_events import AnyCourse


def main() -> None:
    examples = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    steps = int(sys.argv[2]) if len(sys.argv) > 2 else 30
    quiet = list(HealthCheck)
    how = settings(
        max_examples=examples, stateful_step_count=steps, deadline=None, suppress_health_check=quiet, database=None
    )
    numbers = count(1)
    with running_server() as server:
        server.run("CREATE DATABASE migrated")
        open_logbook(server.url("migrated")).close()

        def new() -> str:
            name = f"course_{next(numbers)}"
            server.run(f"CREATE DATABASE {name} TEMPLATE migrated")
            return server.url(name)

        for database, place in (("sqlite", lambda: ""), ("postgresql", new)):
            began = time.perf_counter()
            machine = type(f"On_{database}", (AnyCourse,), {"place": staticmethod(place)})
            run_state_machine_as_test(machine, settings=how)
            took = time.perf_counter() - began
            print(f"{database}: {examples} courses of up to {steps} events, none broken, {took:.0f} s", flush=True)


if __name__ == "__main__":
    main()
