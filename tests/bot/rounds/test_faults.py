"""What the world does to one garden's bot: services that fail or lie, clocks that jump, databases that go and come."""

import json
import os
import signal
import sqlite3
import stat
import zlib
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
import sqlalchemy as sa

from bot import logbook as lb
from bot.hosting.one_garden import Watch
from bot.inbox import RawUpdate, store
from bot.logbook import Logbook, LogbookError, open_logbook
from bot.logbook.database.tables import forecasts, outbox, rounds, turns
from bot.messages import Incoming, IncomingKind
from bot.rounds import Setting
from rules.garden.cover import CoverState
from rules.garden.records import Deed, DeedKind
from tests.bot.invented_gardens import Clock, garden, said, setting
from tests.bot.postgres_server import Server, running_server
from tests.bot.weather_service import Mood, WeatherService, weather_service

NAME, CHAT = "Larkmoor", 11
MORNING = datetime(2026, 12, 2, 16, tzinfo=UTC)  # 09:00 in the garden
HOUR = timedelta(hours=1)
BLIND = "I cannot see the weather"


@dataclass
class Life:
    """One garden, its bot, its services and its clock."""

    logbook: Logbook
    clock: Clock
    weather: WeatherService
    setting: Setting
    watch: Watch = field(init=False)

    def __post_init__(self) -> None:
        self.watch = Watch(self.setting)

    def passes(self, hours: float, every: timedelta = HOUR) -> None:
        """Time, in which the bot looks every so often."""
        end = self.clock() + timedelta(hours=hours)
        while self.clock() < end:
            self.watch.tick(self.clock())
            self.clock.pass_(every)

    def texts(self, since: datetime = MORNING) -> list[tuple[datetime, str]]:
        with self.logbook.begin() as c:
            asked = sa.select(outbox.c.due_utc, outbox.c.text).where(
                outbox.c.chat_id == CHAT, outbox.c.due_utc >= since
            )
            return [(row.due_utc, row.text) for row in c.execute(asked.order_by(outbox.c.id))]

    def asked_to_close(self) -> list[datetime]:
        return [at for at, text in self.texts() if "lose" in text and "cage" not in text]


@contextmanager
def life(place: Path | str, *, low_c: float = -12.0, zone: str = "America/Denver", at: datetime = MORNING,
         transport: dict[str, Any] | None = None) -> Iterator[Life]:  # fmt: skip
    clock = Clock(at)
    logbook = open_logbook(place)
    with weather_service(clock) as weather:
        weather.low_c = low_c
        one = setting(garden(NAME, "Porch fig", zone=zone), logbook, weather.address, **(transport or {}))
        with logbook.begin() as c:
            lb.note_person(c, NAME, CHAT, "Rowan", "owner")
            source = lb.Source(garden=NAME, person="Rowan", update_id=None, noted_utc=at)
            c_open = Deed(tree="Porch fig", kind=DeedKind.WRAPPED, state=CoverState.VENTED, at_utc=at - HOUR)
            lb.note_entry(c, source, c_open)
        yield Life(logbook, clock, weather, one)
    logbook.close()


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "larkmoor.logbook"


def rounds_since(one: Life, since: datetime) -> int:
    with one.logbook.begin() as c:
        return c.scalar(sa.select(sa.func.count()).select_from(rounds).where(rounds.c.at_utc >= since)) or 0


# weather services


def test_services_down_for_three_days_are_said_each_afternoon_and_recover_by_themselves(file: Path) -> None:
    with life(file) as one:
        one.passes(2)
        one.weather.mood = Mood.DOWN
        went_down = one.clock()
        one.passes(72, every=3 * HOUR)
        zone = ZoneInfo("America/Denver")
        blind = [at.astimezone(zone) for at, text in one.texts(went_down) if text.startswith(BLIND)]
        assert len({at.date() for at in blind}) >= 2  # the forecast reaches a day; after that we say that we are blind
        assert all(time(12) <= at.time() < time(21) for at in blind)
        one.weather.mood = Mood.WELL
        back = one.clock()
        one.passes(2)
        with one.logbook.begin() as c:
            kept = lb.latest_forecast(c, one.setting.weather_of)
        assert kept is not None
        assert kept.fetched_utc >= back  # within ten minutes to an hour, without a restart
        assert rounds_since(one, back) >= 1


@pytest.mark.parametrize("mood", [Mood.GARBAGE, Mood.TORN, Mood.STALE, Mood.ELSEWHERE, Mood.DOWN])
def test_a_service_that_lies_is_not_believed_and_the_last_good_word_stands(file: Path, mood: Mood) -> None:
    with life(file) as one:
        one.passes(1)
        with one.logbook.begin() as c:
            good = lb.latest_forecast(c, one.setting.weather_of)
        one.weather.mood = mood
        one.weather.low_c = 9.0  # what the lie would have us believe
        one.passes(5)
        with one.logbook.begin() as c:
            kept = lb.latest_forecast(c, one.setting.weather_of)
            asked = json.loads(lb.read_state(c, one.setting.weather_of, "asked") or "{}")
        assert good is not None
        assert kept is not None
        assert kept.forecast_id == good.forecast_id
        assert asked["tried"]  # and why is on record, for the doctor


def test_a_silent_service_costs_its_time_out_and_no_transaction_waits_for_it(file: Path) -> None:
    with life(file, transport={"timeout_s": 0.3, "retries": 0}) as one:
        one.weather.mood = Mood.SILENT
        one.watch.tick(one.clock())
        with one.logbook.begin() as c:
            asked = json.loads(lb.read_state(c, one.setting.weather_of, "asked") or "{}")
        assert "was silent for 0.3 s" in str(asked["tried"])


# clocks


def test_a_clock_set_a_day_ahead_and_back_stops_nothing(file: Path) -> None:
    with life(file) as one:
        one.passes(3)
        for jump in (timedelta(days=1), timedelta(days=-1), timedelta(days=-1), timedelta(days=2)):
            one.clock.pass_(jump)
            before = one.clock()
            asked = len(one.weather.forecasts_asked())
            one.passes(1)
            assert len(one.weather.forecasts_asked()) > asked, f"no look at the weather after {jump}"
            assert rounds_since(one, before) >= 1
        with one.logbook.begin() as c:
            keys = list(c.scalars(sa.select(outbox.c.key)))
        assert len(keys) == len(set(keys))


def test_a_machine_that_slept_fourteen_hours_asks_again_and_says_nothing_out_of_date(file: Path) -> None:
    with life(file) as one:
        one.passes(1)
        one.clock.pass_(timedelta(hours=14))  # from 10:00 to midnight
        woke = one.clock()
        asked = len(one.weather.forecasts_asked())
        one.passes(0.5, every=timedelta(minutes=10))
        assert len(one.weather.forecasts_asked()) > asked
        assert one.texts(woke) == []  # it is the middle of the night: too late to act, and nobody is woken
        one.passes(10, every=2 * HOUR)
        assert one.texts(woke)


CHANGES = [  # forth in the small hours, and back at midnight itself
    ("Europe/Berlin", 2026, 3, 29),
    ("America/Santiago", 2026, 4, 4),
]


@pytest.mark.parametrize(("zone", "year", "month", "day"), CHANGES)
def test_where_the_clock_changes_no_round_is_missed_and_nobody_is_woken(
    file: Path, zone: str, year: int, month: int, day: int
) -> None:
    start = datetime(year, month, day, 15, tzinfo=ZoneInfo(zone)).astimezone(UTC) - timedelta(days=1)
    with life(file, zone=zone, at=start) as one:
        one.passes(21, every=timedelta(hours=3))  # from the afternoon before to the noon after
        assert len(one.weather.forecasts_asked()) == 7  # at each of the looks
        for at, _ in one.texts(start):
            assert time(7) <= at.astimezone(ZoneInfo(zone)).time() < time(21)
        with one.logbook.begin() as c:
            keys = list(c.scalars(sa.select(outbox.c.key)))
        assert len(keys) == len(set(keys))


# databases


def answered(one: Life, number: int, text: str) -> None:
    incoming = said(number, CHAT, text, one.clock())
    with one.logbook.begin() as c:
        store(c, [RawUpdate(number, text, one.clock(), CHAT)])

    def read(_: str) -> Incoming:
        assert incoming.kind is IncomingKind.TEXT
        return incoming

    one.watch.take_pending(read, one.clock)


def destroyed(file: Path) -> None:
    """The file gone, with what lies beside it."""
    for left in file.parent.glob("larkmoor.logbook*"):
        left.unlink()


def deeds(one: Life) -> list[DeedKind]:
    with one.logbook.begin() as c:
        return [deed.kind for deed in lb.read_records(c, NAME).deeds]


def test_a_logbook_restored_from_backup_has_all_up_to_the_backup_and_the_bot_goes_on(
    file: Path, tmp_path: Path
) -> None:
    with life(file) as one:
        one.passes(1)
        answered(one, 1, "closed porch")
        one.logbook.backup(tmp_path / "copy.logbook")
        one.logbook.close()
    destroyed(file)
    (tmp_path / "copy.logbook").rename(file)
    with life(file) as again:
        assert DeedKind.CLOSED in deeds(again)
        with again.logbook.begin() as c:
            assert len(lb.list_people(c, NAME)) == 1
        answered(again, 2, "why")
        again.passes(1)
        assert again.texts()


def test_a_logbook_taken_away_from_under_the_bot_is_noticed_and_its_backup_is_read_without_a_restart(
    file: Path, tmp_path: Path
) -> None:
    with life(file) as one:
        one.passes(1)
        answered(one, 1, "closed porch")
        one.logbook.backup(tmp_path / "copy.logbook")
        answered(one, 2, "vented porch")
        destroyed(file)  # an open file would take whatever is written, and show it to nobody
        with pytest.raises(LogbookError, match="is gone: put the newest backup in its place"):
            answered(one, 3, "why")
        assert not file.exists()
        (tmp_path / "copy.logbook").rename(file)
        answered(one, 3, "why")
        one.passes(1)
        assert DeedKind.CLOSED in deeds(one)
        with one.logbook.begin() as c:
            assert {"reply:1:0", "reply:3:0"} <= set(c.scalars(sa.select(outbox.c.key)))
    assert stat.S_IMODE(file.stat().st_mode) == 0o600


def test_a_backup_from_before_an_upgrade_is_brought_up_to_date_where_it_is_put_in(file: Path, tmp_path: Path) -> None:
    with life(file) as one:
        one.logbook.backup(tmp_path / "copy.logbook")
        with closing(sqlite3.connect(tmp_path / "copy.logbook")) as old, old:
            old.execute("DROP TABLE turns")
            old.execute("DELETE FROM logbook_steps WHERE name LIKE '%turns%'")
        destroyed(file)
        (tmp_path / "copy.logbook").rename(file)
        with one.logbook.begin() as c:
            assert c.scalar(sa.select(sa.func.count()).select_from(turns)) == 0


def test_a_backup_killed_half_way_leaves_the_one_before_and_does_not_hinder_the_next(
    file: Path, tmp_path: Path
) -> None:
    copy = tmp_path / "copy.logbook"
    with life(file) as one:
        one.logbook.backup(copy)
        before = copy.read_bytes()
        copy.with_name("copy.logbook.part").write_bytes(before[:5000])  # what a killed one leaves
        assert copy.read_bytes() == before
        answered(one, 1, "closed porch")
        one.logbook.backup(copy)
    with closing(open_logbook(copy)) as again, again.begin() as c:
        assert DeedKind.CLOSED in [deed.kind for deed in lb.read_records(c, NAME).deeds]


@pytest.mark.parametrize("body", [b"{}", b'{"start_utc": 7}', b"torn"])
def test_a_kept_forecast_that_cannot_be_read_stops_no_round_and_is_replaced(file: Path, body: bytes) -> None:
    with life(file) as one:
        one.passes(1)
        with one.logbook.begin() as c:
            c.execute(sa.update(forecasts).values(body=zlib.compress(body)))
        one.watch = Watch(one.setting)  # a new program, which has to read it
        before = one.clock()
        answered(one, 1, "tonight")
        one.passes(2)
        assert rounds_since(one, before) >= 1
        with one.logbook.begin() as c:
            kept = lb.latest_forecast(c, one.setting.weather_of)
        assert kept is not None
        assert kept.body.encode() != body


class Stumbling(Watch):
    """A watch whose look ahead fails on whatever the weather service has sent."""

    def look(self, now: datetime) -> None:
        raise ValueError(f"air_c at {now} is no number")


def test_an_outlook_that_fails_keeps_nobody_from_being_heard(file: Path) -> None:
    with life(file) as one:
        one.watch = Stumbling(one.setting)
        answered(one, 1, "closed porch")
        answered(one, 2, "tonight")
        assert DeedKind.CLOSED in deeds(one)
        with one.logbook.begin() as c:
            assert {"reply:1:0", "reply:2:0"} <= set(c.scalars(sa.select(outbox.c.key)))


def test_a_disk_that_is_full_loses_nothing_said_and_the_bot_goes_on_when_there_is_room(file: Path) -> None:
    with life(file) as one:
        one.passes(1)
        with one.logbook.begin() as c:
            pages = c.exec_driver_sql("PRAGMA page_count").scalar()
            c.exec_driver_sql(f"PRAGMA max_page_count={pages}")  # SQLite's own way to SQLITE_FULL
        one.clock.pass_(timedelta(hours=7))
        with pytest.raises(LogbookError, match="the disk is full"):
            one.passes(50)
        with one.logbook.begin() as c:
            c.exec_driver_sql("PRAGMA max_page_count=1000000")
        before = one.clock()
        one.passes(2)
        answered(one, 1, "closed porch")
        assert rounds_since(one, before) >= 1


def test_a_database_server_that_is_killed_and_comes_back_is_used_again_without_a_restart(
    restartable: tuple[Server, Callable[[], None]],
) -> None:
    server, restart = restartable
    server.run("CREATE DATABASE larkmoor")
    with life(server.url("larkmoor")) as one:
        one.passes(1)
        answered(one, 1, "closed porch")
        os.killpg(server.process.pid, signal.SIGKILL)  # as by the kernel short of memory
        server.process.wait()
        with pytest.raises(LogbookError):
            one.watch.tick(one.clock())
        restart()
        one.passes(2)
        answered(one, 2, "why")
        assert DeedKind.CLOSED in deeds(one)
        with one.logbook.begin() as c:
            assert {"reply:1:0", "reply:2:0"} <= set(c.scalars(sa.select(outbox.c.key)))


@pytest.fixture
def restartable() -> Iterator[tuple[Server, Callable[[], None]]]:
    """A server of its own for a test that kills it."""
    with running_server() as server:
        yield server, server.restart
