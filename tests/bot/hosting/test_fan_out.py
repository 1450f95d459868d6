"""The distributed engine: cells are handed out once, jobs of the dead come back, and without it all goes out too."""

import asyncio
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import pytest
import sqlalchemy as sa

from bot import logbook as lb
from bot.hosting.fan_out import FanOut, conninfo_of
from bot.hosting.many_gardens import Gardens
from bot.logbook import Logbook, open_logbook
from bot.logbook.database.tables import outbox
from bot.outbox import Claimed, Outcome, SendOutcome, deliver
from tests.bot.invented_gardens import Clock, garden, setting
from tests.bot.weather_service import Mood, weather_service

NOON = datetime(2026, 12, 2, 19, tzinfo=UTC)
ALL = [garden(f"Garden {n}", f"Fig {n}", latitude_deg=38.0 + n / 10) for n in range(4)]


@dataclass
class Town:
    logbook: Logbook
    gardens: Gardens
    engine: FanOut
    clock: Clock
    address: str


@pytest.fixture
def town(new_database: Callable[[], str]) -> Iterator[Town]:
    url, clock = new_database(), Clock(NOON)
    logbook = open_logbook(url)
    with weather_service(clock) as weather:
        weather.mood = Mood.DOWN  # so that each garden has something to say at noon: that we cannot see
        gardens = Gardens(logbook, {one.name: setting(one, logbook, weather.address) for one in ALL}, "a")
        gardens.enrol(NOON)
        with logbook.begin() as c:
            for number, one in enumerate(ALL):
                lb.note_person(c, one.name, 100 + number, "Rowan", "owner")
        yield Town(logbook, gardens, FanOut(gardens, url, "a", clock), clock, url)
    logbook.close()


def rounds_made(town: Town) -> int:
    with town.logbook.begin() as c:
        return sum(lb.last_round(c, one.name) is not None for one in ALL)


def sent(town: Town) -> list[int]:
    """Everything that is due, sent by a door; the chats in order."""
    chats: list[int] = []

    def send(claimed: Claimed) -> SendOutcome:
        chats.append(claimed.chat_id)
        return SendOutcome(outcome=Outcome.SENT, message_id=len(chats))

    deliver(town.logbook, send, town.clock, "door")
    return sorted(chats)


def jobs(town: Town, state: str) -> int:
    with town.logbook.begin() as c:
        asked = f"SELECT count(*) FROM procrastinate_jobs WHERE status = '{state}'"  # noqa: S608 - our own word
        return int(c.exec_driver_sql(asked).scalar() or 0)


def test_each_due_cell_is_handed_out_once_and_evaluated(town: Town) -> None:
    async def through_the_engine() -> tuple[int, int]:
        async with town.engine.opened():
            first, again = await town.engine.hand_out(), await town.engine.hand_out()
            await town.engine.app.run_worker_async(wait=False, install_signal_handlers=False, listen_notify=False)
            return first, again

    assert asyncio.run(through_the_engine()) == (4, 0)
    assert rounds_made(town) == 4
    assert sent(town) == [100, 101, 102, 103]


def test_with_the_engine_off_everything_still_goes_out(town: Town) -> None:
    town.gardens.tick(NOON)
    assert rounds_made(town) == 4
    assert sent(town) == [100, 101, 102, 103]


def test_with_the_engine_broken_off_half_way_the_rest_goes_out_too_and_nothing_twice(town: Town) -> None:
    async def half() -> None:
        async with town.engine.opened():
            await town.engine.hand_out()

    asyncio.run(half())
    assert town.gardens.take_turn(NOON)  # one by hand, the others by nobody: the engine is gone
    town.gardens.tick(NOON)
    assert rounds_made(town) == 4

    async def late() -> None:
        async with town.engine.opened():
            await town.engine.app.run_worker_async(wait=False, install_signal_handlers=False, listen_notify=False)

    asyncio.run(late())  # its jobs find every turn taken
    assert sent(town) == [100, 101, 102, 103]
    with town.logbook.begin() as c:
        assert c.scalar(sa.select(sa.func.count()).select_from(outbox)) == 4


def test_jobs_of_a_dead_worker_come_back_also_where_a_newer_one_waits(town: Town) -> None:
    async def story() -> int:
        async with town.engine.opened():
            await town.engine.hand_out()
            with town.logbook.begin() as c:  # what a worker that was killed leaves behind: jobs under way, no worker
                c.exec_driver_sql("UPDATE procrastinate_jobs SET status = 'doing', worker_id = NULL")
            cells = sorted(await asyncio.to_thread(town.engine._due))
            again = town.engine.app.configure_task("evaluate_cell", queue="cells", queueing_lock=cells[0])
            await again.defer_async(cell=cells[0])
            return await town.engine.sweep()

    assert asyncio.run(story()) == 4
    assert (jobs(town, "doing"), jobs(town, "todo")) == (0, 4)


def test_the_password_and_the_socket_folder_reach_the_driver() -> None:
    address = "postgresql+psycopg://a:b@h:5/d?host=/run/postgresql"
    assert conninfo_of(address) == "postgresql://a:b@h:5/d?host=/run/postgresql"


def test_turns_that_are_not_due_are_not_handed_out(town: Town) -> None:
    town.gardens.tick(NOON)
    town.clock.pass_(timedelta(minutes=1))

    async def story() -> int:
        async with town.engine.opened():
            return await town.engine.hand_out()

    assert asyncio.run(story()) == 0


def test_a_round_of_any_program_wakes_the_outbox_of_the_one_that_sends(town: Town) -> None:
    sender = FanOut(town.gardens, town.address, "b", town.clock)

    async def story() -> None:
        news, stop = asyncio.Event(), asyncio.Event()
        sender.lead(news)
        programs = [asyncio.ensure_future(one.run(stop)) for one in (town.engine, sender)]
        await asyncio.wait_for(news.wait(), 60)
        stop.set()
        await asyncio.gather(*programs)

    asyncio.run(story())
    assert rounds_made(town) > 0


def test_wake_ups_wait_once_for_a_program_that_sends_and_hurt_nobody(town: Town) -> None:
    async def story() -> None:
        async with town.engine.opened():
            await town.engine.hand_out()
            await town.engine.app.run_worker_async(
                wait=False, queues=["cells"], install_signal_handlers=False, listen_notify=False
            )

    asyncio.run(story())
    assert (rounds_made(town), jobs(town, "todo")) == (4, 1)
    assert sent(town) == [100, 101, 102, 103]
