"""Programs on one database, killed and silenced for real: who takes over how soon, whatever it is in the middle of."""

import os
import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest

from bot.__main__ import main
from bot.commands.serving import many_gardens as many
from bot.forecasts import Transport
from bot.logbook import Logbook, note_person, open_logbook
from tests.bot.hostile_weather import Malice, hostile_weather
from tests.bot.invented_gardens import write_garden_file
from tests.bot.preloaded import Program
from tests.bot.telegram.conftest import Town
from tests.bot.telegram.open_door import wait_for
from tests.bot.telegram.programs import serving_many

NAME, TREE, CHAT = "Larkmoor", "Porch fig", 4711
TAKEN_OVER_WITHIN_S = 5.0  # on a machine that has nothing else to do
WEATHER_DRIPS_S = Transport().longest_s  # for each cell: who waits for it takes over no sooner


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    write_garden_file(tmp_path, NAME, TREE, datetime.now(UTC))
    return tmp_path


@pytest.fixture
def shared(new_database: Callable[[], str]) -> Iterator[tuple[str, Logbook]]:
    url = new_database()
    logbook = open_logbook(url)
    with logbook.begin() as c:
        note_person(c, NAME, CHAT, "Rowan", "owner")
    yield url, logbook
    logbook.close()


def asks_elsewhere(folder: Path, name: str, latitude_deg: float) -> None:
    """A garden beside it whose weather is asked of Open-Meteo."""
    path = write_garden_file(folder, name, "Gate fig", datetime.now(UTC))
    text = path.read_text(encoding="utf-8").replace('services = ["saved"]', 'services = ["open-meteo"]')
    assert "latitude_deg = 39\n" in text
    path.write_text(text.replace("latitude_deg = 39\n", f"latitude_deg = {latitude_deg}\n"), encoding="utf-8")


@pytest.mark.processes
def test_another_takes_over_while_it_waits_for_weather_that_drips(
    town: Town, folder: Path, shared: tuple[str, Logbook], monkeypatch: pytest.MonkeyPatch
) -> None:
    url, _ = shared
    for number in range(3):
        asks_elsewhere(folder, f"Heron Yard {number}", 40.0 + number)
    logs = [folder / "program-0.log", folder / "program-1.log"]
    with hostile_weather(Malice.DRIPPING_BODY) as hostile:
        monkeypatch.setenv("BEDSTRAW_OPEN_METEO_ADDRESS", hostile.address)
        with serving_many(folder, url, town.token, town.wire.address) as first:
            wait_for(lambda: leads(logs[0]), "the first to lead")
            with serving_many(folder, url, town.token, town.wire.address):
                wait_for(lambda: "ready" in logs[1].read_text(), "the second to be there")
                wait_for(lambda: hostile.calls >= 2, "weather to be asked for")
                first.send_signal(signal.SIGKILL)
                first.wait()
                wait_for(lambda: leads(logs[1]), "the second to lead", WEATHER_DRIPS_S / 2)
                town.phone(chat_id=CHAT).says("trees")
                wait_for(lambda: replies(town), "an answer of the second")


def test_it_is_looked_for_a_lead_more_often_than_every_five_seconds() -> None:
    assert many.LEAD_EVERY_S < TAKEN_OVER_WITHIN_S / 2


def leads(log: Path) -> bool:
    return "leading: this program" in log.read_text()


def replies(town: Town) -> list[str]:
    return [call.fields.get("text", "") for call in town.wire.accepted("sendMessage", chat_id=CHAT)]


@contextmanager
def serving_one(garden: Path, town: Town, logbook: str) -> Iterator[Program]:
    process = Program(["serve", str(garden)], os.environ | environment(town, logbook), garden.parent / "serve.log")
    try:
        wait_for(lambda: town.wire.asked("getUpdates"), "the bot to ask for updates")
        yield process
    finally:
        process.kill()
        process.wait()


def environment(town: Town, logbook: str) -> dict[str, str]:
    return {
        "BEDSTRAW_TOKEN": town.token,
        "BEDSTRAW_TELEGRAM_ADDRESS": town.wire.address,
        "BEDSTRAW_LOGBOOK": logbook,
    }


@pytest.mark.processes
@pytest.mark.parametrize("kind", ["file", "server"])
def test_a_second_serve_and_a_move_say_that_the_logbook_is_in_use_and_after_the_end_both_go(
    town: Town, folder: Path, new_database: Callable[[], str], kind: str, capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    garden, place = folder / "larkmoor.toml", str(folder / "larkmoor.logbook")
    place = place if kind == "file" else new_database()
    target = new_database() if kind == "file" else str(folder / "moved.logbook")
    for name, value in environment(town, place).items():
        monkeypatch.setenv(name, value)
    with serving_one(garden, town, place) as first:
        assert main(["serve", str(garden)]) == 2
        said = capsys.readouterr().err
        assert "already" in said
        assert f"(process {first.pid})" in said or kind == "server"
        assert main(["move", place, target]) == 2
        assert "is in use; stop every program that has it open first" in capsys.readouterr().err
    assert main(["move", place, target]) == 0
    assert "compared each one" in capsys.readouterr().out


def test_while_a_logbook_is_carried_off_no_program_opens_it(tmp_path: Path, new_database: Callable[[], str]) -> None:
    for place in (tmp_path / "larkmoor.logbook", new_database()):
        open_logbook(place).close()
        alone = open_logbook(place, alone=True)
        with pytest.raises(Exception, match="in use"):
            open_logbook(place, wait_s=0.1)
        alone.close()
        open_logbook(place).close()


def test_an_emptied_logbook_of_a_garden_that_was_served_is_refused_with_what_to_do(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    garden, place = folder / "larkmoor.toml", folder / "larkmoor.logbook"
    monkeypatch.setenv("BEDSTRAW_TOKEN", "12345678:AAinvented_for_this_test_only")
    monkeypatch.setenv("BEDSTRAW_LOGBOOK", str(place))
    mark = folder / "larkmoor.logbook.serving"
    mark.write_text("1\n")
    for emptied in ("is gone", "is empty"):
        for command in (["serve", str(garden)], ["let-in", str(garden)], ["chat", str(garden)]):
            assert main(command) == 2
            said = capsys.readouterr().err
            assert f"the logbook {place} {emptied}, but this garden was served with it before" in said
            assert "put the newest backup in its place" in said
        place.touch()
    mark.unlink()  # to begin anew
    assert main(["let-in", str(garden)]) == 0


def test_a_logbook_emptied_under_a_running_program_is_refused_before_the_next_write(tmp_path: Path) -> None:
    place = tmp_path / "larkmoor.logbook"
    logbook = open_logbook(place)
    with logbook.begin() as c:
        note_person(c, NAME, CHAT, "Rowan", "owner")
    fresh = tmp_path / "fresh"
    fresh.touch()
    fresh.replace(place)
    with pytest.raises(Exception, match="was emptied: put the newest backup in its place"), logbook.begin():
        pass
    with pytest.raises(Exception, match="was emptied"), logbook.begin():  # and not only the first time
        pass
    logbook.close()
