"""bedstraw doctor: each thing that can be wrong gets a sentence with what to do, and nothing is changed."""

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import sqlalchemy as sa

from bot import logbook as lb
from bot.__main__ import main
from bot.commands.doctor import JUST_STARTED, doctor
from bot.forecasts import dump_forecast
from bot.logbook import Logbook, open_logbook
from bot.logbook.database.tables import inbox, outbox
from bot.messages import Outgoing
from bot.upkeep.alarm import note_started
from tests.bot.invented_gardens import cold_forecast, write_garden_file

NOW = datetime(2026, 11, 25, 19, tzinfo=UTC)
TOKEN = "12345678:AAinvented_for_this_test_only"  # noqa: S105 - invented
NAME = "Larkmoor"


@pytest.fixture
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("BEDSTRAW_TOKEN", TOKEN)
    monkeypatch.delenv("BEDSTRAW_LOGBOOK", raising=False)
    return write_garden_file(tmp_path, NAME, "Porch fig", NOW)


def healthy(file: Path, at: datetime = NOW) -> Logbook:
    logbook = open_logbook(file.with_suffix(".logbook"))
    with logbook.begin() as c:
        lb.note_person(c, NAME, 11, "Rowan", "owner")
        lb.note_state(c, NAME, "asked", json.dumps({"at": at.isoformat(), "found": True}))
        lb.note_forecast(c, NAME, dump_forecast(cold_forecast(at)), "saved", at, at)
        lb.note_round(c, NAME, at, 1, "{}")
    return logbook


def test_a_healthy_garden_is_told_so(file: Path) -> None:
    healthy(file).close()
    assert doctor(file, NOW) == ("All is well with larkmoor.toml.", 0)


def said(file: Path, now: datetime = NOW) -> str:
    words, status = doctor(file, now)
    assert status == 1
    assert TOKEN not in words
    return words


def test_before_the_first_start(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert "There is no logbook at" in said(file)
    assert not file.with_suffix(".logbook").exists()
    monkeypatch.delenv("BEDSTRAW_TOKEN")
    assert "There is no Telegram token" in said(file)
    file.write_text("name = 7", encoding="utf-8")
    assert "The garden file cannot be used" in said(file)


def test_nobody_let_in_and_nothing_looked_at(file: Path) -> None:
    open_logbook(file.with_suffix(".logbook")).close()
    assert "Run: bedstraw let-in" in said(file)
    assert "The weather was never asked for" in said(file)


def test_a_bot_that_stands_still_and_one_that_cannot_see(file: Path) -> None:
    logbook = healthy(file)
    words = said(file, NOW + timedelta(hours=14))
    assert "The last look at the weather was 14 hours ago" in words
    assert "systemctl restart" in words
    assert "The forecast is 14 hours old." in words
    tried = [["open-meteo", "Open-Meteo could not be reached."]]
    with logbook.begin() as c:
        at = (NOW + timedelta(hours=14)).isoformat()
        lb.note_state(c, NAME, "asked", json.dumps({"at": at, "found": False, "tried": tried}))
    words = said(file, NOW + timedelta(hours=14))
    assert "The forecast is 14 hours old. Open-Meteo could not be reached." in words
    assert "systemctl" not in words
    logbook.close()


def test_a_bot_that_started_a_moment_ago_on_an_old_backup_is_not_called_dead(file: Path) -> None:
    """A backup is hours old when it is put in place, and so are its last look, its forecast and what waits."""
    logbook, later = healthy(file), NOW + timedelta(hours=14)
    with logbook.begin() as c:
        message = Outgoing(key="a", chat_id=11, text="x", due_utc=NOW, expires_utc=later + timedelta(hours=9))
        lb.enqueue(c, message, NAME)
        note_started(c, later - timedelta(seconds=20))
    words, status = doctor(file, later)
    assert (status, words) == (0, f"All is well so far with larkmoor.toml. {JUST_STARTED}")
    assert "was 14 hours ago" in said(file, later + timedelta(minutes=6))  # by then it should have looked
    with logbook.begin() as c:
        lb.note_state(c, NAME, "asked", json.dumps({"at": later.isoformat(), "found": False}))
    assert "The forecast is 14 hours old" in said(file, later)  # it has looked: what it found counts at once
    logbook.close()


def test_what_is_wrong_whatever_the_weather_is_told_also_after_a_start(file: Path) -> None:
    logbook = open_logbook(file.with_suffix(".logbook"))
    with logbook.begin() as c:
        note_started(c, NOW)
    assert "Nobody has been let in yet" in said(file)
    logbook.close()


def test_rounds_that_fail_though_the_weather_is_looked_at(file: Path) -> None:
    logbook = healthy(file)
    with logbook.begin() as c:
        lb.note_state(c, NAME, "round ended", json.dumps((NOW - timedelta(hours=5)).isoformat()))
    assert "no round has ended for 5 hours" in said(file)
    logbook.close()


def test_a_clock_that_was_set_back(file: Path) -> None:
    healthy(file, NOW + timedelta(days=1)).close()
    assert "lies 24 hours ahead: the clock was set back" in said(file)


def test_messages_that_wait_and_people_who_left(file: Path) -> None:
    logbook = healthy(file)
    early, late = NOW - timedelta(hours=3), NOW + timedelta(hours=3)
    with logbook.begin() as c:
        lb.enqueue(c, Outgoing(key="a", chat_id=11, text="x", due_utc=early, expires_utc=late), NAME)
        lb.enqueue(c, Outgoing(key="b", chat_id=11, text="x", due_utc=early, expires_utc=late), NAME)
        dead = {"state": "dead", "finished_utc": NOW, "error": "BadRequest: chat not found"}
        c.execute(sa.update(outbox).where(outbox.c.key == "b").values(**dead))
        lb.mark_unreachable(c, 11, NOW)
        row = {"door": "telegram", "raw": "{}", "got_utc": early}
        c.execute(sa.insert(inbox).values(update_id=1, state="pending", **row))
        c.execute(sa.insert(inbox).values(update_id=2, state="failed", done_utc=NOW, **row))
    words = said(file)
    for wanted in (
        "1 messages wait to be sent, the first for 3 hours",
        "Rowan cannot be reached",
        "1 messages of yours wait to be read",
        "1 messages could not be understood",
        "1 messages could not be sent and 0 may not have arrived. The last reason: BadRequest: chat not found.",
    ):
        assert wanted in words
    logbook.close()


def test_a_logbook_that_others_can_read_and_one_that_is_damaged(file: Path) -> None:
    healthy(file).close()
    place = file.with_suffix(".logbook")
    place.chmod(0o644)
    assert "Run: chmod 600" in said(file)
    whole = place.read_bytes()
    place.write_bytes(whole[:4096] + b"\x5a" * (len(whole) - 4096))
    assert "damaged" in said(file)


def test_the_recovery_drill_as_it_is_written(file: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    logbook = healthy(file)
    place, copy = file.with_suffix(".logbook"), tmp_path / "copy.logbook"
    assert main(["backup", str(file), str(copy)]) == 0
    assert "To restore: stop the bot" in capsys.readouterr().out
    logbook.close()  # stop the bot
    place.write_bytes(b"the disk died")
    assert "not a logbook" in said(file)
    for end in ("", "-wal", "-shm"):  # remove it, with its -wal and -shm
        place.with_name(place.name + end).unlink(missing_ok=True)
    place.write_bytes(copy.read_bytes())  # copy the backup in its place
    place.chmod(0o600)
    assert doctor(file, NOW) == ("All is well with larkmoor.toml.", 0)
    again = open_logbook(place)
    with again.begin() as c:
        assert [person.name for person in lb.list_people(c, NAME)] == ["Rowan"]
    again.close()


def test_a_backup_of_nothing_is_refused(file: Path, tmp_path: Path) -> None:
    assert main(["backup", str(file), str(tmp_path / "copy")]) == 2
    assert not (tmp_path / "copy").exists()
