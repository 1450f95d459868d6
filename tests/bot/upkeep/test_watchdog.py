"""The watchdog: pats systemd while the rounds go on, says how things stand, tells the owners when they stop."""

import json
import socket
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from bot import logbook as lb
from bot.logbook import Logbook, open_logbook
from bot.logbook.database.tables import outbox
from bot.logbook.programs.last_heard import Outside, note_heard
from bot.messages import Outgoing
from bot.upkeep.alarm import SILENT_AFTER, note_round_ended, round_ended_utc, tell_of_silence
from bot.upkeep.watchdog import ALARM_AFTER_S, LONGEST_ROUND_S, LONGEST_UNHEARD_S, OLDEST_FORECAST_S, Watchdog
from tests.bot.invented_gardens import Clock, garden, setting

NOON = datetime(2026, 12, 2, 19, tzinfo=UTC)
LARKMOOR = garden("Larkmoor", "Porch fig")


@pytest.fixture
def logbook(place: Path | str) -> Iterator[Logbook]:
    opened = open_logbook(place)
    with opened.begin() as c:
        lb.note_person(c, LARKMOOR.name, 11, "Rowan", "owner")
        lb.note_person(c, LARKMOOR.name, 12, "Juniper", "helper")
    yield opened
    opened.close()


@pytest.fixture
def systemd(tmp_path: Path) -> Iterator[socket.socket]:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listening:
        listening.bind(str(tmp_path / "n"))
        listening.settimeout(5)
        yield listening


def asked(port: int, path: str = "/health") -> tuple[int, dict[str, Any]]:
    try:
        with urllib.request.urlopen(f"http://127.0.0.1:{port}{path}", timeout=5) as answer:
            return answer.status, json.load(answer)
    except urllib.error.HTTPError as error:
        with error:
            return error.code, json.loads(error.read() or b"{}") if error.code == 503 else {}


def silent_for(seconds: float, monkeypatch: pytest.MonkeyPatch) -> None:
    later = time.monotonic() + seconds
    monkeypatch.setattr(time, "monotonic", lambda: later)


def test_systemd_hears_that_we_are_ready_alive_and_ending(logbook: Logbook, systemd: socket.socket) -> None:
    dog = Watchdog(logbook, Clock(NOON), notify_socket=systemd.getsockname())
    dog.start()
    assert systemd.recv(100) == b"READY=1"
    dog.check()
    assert systemd.recv(100) == b"WATCHDOG=1"
    dog.stop()
    assert systemd.recv(100) == b"STOPPING=1"


def test_a_round_that_hangs_gets_no_more_pats_and_systemd_restarts_us(
    logbook: Logbook, systemd: socket.socket, monkeypatch: pytest.MonkeyPatch
) -> None:
    dog = Watchdog(logbook, Clock(NOON), notify_socket=systemd.getsockname())
    silent_for(LONGEST_ROUND_S + 60, monkeypatch)
    assert not dog.check().healthy
    assert systemd.recv(100) == b"STATUS=no round has ended for 6 minutes"
    dog.ticked()
    assert dog.check().healthy


def test_five_minutes_are_the_longest_round() -> None:
    assert LONGEST_ROUND_S == 300


def test_one_turn_that_hangs_beside_others_that_end_is_seen(logbook: Logbook) -> None:
    slowest_s = [0.0]
    dog = Watchdog(logbook, Clock(NOON), slowest_s=lambda: slowest_s[0])
    assert dog.health().healthy
    slowest_s[0] = LONGEST_ROUND_S
    dog.ticked()
    assert dog.health().problem == "no round has ended for 5 minutes"


@pytest.mark.parametrize(
    ("whom", "limit_s", "problem"),
    [
        (Outside.MESSENGER, LONGEST_UNHEARD_S, "the messenger has not answered for 15 minutes"),
        (Outside.WEATHER, OLDEST_FORECAST_S, "no forecast has come for 3 hours"),
    ],
)
def test_silence_of_weather_and_messenger_is_told_by_its_age_and_red_from_its_limit_on(
    logbook: Logbook, systemd: socket.socket, whom: Outside, limit_s: float, problem: str,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    clock = Clock(NOON)
    dog = Watchdog(logbook, clock, notify_socket=systemd.getsockname())
    silent_for(2 * OLDEST_FORECAST_S, monkeypatch)
    dog.ticked()
    heard(logbook, NOON)
    clock.pass_(timedelta(seconds=limit_s - 1))
    heard(logbook, clock(), *(set(Outside) - {whom}))
    assert dog.check().healthy
    assert systemd.recv(100) == b"WATCHDOG=1"
    clock.pass_(timedelta(seconds=1))
    health = dog.check()
    assert (health.healthy, health.problem) == (False, problem)
    age = {"messenger heard": "messenger_age_s", "weather heard": "forecast_age_s"}[whom]
    assert health.document(clock())[age] == limit_s
    assert systemd.recv(100) == f"STATUS={problem}".encode()
    assert systemd.recv(100) == b"WATCHDOG=1"  # a restart would bring neither back
    heard(logbook, clock())
    assert dog.check().healthy


def test_who_was_never_heard_is_missed_from_the_start_on(logbook: Logbook, monkeypatch: pytest.MonkeyPatch) -> None:
    dog = Watchdog(logbook, Clock(NOON))
    assert dog.health().document(NOON)["messenger_age_s"] is None
    silent_for(LONGEST_UNHEARD_S + 1, monkeypatch)
    dog.ticked()
    assert "messenger" in dog.health().problem


def test_the_same_trouble_is_logged_once(
    logbook: Logbook, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    dog = Watchdog(logbook, Clock(NOON))
    silent_for(LONGEST_ROUND_S, monkeypatch)
    dog.check()
    silent_for(120, monkeypatch)
    dog.check()
    assert caplog.text.count("not well") == 1


def heard(logbook: Logbook, at: datetime, *whom: Outside) -> None:
    with logbook.begin() as c:
        for one in whom or Outside:
            note_heard(c, one, at)


def test_a_systemd_that_is_gone_is_no_trouble(logbook: Logbook, tmp_path: Path) -> None:
    assert Watchdog(logbook, Clock(NOON), notify_socket=str(tmp_path / "gone")).check().healthy


def test_the_health_endpoint_counts_and_tells_no_names(logbook: Logbook, monkeypatch: pytest.MonkeyPatch) -> None:
    with logbook.begin() as c:
        lb.note_round(c, LARKMOOR.name, NOON - timedelta(minutes=5), None, "{}")
        late = Outgoing(
            key="k", chat_id=11, text="close the Porch fig", due_utc=NOON - timedelta(minutes=2),
            expires_utc=NOON + timedelta(hours=1),
        )  # fmt: skip
        lb.enqueue(c, late, LARKMOOR.name)
    dog = Watchdog(logbook, Clock(NOON), health_port=0)
    dog.start()
    assert dog.port is not None
    status, said = asked(dog.port)
    assert (status, said["healthy"], said["round_age_s"]) == (200, True, 300)
    assert (said["outbox_waiting"], said["outbox_oldest_age_s"], said["inbox_waiting"]) == (1, 120, 0)
    assert not [word for word in ("Larkmoor", "Porch", "Rowan", "-109") if word in json.dumps(said)]
    assert asked(dog.port, "/")[0] == 404
    silent_for(LONGEST_ROUND_S + 60, monkeypatch)
    assert asked(dog.port)[0] == 503
    dog.stop()


def test_the_health_endpoint_is_on_loopback_only(logbook: Logbook) -> None:
    dog = Watchdog(logbook, Clock(NOON), health_port=0)
    assert dog._server is not None
    assert dog._server._server.server_address[0] == "127.0.0.1"
    dog._server._server.server_close()


def texts(logbook: Logbook, chat_id: int) -> list[str]:
    with logbook.begin() as c:
        return list(c.scalars(sa.select(outbox.c.text).where(outbox.c.chat_id == chat_id)))


def looked(logbook: Logbook, at: datetime) -> None:
    with logbook.begin() as c:
        lb.note_state(c, here(logbook).weather_of, "asked", json.dumps({"at": at.isoformat(), "found": False}))


def here(logbook: Logbook) -> Any:
    return setting(LARKMOOR, logbook, "http://127.0.0.1:1")


def test_the_owner_is_told_once_a_day_that_the_rounds_have_stopped(
    logbook: Logbook, monkeypatch: pytest.MonkeyPatch
) -> None:
    looked(logbook, NOON - SILENT_AFTER)

    def alarm(now: datetime) -> None:
        with logbook.begin() as c:
            tell_of_silence(c, here(logbook), now)

    clock = Clock(NOON)
    dog = Watchdog(logbook, clock, alarm=alarm)
    dog.check()
    assert texts(logbook, 11) == []  # the machine has only just woken up: the next round may be under way
    silent_for(ALARM_AFTER_S, monkeypatch)
    for _ in range(3):
        dog.check()
        clock.pass_(timedelta(minutes=20))
    assert len(texts(logbook, 11)) == 1
    assert "since Wednesday 09:00" in texts(logbook, 11)[0]  # their clock
    assert texts(logbook, 12) == []
    clock.pass_(timedelta(days=1))
    dog.check()
    assert len(texts(logbook, 11)) == 2


def test_nobody_is_woken_for_it_and_nothing_is_said_while_rounds_go_on(logbook: Logbook) -> None:
    night = NOON + timedelta(hours=13)  # one in the morning there
    looked(logbook, NOON)
    with logbook.begin() as c:
        assert not tell_of_silence(c, here(logbook), night)
        assert not tell_of_silence(c, here(logbook), NOON + SILENT_AFTER - timedelta(minutes=1))
        assert tell_of_silence(c, here(logbook), NOON + SILENT_AFTER)


def test_rounds_that_fail_each_time_are_silence_though_the_weather_is_asked_for(logbook: Logbook) -> None:
    with logbook.begin() as c:
        note_round_ended(c, here(logbook), NOON)
        assert not tell_of_silence(c, here(logbook), NOON + SILENT_AFTER - timedelta(minutes=1))
    looked(logbook, NOON + SILENT_AFTER)
    with logbook.begin() as c:
        assert tell_of_silence(c, here(logbook), NOON + SILENT_AFTER)
    assert "since Wednesday 12:00" in texts(logbook, 11)[0]


def test_the_end_of_a_round_is_known_to_ten_minutes_also_after_the_clock_was_set_back(logbook: Logbook) -> None:
    one, ten = here(logbook), timedelta(minutes=10)
    with logbook.begin() as c:
        assert round_ended_utc(c, one) is None
        for at, known in ((NOON, NOON), (NOON + ten / 2, NOON), (NOON + ten, NOON + ten), (NOON - ten, NOON - ten)):
            note_round_ended(c, one, at)
            assert round_ended_utc(c, one) == known
