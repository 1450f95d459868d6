"""Readings that nobody typed: over loopback with a token, and from a table; what is taken, what is refused and why."""

import http.client
import io
import json
import resource
import socket
import threading
from collections import deque
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.__main__ import main
from bot.commands.serving.sensors import sensors_heard, sensors_of_many
from bot.forecasts import Transport
from bot.hosting.new_garden import NewGarden
from bot.hosting.one_garden import Watch
from bot.logbook import Logbook, last_said, open_logbook, read_readings
from bot.rounds import Setting
from bot.sensors.posted import BURST, EVERY_S, LONGEST_BODY, MOST_READINGS, Pace, SensorDoor
from bot.sensors.readings import TakenReadings, read_row, take_readings
from bot.settings import Secrets, SecretsError, read_secrets
from bot.upkeep.loopback import LOOPBACK, MOST_AT_ONCE
from rules.garden.records import Place, Reading
from tests.bot.household_phones import demo_garden
from tests.bot.phone import larkmoor

NOW = datetime(2025, 11, 28, 14, 20, tzinfo=UTC)
TOKEN = "larkmoor-" + "x" * 24
GARDEN = larkmoor("Porch fig", "Wall fig")


class Clock:
    """Seconds that pass only when told to."""

    def __init__(self) -> None:
        self.s = 0.0

    def __call__(self) -> float:
        return self.s


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def logbook(tmp_path: Path) -> Iterator[Logbook]:
    found = open_logbook(tmp_path / "logbook.db")
    yield found
    found.close()


@pytest.fixture
def door(logbook: Logbook, clock: Clock) -> Iterator[SensorDoor]:
    found = SensorDoor({TOKEN: lambda: GARDEN}, logbook, 0, lambda: NOW, clock)
    found.start()
    yield found
    found.stop()


def post(door: SensorDoor, body: Any, token: str = TOKEN, path: str = "/readings") -> tuple[int, dict[str, Any]]:
    """One call, as a sensor makes it."""
    line = http.client.HTTPConnection(LOOPBACK, door.port, timeout=10)
    data = body if isinstance(body, bytes) else json.dumps(body)
    line.request("POST", path, data, {"Authorization": f"Bearer {token}", "Content-Type": "application/json"})
    answer = line.getresponse()
    told = json.loads(answer.read())
    line.close()
    return answer.status, told


def kept(logbook: Logbook) -> list[Reading]:
    with logbook.begin() as c:
        return read_readings(c, GARDEN.name, NOW - timedelta(days=500))


def reading(**changed: object) -> dict[str, object]:
    return {"tree": "Porch fig", "air_c": -6.5, "at": "2025-11-28T06:30:00-07:00", **changed}


# over loopback --------------------------------------------------------------------------------------------------------


def test_a_reading_posted_with_the_token_stands_in_the_logbook(door: SensorDoor, logbook: Logbook) -> None:
    status, told = post(door, reading())
    assert (status, told) == (200, {"taken": 1, "known": 0, "passed_over": 0, "refused": []})
    assert kept(logbook) == [Reading(tree="Porch fig", air_c=-6.5, at_utc=datetime(2025, 11, 28, 13, 30, tzinfo=UTC))]


def test_fahrenheit_inside_and_lows_are_told_apart(door: SensorDoor, logbook: Logbook) -> None:
    post(door, {"readings": [
        {"tree": "wall fig", "air_f": 14, "at": "2025-11-28T07:00", "low": True},
        {"tree": "Wall fig", "air_c": "-2,5", "at": "2025-11-28T07:00", "place": "inside"},
    ]})  # fmt: skip
    low, inside = sorted(kept(logbook), key=lambda one: one.air_c)
    assert low.air_c == pytest.approx(-10.0)
    assert (low.is_minimum, low.place) == (True, Place.AIR)
    assert (inside.air_c, inside.is_minimum, inside.place) == (-2.5, False, Place.INSIDE)
    assert low.at_utc == datetime(2025, 11, 28, 14, 0, tzinfo=UTC)  # a time without a zone is the garden's clock


def test_a_sensor_without_a_clock_leaves_the_time_out_and_it_is_now(door: SensorDoor, logbook: Logbook) -> None:
    assert post(door, {"tree": "Porch fig", "air_c": -6.5})[0] == 200
    assert post(door, {"tree": "Wall fig", "air_c": -6.5, "at": None})[0] == 200
    assert post(door, {"tree": "Porch fig", "air_c": -6.5, "at": ""})[0] == 422  # an empty time is none
    assert [(one.tree, one.at_utc) for one in kept(logbook)] == [("Porch fig", NOW), ("Wall fig", NOW)]


@pytest.mark.parametrize("token", ["", "wrong", TOKEN[:-1], TOKEN + "x", "é" * 20])
def test_without_the_token_nothing_is_taken(door: SensorDoor, logbook: Logbook, token: str) -> None:
    line = http.client.HTTPConnection(LOOPBACK, door.port, timeout=10)
    line.request("POST", "/readings", json.dumps(reading()), {"Authorization": f"Bearer {token}".encode()})
    assert line.getresponse().status == 401
    line.close()
    assert kept(logbook) == []


@pytest.mark.parametrize(
    ("body", "status"),
    [
        (b"not json", 400),
        (b"[]", 400),
        (b"[1]", 400),
        (b"[" * 9000, 400),
        (b'"x"', 400),
        (b"x" * (LONGEST_BODY + 1), 413),
        (json.dumps([reading()] * (MOST_READINGS + 1)).encode(), 413),
        (json.dumps(reading(tree="Oak")).encode(), 422),
    ],
)
def test_what_is_no_reading_is_refused_with_a_sentence(
    door: SensorDoor, logbook: Logbook, body: bytes, status: int
) -> None:
    got, told = post(door, body)
    assert got == status
    assert told.get("error") or told["refused"]
    assert kept(logbook) == []


def test_only_one_path_is_heard_and_only_posts(door: SensorDoor) -> None:
    assert post(door, reading(), path="/")[0] == 404
    line = http.client.HTTPConnection(LOOPBACK, door.port, timeout=10)
    line.request("GET", "/readings", headers={"Authorization": f"Bearer {TOKEN}"})
    assert line.getresponse().status == 501  # the method is not known here
    line.close()


def test_after_a_burst_calls_are_refused_until_time_has_passed(
    door: SensorDoor, clock: Clock, logbook: Logbook
) -> None:
    for _ in range(BURST):
        assert post(door, reading())[0] == 200
    assert post(door, reading())[0] == 429
    clock.s += EVERY_S
    assert post(door, reading())[0] == 200
    assert len(kept(logbook)) == 1  # the same reading told often stands once


def test_strangers_and_failures_leave_the_sensor_its_pace(door: SensorDoor, clock: Clock, logbook: Logbook) -> None:
    for _ in range(BURST):
        assert post(door, reading(), "wrong")[0] == 401
    assert post(door, reading(), "wrong")[0] == 429  # guesses have a pace too, of their own
    for body in (b"not json", reading(tree="Oak"), b"x" * (LONGEST_BODY + 1)):
        for _ in range(BURST // 3):
            assert post(door, body)[0] in (400, 413, 422)
    for hour in range(BURST):
        assert post(door, reading(at=f"2025-11-27T{hour % 24:02d}:00", low=True))[0] == 200
    assert kept(logbook)
    clock.s += BURST * EVERY_S
    for _ in range(3 * BURST):
        post(door, b"not json")
    assert post(door, b"not json")[0] == 429  # but who does nothing but fail is held back


def test_a_deleted_garden_takes_no_readings(logbook: Logbook) -> None:
    door = SensorDoor({TOKEN: lambda: None}, logbook, 0, lambda: NOW)
    door.start()
    assert post(door, reading())[0] == 410
    door.stop()


def test_the_pace_never_allows_more_than_burst_and_rate() -> None:
    clock = Clock()
    pace = Pace(clock, burst=5, every_s=2.0)
    allowed = 0
    for _ in range(100):
        allowed += pace.allows()
        clock.s += 0.5
    assert allowed == 5 + 24  # 49.5 s before the last call give 24 more


# what is taken --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changed", "part"),
    [
        ({"tree": "Oak"}, 'There is no tree "Oak"'),
        ({"tree": None}, "There is no tree"),
        ({"air_c": 61}, "no garden thermometer"),
        ({"air_c": -61}, "no garden thermometer"),
        ({"air_c": "nan"}, "must be a number"),
        ({"air_c": float("inf")}, "must be a number"),
        ({"air_c": True}, "must be a number"),
        ({"air_c": None}, "needs air_c or air_f"),
        ({"air_f": 20}, "one of them"),
        ({"at": "yesterday"}, "must be a time"),
        ({"at": ""}, "must be a time"),
        ({"at": "2025-11-28T15:00:00+00:00"}, "still to come"),
        ({"at": "2020-01-01T00:00:00+00:00"}, "teach nothing"),
        ({"at": "9999-12-31T23:59:59-14:00"}, "must be a time"),
        ({"place": "roof"}, 'must be "air" or "inside"'),
        ({"low": "perhaps"}, "must be true or false"),
    ],
)
def test_each_refusal_names_the_field_the_bound_and_the_value(changed: dict[str, object], part: str) -> None:
    told = read_row(reading(**changed), GARDEN, NOW)
    assert isinstance(told, str)
    assert part in told


ANYTHING = st.one_of(
    st.none(), st.booleans(), st.floats(), st.integers(), st.text(max_size=60), st.lists(st.integers())
)


@given(st.dictionaries(st.sampled_from(["tree", "air_c", "air_f", "at", "place", "low"]), ANYTHING))
def test_any_row_is_a_reading_or_a_sentence(row: dict[str, object]) -> None:
    assert isinstance(read_row({"tree": "Porch fig", **row}, GARDEN, NOW), Reading | str)


def take(logbook: Logbook, *rows: dict[str, object]) -> TakenReadings:
    with logbook.begin() as c:
        return take_readings(c, GARDEN, "a sensor", rows, NOW)


def test_of_a_sensor_one_present_reading_an_hour_and_place_is_kept_and_every_low(logbook: Logbook) -> None:
    ten = [reading(at=(NOW - timedelta(minutes=10 * i)).isoformat()) for i in range(12)]
    told = take(logbook, *ten, reading(place="inside"), reading(low=True, air_c=-9), reading(low=True, at="2025-11-27"))
    assert told.taken == 3 + 3  # twelve readings of 12:30 to 14:20 UTC are of three hours
    assert told.passed_over == 9
    again = take(logbook, *ten)
    assert (again.taken, again.known, again.passed_over) == (0, 3, 9)


def test_undo_in_the_chat_means_what_was_said_there_not_what_a_sensor_told(logbook: Logbook) -> None:
    take(logbook, reading())
    with logbook.begin() as c:
        assert last_said(c, GARDEN.name) is None
        assert len(read_readings(c, GARDEN.name, NOW - timedelta(days=500))) == 1


# a table --------------------------------------------------------------------------------------------------------------


def test_a_table_is_brought_in_once_with_its_own_names_of_columns(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, table = demo_garden(tmp_path, "Porch fig"), tmp_path / "log.csv"
    at = (datetime.now(UTC) - timedelta(days=2)).replace(minute=0)
    rows = [f"{(at + timedelta(hours=i)):%Y-%m-%d %H:%M};Porch fig;{20 + i}" for i in range(3)]
    table.write_text("\n".join(["Time;Tree;°F", *rows, f"{at:%Y-%m-%d %H:%M};Oak;20"]), encoding="utf-8")
    assert main(["readings", str(path), str(table)]) == 2  # in a logbook that no bot has begun they would be lost
    assert "There is no logbook" in capsys.readouterr().err
    open_logbook(path.with_suffix(".logbook")).close()
    assert main(["readings", str(path), str(table)]) == 0
    told = capsys.readouterr().out
    assert "3 readings taken from log.csv." in told
    assert 'Refused: There is no tree "Oak"' in told
    assert main(["readings", str(path), str(table)]) == 0
    assert "0 readings taken" in capsys.readouterr().out


@pytest.mark.parametrize("text", ["", "a,b\n1,2\n", "time,tree\n2025-01-01,Porch fig\n"])
def test_a_table_without_the_columns_is_refused_in_a_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str
) -> None:
    path, table = demo_garden(tmp_path, "Porch fig"), tmp_path / "log.csv"
    table.write_text(text, encoding="utf-8")
    assert main(["readings", str(path), str(table)]) == 2
    assert "has no column" in capsys.readouterr().err


# while a door is open -------------------------------------------------------------------------------------------------


def with_sensors(tmp_path: Path, port: int) -> Secrets:
    return read_secrets({"BEDSTRAW_SENSOR_PORT": str(port), "BEDSTRAW_SENSOR_TOKEN_FILE": token_file(tmp_path, TOKEN)})


def free_port() -> int:
    with socket.socket() as taken:
        taken.bind((LOOPBACK, 0))
        return int(taken.getsockname()[1])


@pytest.fixture
def watch(logbook: Logbook) -> Watch:
    return Watch(Setting(garden=GARDEN, logbook=logbook, transport=Transport()))


def test_a_chat_that_keeps_running_hears_sensors_until_it_ends(watch: Watch, tmp_path: Path) -> None:
    secrets = with_sensors(tmp_path, free_port())
    now = datetime.now(UTC).isoformat()
    with sensors_heard(watch, secrets, beside_another=True) as door:
        assert door is not None
        assert post(door, reading(at=now))[0] == 200
    with pytest.raises(OSError, match="refused"):
        post(door, reading(at=now))


def test_a_chat_beside_a_bot_that_hears_them_leaves_them_to_it_and_a_second_bot_is_refused(
    watch: Watch, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    secrets = with_sensors(tmp_path, free_port())
    with sensors_heard(watch, secrets):
        with sensors_heard(watch, secrets, beside_another=True) as second:
            assert second is None
        assert "sensors are heard by whoever has it" in caplog.text
        with pytest.raises(SecretsError, match="cannot be used"), sensors_heard(watch, secrets):
            pass


def test_a_garden_that_is_not_begun_yet_says_so_to_its_sensors(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BEDSTRAW_SENSOR_PORT", str(free_port()))
    monkeypatch.setenv("BEDSTRAW_SENSOR_TOKEN_FILE", token_file(tmp_path, TOKEN))
    monkeypatch.setattr("sys.stdin", io.StringIO("quit\n"))
    assert main(["chat", str(tmp_path / "new.toml"), "--new"]) == 0
    assert "sensors are heard on loopback" in (tmp_path / "new.chat.log").read_text()

    def never() -> Watch:
        raise AssertionError("no file was begun")

    begun = NewGarden(tmp_path / "new.toml", "new", open_logbook(tmp_path / "other.db"), Transport(), never)
    with sensors_heard(begun, read_secrets(None)) as door:
        assert door is not None
        status, told = post(door, reading())
    begun.logbook.close()
    assert (status, told["error"]) == (410, "There is no garden here: not yet, or not any more.")


def test_who_asks_for_no_sensors_opens_no_door(watch: Watch) -> None:
    with sensors_heard(watch, read_secrets({})) as door:
        assert door is None


def test_a_chat_in_the_terminal_opens_the_door_and_shuts_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BEDSTRAW_SENSOR_PORT", str(free_port()))
    monkeypatch.setenv("BEDSTRAW_SENSOR_TOKEN_FILE", token_file(tmp_path, TOKEN))
    monkeypatch.setattr("sys.stdin", io.StringIO("quit\n"))
    garden = demo_garden(tmp_path, "Porch fig")
    assert main(["chat", str(garden)]) == 0
    assert "sensors are heard on loopback" in garden.with_suffix(".chat.log").read_text()


# the environment ------------------------------------------------------------------------------------------------------


def token_file(tmp_path: Path, text: str) -> str:
    file = tmp_path / "sensor_token"
    file.write_text(text, encoding="utf-8")
    file.chmod(0o600)
    return str(file)


def test_the_door_is_shut_unless_port_and_token_file_are_both_named(tmp_path: Path) -> None:
    assert read_secrets({}).sensor_port is None
    file = token_file(tmp_path, TOKEN)
    found = read_secrets({"BEDSTRAW_SENSOR_PORT": "8123", "BEDSTRAW_SENSOR_TOKEN_FILE": file})
    assert (found.sensor_port, found.sensor_token) == (8123, TOKEN)
    assert TOKEN not in repr(found)
    for alone in ({"BEDSTRAW_SENSOR_PORT": "8123"}, {"BEDSTRAW_SENSOR_TOKEN_FILE": file}):
        with pytest.raises(SecretsError, match="belong together"):
            read_secrets(alone)


@pytest.mark.parametrize("text", ["short", "two words of some length here", ""])
def test_a_weak_sensor_token_is_refused_and_not_repeated(tmp_path: Path, text: str) -> None:
    with pytest.raises(SecretsError, match="must hold one word") as refused:
        read_secrets({"BEDSTRAW_SENSOR_PORT": "8123", "BEDSTRAW_SENSOR_TOKEN_FILE": token_file(tmp_path, text)})
    assert not text or text not in str(refused.value)


def test_a_thousand_callers_who_say_nothing_keep_no_sensor_out(door: SensorDoor, logbook: Logbook) -> None:
    """Each would have had a thread and a file of ours for ten seconds."""
    most_files = resource.getrlimit(resource.RLIMIT_NOFILE)[0]
    threads = threading.active_count()
    silent: deque[socket.socket] = deque(maxlen=min(1_000, most_files - 200 - MOST_AT_ONCE))
    for number in range(1_000):
        if len(silent) == silent.maxlen:
            silent.popleft().close()
        silent.append(socket.create_connection((LOOPBACK, door.port), timeout=10))
        if number % 100 == 99:
            at = f"2025-11-{18 + number // 100:02}T06:30:00-07:00"
            status, told = post(door, reading(at=at))
            assert (status, told["taken"]) == (200, 1)
    assert threading.active_count() - threads <= MOST_AT_ONCE + 64  # those let go a moment ago may be ending still
    assert len(kept(logbook)) == 10
    for one in silent:
        one.close()
    assert post(door, reading(at="2025-11-28T06:30:00-07:00"))[0] == 200


def test_each_of_many_gardens_is_told_by_its_own_token(tmp_path: Path, logbook: Logbook) -> None:
    words = {"Larkmoor": "larkmoor-" + "x" * 20, "Elsewhere": "elsewhere-" + "y" * 20}
    file = tmp_path / "tokens.toml"
    file.write_text("".join(f'{name} = "{word}"\n' for name, word in words.items()))
    file.chmod(0o600)
    port = str(free_port())
    secrets = read_secrets({"BEDSTRAW_SENSOR_PORT": port, "BEDSTRAW_SENSOR_TOKENS_FILE": str(file)})
    gardens = {"Larkmoor": GARDEN, "Elsewhere": GARDEN.model_copy(update={"name": "Elsewhere"})}
    with sensors_of_many(gardens.get, logbook, secrets) as door:
        assert door is not None
        status, _ = post(door, reading(at="2025-11-28T06:00"), token=words["Elsewhere"])
        assert status == 200
        assert post(door, reading(at="2025-11-28T06:00"), token="x" * 30)[0] == 401
    with logbook.begin() as c:
        assert read_readings(c, "Larkmoor", NOW - timedelta(days=2)) == []
        assert len(read_readings(c, "Elsewhere", NOW - timedelta(days=2))) == 1


SAME = "same-word-of-twenty-letters"


@pytest.mark.parametrize("text", ['Larkmoor = "short"', "Larkmoor = 5", f'A = "{SAME}"\nB = "{SAME}"', "["])
def test_a_file_of_tokens_that_cannot_tell_gardens_apart_is_refused(tmp_path: Path, text: str) -> None:
    file = tmp_path / "tokens.toml"
    file.write_text(text)
    file.chmod(0o600)
    with pytest.raises(SecretsError, match="file of tokens"):
        read_secrets({"BEDSTRAW_SENSOR_PORT": "8010", "BEDSTRAW_SENSOR_TOKENS_FILE": str(file)})
