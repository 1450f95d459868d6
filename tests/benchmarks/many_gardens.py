"""Many gardens on PostgreSQL: one full round of all and memory; measured for a few, reckoned for ten thousand.

    python tests/benchmarks/many_gardens.py [GARDENS] [TREES] [WORKERS]

Starts a server of its own and WORKERS processes that share the turns. Up to 2,000 gardens lie in a cell each, the worst
case, more share those cells; a weather service on loopback is asked. Prints seconds per garden, so that sizes can be
compared.
"""

import multiprocessing
import multiprocessing.queues
import resource
import sys
import time
from datetime import UTC, datetime
from typing import TypeAlias

import sqlalchemy as sa

from bot.hosting.many_gardens import Gardens
from bot.logbook import note_person, open_logbook
from bot.logbook.database.tables import rounds
from bot.settings import Garden
from tests.bot.invented_gardens import Clock, garden, setting
from tests.bot.postgres_server import running_server
from tests.bot.weather_service import weather_service

Told: TypeAlias = "multiprocessing.queues.Queue[tuple[float, float, int]]"  # seconds by the clock, of a core, megabytes
NOON = datetime(2026, 12, 2, 19, tzinfo=UTC)


def made(gardens: int, trees: int) -> list[Garden]:
    """So many gardens, the first 2,000 each in a cell of its own."""
    return [garden(f"Garden {n}", f"Fig {n}", latitude_deg=25 + n * 0.02 % 40, trees=trees) for n in range(gardens)]


def work(
    url: str, address: str, gardens: int, trees: int, told: "multiprocessing.Queue[tuple[float, float, int]]"
) -> None:
    """One program: a round of all gardens, shared with the others."""
    logbook = open_logbook(url)
    settings = {one.name: setting(one, logbook, address) for one in made(gardens, trees)}
    many = Gardens(logbook, settings, f"w{time.monotonic_ns()}", warm=gardens)
    began = time.perf_counter()
    while many.take_turn(NOON):
        pass
    used = resource.getrusage(resource.RUSAGE_SELF)
    told.put((time.perf_counter() - began, used.ru_utime + used.ru_stime, used.ru_maxrss // 1024))
    logbook.close()


def main() -> None:
    gardens, trees, workers = [int(v) for v in sys.argv[1:4]] + [100, 6, 2][len(sys.argv) - 1 :]
    with running_server() as server, weather_service(Clock(NOON)) as weather:
        server.run("CREATE DATABASE many")
        url = server.url("many")
        logbook = open_logbook(url)
        settings = {one.name: setting(one, logbook, weather.address) for one in made(gardens, trees)}
        Gardens(logbook, settings, "boss").enrol(NOON)
        with logbook.begin() as c:
            for number, name in enumerate(settings):
                note_person(c, name, 1000 + number, "Rowan", "owner")
        told: Told = multiprocessing.Queue()
        args = (url, weather.address, gardens, trees, told)
        programs = [multiprocessing.Process(target=work, args=args) for _ in range(workers)]
        for program in programs:
            program.start()
        ends = [told.get() for _ in programs]
        for program in programs:
            program.join()
        took = max(seconds for seconds, *_ in ends)
        with logbook.begin() as c:
            looked = c.scalar(sa.select(sa.func.count(sa.distinct(rounds.c.garden))))
            size = c.exec_driver_sql("SELECT pg_database_size('many')").scalar() or 0
        cells, asked = len({one.cell for one in settings.values()}), len(weather.forecasts_asked())
        cpu_s = sum(cpu for _, cpu, _ in ends) / gardens
        print(f"{gardens} gardens x {trees} trees, {cells} cells, {workers} programs: {looked} looked at")
        print(f"{asked} fetches; full round {took:.1f} s by the clock; {cpu_s:.3f} s of a core a garden")
        print(f"reckoned for 10,000 gardens on two idle cores: {cpu_s * 10_000 / 2 / 60:.0f} min")
        memory = [megabytes for *_, megabytes in ends]
        print(f"memory of each program {memory} MB; database {size / gardens / 1e3:.1f} kB a garden")
        logbook.close()


if __name__ == "__main__":
    main()
