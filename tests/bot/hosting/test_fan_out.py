"""Rounds handed out by a queue: each cell once however many programs, what the dead left comes back, and soon."""

import asyncio
import multiprocessing
from collections import Counter
from collections.abc import Awaitable, Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import pytest
import sqlalchemy as sa
from procrastinate.jobs import Status

from bot import logbook as lb
from bot.hosting import fan_out as queue_room
from bot.hosting.fan_out import FanOut, conninfo_of
from bot.hosting.many_gardens import Gardens
from bot.logbook import Logbook, open_logbook
from bot.logbook.database.tables import outbox, rounds
from bot.logbook.programs.turns import HEAD_START, ask_for_round
from bot.outbox import Claimed, Outcome, SendOutcome, deliver
from bot.telegram_chat.waiting import in_daemon_thread
from tests.bot.hostile_weather import Malice, hostile_weather
from tests.bot.invented_gardens import Clock, garden, setting
from tests.bot.telegram.open_door import wait_for
from tests.bot.weather_service import Mood, WeatherService, weather_service

NOON = datetime(2026, 12, 2, 19, tzinfo=UTC)
ALL = [garden(f"Garden {n}", f"Fig {n}", latitude_deg=38.0 + n / 10) for n in range(4)]
EACH_ONCE = {one.name: 1 for one in ALL}
WITHIN_S = 120.0  # a round takes a second or so


@dataclass
class Town:
    logbook: Logbook
    gardens: Gardens
    queue: FanOut
    clock: Clock
    address: str
    weather: WeatherService

    def another(self) -> FanOut:
        """The queue of another program."""
        settings = {one.name: setting(one, self.logbook, self.weather.address) for one in ALL}
        return FanOut(Gardens(self.logbook, settings), self.address, self.clock)

    def rounds_of(self) -> dict[str, int]:
        with self.logbook.begin() as c:
            counted = c.execute(sa.select(rounds.c.garden, sa.func.count().label("made")).group_by(rounds.c.garden))
            return {row.garden: row.made for row in counted}

    def jobs(self) -> dict[str, int]:
        with self.logbook.begin() as c:
            return dict(Counter(c.exec_driver_sql("SELECT status::text FROM procrastinate_jobs").scalars()))

    def call(self) -> None:
        with self.logbook.begin() as c:
            for one in ALL:
                ask_for_round(c, one.name, self.clock())

    def said(self, statement: str) -> None:
        with self.logbook.begin() as c:
            c.exec_driver_sql(statement)


@pytest.fixture
def town(new_database: Callable[[], str]) -> Iterator[Town]:
    url, clock = new_database(), Clock(NOON)
    logbook = open_logbook(url)
    with weather_service(clock) as weather:
        weather.mood = Mood.DOWN  # so that each garden has something to say at noon: that we cannot see
        gardens = Gardens(logbook, {one.name: setting(one, logbook, weather.address) for one in ALL})
        gardens.enrol(NOON)
        with logbook.begin() as c:
            for number, one in enumerate(ALL):
                lb.note_person(c, one.name, 100 + number, "Rowan", "owner")
        yield Town(logbook, gardens, FanOut(gardens, url, clock), clock, url, weather)
    logbook.close()


def sent(town: Town) -> list[int]:
    """Everything that is due, sent by a door; the chats in order."""
    chats: list[int] = []

    def send(claimed: Claimed) -> SendOutcome:
        chats.append(claimed.chat_id)
        return SendOutcome(outcome=Outcome.SENT, message_id=len(chats))

    deliver(town.logbook, send, town.clock, "door")
    return sorted(chats)


def in_queue(queue: FanOut, story: Callable[[], Awaitable[object]]) -> object:
    """What a story tells that is lived while the queue is open."""

    async def lived() -> object:
        async with queue.opened():
            return await story()

    return asyncio.run(lived())


async def until(is_so: Callable[[], bool], what: str) -> None:
    for _ in range(int(WITHIN_S / 0.05)):
        if await asyncio.to_thread(is_so):
            return
        await asyncio.sleep(0.05)  # room for the programs to work
    raise AssertionError(f"waited in vain for {what}")


def test_each_due_cell_is_handed_out_once_and_evaluated(town: Town) -> None:
    async def story() -> tuple[int, int]:
        handed = await town.queue.hand_out(), await town.queue.hand_out()
        await town.queue.work(wait=False)
        return handed

    assert in_queue(town.queue, story) == (4, 0)
    assert town.rounds_of() == EACH_ONCE
    assert sent(town) == [100, 101, 102, 103]
    assert town.jobs() == {}


def test_two_programs_at_once_make_each_round_once_and_ask_for_the_weather_of_each_cell_once(town: Town) -> None:
    town.weather.mood = Mood.WELL
    other = town.another()

    async def story() -> None:
        stop = asyncio.Event()
        programs = [asyncio.ensure_future(one.run(stop)) for one in (town.queue, other)]
        await until(lambda: town.rounds_of().keys() == EACH_ONCE.keys() and not town.jobs(), "a round of all")
        stop.set()
        await asyncio.gather(*programs)

    in_queue(town.queue, lambda: asyncio.sleep(0))  # its tables, for the first look
    asyncio.run(story())
    assert town.rounds_of() == EACH_ONCE
    assert len(town.weather.forecasts_asked()) == len(ALL)


def test_without_the_queue_everything_still_goes_out(town: Town) -> None:
    town.gardens.tick(NOON)
    assert town.rounds_of() == EACH_ONCE
    assert sent(town) == [100, 101, 102, 103]


def test_a_queue_broken_off_half_way_and_begun_again_makes_nothing_twice(town: Town) -> None:
    in_queue(town.queue, town.queue.hand_out)
    town.gardens.tick(NOON)  # by itself, the queue being gone
    assert town.rounds_of() == EACH_ONCE
    in_queue(town.queue, lambda: town.queue.work(wait=False))  # its jobs find nothing due
    assert town.rounds_of() == EACH_ONCE
    assert sent(town) == [100, 101, 102, 103]
    with town.logbook.begin() as c:
        assert c.scalar(sa.select(sa.func.count()).select_from(outbox)) == 4


def evaluate_until_killed(url: str, weather: str) -> None:
    """A program whose rounds wait for a service that never ends its answer."""
    logbook = open_logbook(url)
    settings = {one.name: setting(one, logbook, weather, longest_s=300.0, retries=0) for one in ALL}
    asyncio.run(FanOut(Gardens(logbook, settings), url, Clock(NOON)).run(asyncio.Event()))


def test_the_rounds_of_a_killed_worker_are_taken_up_by_another_and_none_is_made_twice(town: Town) -> None:
    in_queue(town.queue, lambda: asyncio.sleep(0))
    with hostile_weather(Malice.DRIPPING_BODY) as hostile:
        fated = multiprocessing.Process(target=evaluate_until_killed, args=(town.address, hostile.address))
        fated.start()
        try:
            asyncio.run(until(lambda: town.jobs() == {"doing": 4}, "all rounds under way"))
        finally:
            fated.kill()
            fated.join()
    assert town.rounds_of() == {}

    async def story() -> tuple[object, ...]:
        handed, alive = await town.queue.hand_out(), await town.queue.sweep()
        assert queue_room.STALLED_AFTER_S < 16
        later = "UPDATE procrastinate_workers SET last_heartbeat = last_heartbeat - interval '16 s'"
        await asyncio.to_thread(town.said, later)
        swept = await town.queue.sweep()
        await town.queue.work(wait=False)
        return handed, alive, swept

    assert in_queue(town.queue, story) == (0, 0, 4)  # under way until it is known to be dead
    assert town.rounds_of() == EACH_ONCE
    assert sent(town) == [100, 101, 102, 103]


def test_a_killed_worker_is_known_to_be_dead_and_its_rounds_are_begun_within_half_a_minute() -> None:
    latest_s = queue_room.STALLED_AFTER_S + queue_room.SWEEP_EVERY_S + queue_room.LOOK_EVERY_S
    assert latest_s <= 30.0


def test_what_the_dead_left_comes_back_also_where_a_newer_job_of_the_cell_waits(town: Town) -> None:
    async def story() -> object:
        await town.queue.hand_out()
        await asyncio.to_thread(town.said, "UPDATE procrastinate_jobs SET status = 'doing', worker_id = NULL")
        cell = str((await town.queue._jobs(Status.DOING))[0].lock)
        newer = town.queue.app.configure_task("evaluate_cell", queue="cells", lock=cell, queueing_lock=cell)
        await newer.defer_async(cell=cell)
        return await town.queue.sweep()

    assert in_queue(town.queue, story) == 4
    assert town.jobs() == {"todo": 4}


def test_a_job_of_ours_whose_end_could_not_be_noted_does_not_hold_up_its_cell(town: Town) -> None:
    async def story() -> tuple[int, int]:
        await town.queue.hand_out()
        town.queue._worker = await town.queue.app.job_manager.register_worker()  # alive, and at none of them
        doing = (
            "UPDATE procrastinate_jobs SET status = 'doing', worker_id = (SELECT max(id) FROM procrastinate_workers)"
        )
        await asyncio.to_thread(town.said, doing)
        return await town.queue.sweep(), await town.queue.sweep()

    assert in_queue(town.queue, story) == (0, 4)  # only what is so for a while
    assert town.jobs() == {"todo": 4}


def test_a_service_that_drips_for_one_cell_keeps_no_other_waiting_and_the_round_is_seen_to_hang(town: Town) -> None:
    dripped, queue = ALL[0].name, FanOut(town.gardens, town.address, town.clock, in_daemon_thread)

    async def story() -> None:
        await queue.hand_out()
        working = asyncio.ensure_future(queue.work(wait=False))
        await until(lambda: len(town.rounds_of()) == len(ALL) - 1, "the rounds of the others")
        assert dripped not in town.rounds_of()
        assert town.gardens.slowest_turn_s > 0.0  # it is still waiting, for two minutes if it must
        working.cancel()
        await asyncio.gather(working, return_exceptions=True)

    with hostile_weather(Malice.DRIPPING_BODY) as hostile:
        settings = {one.name: setting(one, town.logbook, town.weather.address) for one in ALL}
        settings[dripped] = setting(ALL[0], town.logbook, hostile.address, longest_s=120.0, retries=0)
        town.gardens.change(settings, NOON)
        in_queue(queue, story)
    wait_for(lambda: town.gardens.slowest_turn_s == 0.0, "the slow turn to end")


def in_another(town: Town, work: Callable[[FanOut], Awaitable[object]]) -> object:
    other = town.another()
    return in_queue(other, lambda: work(other))


def test_each_program_has_the_next_round_of_the_gardens_it_looked_at(town: Town) -> None:
    in_queue(town.queue, lambda: handed_out_and_evaluated(town.queue))
    town.call()
    assert in_another(town, FanOut.hand_out) == 0
    assert in_queue(town.queue, town.queue.hand_out) == 4
    in_another(town, lambda other: other.work(wait=False))
    assert town.jobs() == {"todo": 4}  # they wait for the one that has the outlooks
    in_queue(town.queue, lambda: town.queue.work(wait=False))
    assert town.jobs() == {}


def test_what_waits_for_a_dead_program_is_handed_to_another_within_half_a_minute(town: Town) -> None:
    in_queue(town.queue, lambda: handed_out_and_evaluated(town.queue))
    town.call()
    in_queue(town.queue, town.queue.hand_out)  # and dies

    async def taken_over(other: FanOut) -> list[int]:
        put = []
        for _ in range(queue_room.LEFT_AFTER_SWEEPS):
            await other.sweep()
            put.append(await other.hand_out())
            town.clock.pass_(timedelta(seconds=queue_room.SWEEP_EVERY_S))
        await other.sweep()
        put.append(await other.hand_out())
        await other.work(wait=False)
        return put

    assert in_another(town, taken_over) == [0, 0, 0, 4]
    assert town.jobs() == {}
    assert queue_room.LEFT_AFTER_SWEEPS * queue_room.SWEEP_EVERY_S + HEAD_START.total_seconds() <= 30.0


async def handed_out_and_evaluated(queue: FanOut) -> None:
    await queue.hand_out()
    await queue.work(wait=False)


def test_turns_that_are_not_due_are_not_handed_out(town: Town) -> None:
    town.gardens.tick(NOON)
    town.clock.pass_(timedelta(minutes=1))
    assert in_queue(town.queue, town.queue.hand_out) == 0


def test_the_password_and_the_socket_folder_reach_the_driver() -> None:
    address = "postgresql+psycopg://a:b@h:5/d?host=/run/postgresql"
    assert conninfo_of(address) == "postgresql://a:b@h:5/d?host=/run/postgresql"
