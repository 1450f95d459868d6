"""Many gardens on PostgreSQL as the hosted program looks at them: cold, quiet and with a new forecast.

    python -m tests.benchmarks.many_gardens [GARDENS] [TREES] [PROGRAMS] [kill] [july] [apart]

Starts a server of its own and PROGRAMS processes that are handed rounds by the queue. Up to 2,000 gardens lie in a cell
each, the worst case, more share those cells; a weather service on loopback is asked. Then all are called again with
nothing new ("quiet"), and 75 minutes later with the next forecast asked for. Prints seconds of a core a garden, so that
sizes can be compared; what is said of ten thousand is extrapolated. With `kill` the first program is killed amid the
cold round, and how long its cells waited is told. `july` is without any frost in sight. With `apart` (as root) each
program is in a network namespace of its own, and finds database and weather over a wire.
"""

import asyncio
import logging
import multiprocessing
import os
import resource
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from multiprocessing.connection import Connection as Pipe

import sqlalchemy as sa

from bot.hosting.fan_out import FanOut
from bot.hosting.many_gardens import Gardens
from bot.logbook import Logbook, note_person, open_logbook
from bot.logbook.database.tables import rounds, turns
from bot.settings import Garden
from bot.upkeep.memory import give_back_memory
from tests.benchmarks.wires import NETWORK, Wire, enter, wires
from tests.bot.invented_gardens import Clock, garden, setting
from tests.bot.postgres_server import running_server
from tests.bot.weather_service import WeatherService, weather_service

ANYWHERE = "0.0.0.0"  # noqa: S104 - the namespaces are this machine's own
NOON = {False: datetime(2026, 12, 2, 19, tzinfo=UTC), True: datetime(2026, 7, 2, 19, tzinfo=UTC)}


def made(gardens: int, trees: int) -> list[Garden]:
    """So many gardens, the first 2,000 each in a cell of its own."""
    return [garden(f"Garden {n}", f"Fig {n}", latitude_deg=25 + n * 0.02 % 40, trees=trees) for n in range(gardens)]


def work(url: str, address: str, gardens: int, trees: int, now: datetime, told: Pipe, wire: Wire | None) -> None:
    """One program: told the time of each pass, tells what it used whenever it is asked."""
    give_back_memory()
    if wire is not None:
        enter(wire)
    logging.disable(logging.WARNING)  # what services lack is counted, not told
    logbook, clock = open_logbook(url), Clock(now)
    settings = {one.name: setting(one, logbook, address) for one in made(gardens, trees)}
    queue = FanOut(Gardens(logbook, settings, warm=gardens), url, clock)

    async def answer(stop: asyncio.Event) -> None:
        while (asked := await asyncio.to_thread(told.recv)) is not None:
            clock.at = asked
            used = resource.getrusage(resource.RUSAGE_SELF)
            told.send((used.ru_utime + used.ru_stime, used.ru_maxrss // 1024))
        stop.set()

    async def run() -> None:
        stop = asyncio.Event()
        asking = asyncio.ensure_future(answer(stop))
        await queue.run(stop)
        await asking

    asyncio.run(run())
    logbook.close()


class Town:
    """The programs, and what is to be seen from outside."""

    def __init__(self, url: str, weather: WeatherService, gardens: int, trees: int, now: datetime) -> None:
        self.logbook: Logbook = open_logbook(url)
        self.now, self.weather, self.gardens, self.trees, self.url = now, weather, gardens, trees, url
        self.settings = {one.name: setting(one, self.logbook, weather.address) for one in made(gardens, trees)}
        self.programs: list[tuple[multiprocessing.Process, Pipe]] = []
        with self.logbook.begin() as c:
            for number, name in enumerate(self.settings):
                note_person(c, name, 1000 + number, "Rowan", "owner")

    def start(self, wire: Wire | None) -> None:
        """One program more, beside us or behind a wire."""
        here, there = multiprocessing.Pipe()
        url, weather = self.url, self.weather.address
        if wire is not None:
            url, weather = f"postgresql+psycopg://postgres@{wire.here}/many", weather.replace(ANYWHERE, wire.here)
        args = (url, weather, self.gardens, self.trees, self.now, there, wire)
        program = multiprocessing.Process(target=work, args=args)
        program.start()
        self.programs.append((program, here))

    def used(self) -> list[tuple[float, int]]:
        """Seconds of a core and megabytes of each program so far; each hears the time."""
        for _, pipe in self.programs:
            pipe.send(self.now)
        return [pipe.recv() for _, pipe in self.programs]

    def is_due(self) -> int:
        with self.logbook.begin() as c:
            return c.scalar(sa.select(sa.func.count()).where(turns.c.due_utc <= self.now)) or 0

    def pass_(self, what: str, begin: Callable[[], None], amid: Callable[[], None] = lambda: None) -> float:
        """Seconds by the clock until nothing is due any more."""
        before, asked = self.used(), len(self.weather.forecasts_asked())
        began_s = time.perf_counter()
        begin()
        amid()
        while self.is_due():
            time.sleep(0.02)
        took_s = time.perf_counter() - began_s
        cpu_s = sum(new - old for (new, _), (old, _) in zip(self.used(), before, strict=True)) / self.gardens
        print(f"{what}: {took_s:.1f} s by the clock, {cpu_s:.3f} s of a core a garden, ", end="")
        print(f"{len(self.weather.forecasts_asked()) - asked} fetches", flush=True)
        print(f"  extrapolated to 10,000 gardens: {cpu_s * 10_000 / 2 / 60:.1f} min of two whole cores, ", end="")
        print(f"{took_s / self.gardens * 10_000 / 60:.1f} min by the clock as here")
        return took_s

    def enrol(self) -> None:
        Gardens(self.logbook, self.settings).enrol(self.now)

    def call(self) -> None:
        with self.logbook.begin() as c:
            c.execute(sa.update(turns).values(due_utc=self.now))

    def kill_one(self) -> None:
        """The first program killed once a third is done; how long what it was at had to wait."""
        while self.is_due() > self.gardens * 2 / 3:
            time.sleep(0.02)
        program, _ = self.programs.pop(0)
        program.kill()
        program.join()
        with self.logbook.begin() as c:
            query = "SELECT lock FROM procrastinate_jobs WHERE status = 'doing' AND lock IN (SELECT cell FROM turns)"
            lost = set(c.exec_driver_sql(query).scalars())
        killed_s = time.perf_counter()
        while True:
            with self.logbook.begin() as c:
                waits = set(c.scalars(sa.select(turns.c.cell).where(turns.c.due_utc <= self.now)))
            if not lost & waits:
                break
            time.sleep(0.05)
        print(f"killed: the last of {len(lost)} cells under way came {time.perf_counter() - killed_s:.1f} s later")

    def end(self) -> None:
        for program, pipe in self.programs:
            pipe.send(None)
            program.join()
        self.logbook.close()


def main() -> None:
    gardens, trees, programs = [int(v) for v in sys.argv[1:4] if v.isdigit()] + [100, 6, 2][len(sys.argv) - 1 :]
    now = NOON["july" in sys.argv]
    its_clock = Clock(now)
    apart = "apart" in sys.argv
    host = ANYWHERE if apart else "127.0.0.1"
    with (
        wires(programs if apart else 0) as laid,
        running_server([one.here for one in laid], NETWORK) as server,
        weather_service(its_clock, host) as weather,
    ):
        server.run("CREATE DATABASE many")
        town = Town(server.url("many"), weather, gardens, trees, now)
        for number in range(programs):
            town.start(laid[number] if apart else None)
        town.used()  # all are up
        cells = len({one.cell for one in town.settings.values()})
        print(f"{gardens} gardens x {trees} trees, {cells} cells, {programs} programs, load {os.getloadavg()[0]:.1f}")
        if "kill" in sys.argv:
            town.enrol()
            town.kill_one()
        else:
            town.pass_("cold", town.enrol)
            town.pass_("quiet", town.call)
            town.now += timedelta(minutes=75)
            its_clock.at = town.now
            town.pass_("an hour later", town.call)
        while town.is_due():
            time.sleep(0.1)
        with town.logbook.begin() as c:
            made_of = c.execute(sa.select(sa.func.count(sa.distinct(rounds.c.garden)), sa.func.count())).one()
            size = c.exec_driver_sql("SELECT pg_database_size('many')").scalar() or 0
        print(
            f"{made_of[0]} gardens looked at, {made_of[1]} rounds noted; memory {[mb for _, mb in town.used()]} MB; ",
            end="",
        )
        print(f"database {size / gardens / 1e3:.1f} kB a garden")
        town.end()


if __name__ == "__main__":
    main()
