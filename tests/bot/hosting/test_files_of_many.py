"""Whatever becomes of one garden's file, forecast or rows in the logbook, the others go on and its owners are told."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path

import pytest
import sqlalchemy as sa

from bot import logbook as lb
from bot.commands.opening import transport_of
from bot.hosting.garden_files import GardenFiles
from bot.hosting.many_gardens import Gardens
from bot.logbook import Logbook, open_logbook
from bot.logbook.database.tables import outbox, people, states, turns
from bot.settings import read_secrets
from tests.bot.invented_gardens import write_garden_file

NOON = datetime(2026, 12, 2, 19, tzinfo=UTC)  # at the gardens
MINUTE = timedelta(minutes=1)
LARKMOOR, HERON = ("Larkmoor", 11), ("Heron Yard", 22)


@dataclass
class Hosted:
    """A folder with two gardens as a deployment of many has it, a minute at a time."""

    path: Path
    logbook: Logbook
    files: GardenFiles
    gardens: Gardens
    at: datetime = NOON

    @property
    def larkmoor(self) -> Path:
        return self.path / "larkmoor.toml"

    def goes_on(self, minutes: int = 1) -> None:
        for _ in range(minutes):
            self.at += MINUTE
            self.gardens.change(self.files.settings(), self.at)
            self.files.tell(self.at)
            self.gardens.tick(self.at)

    def told(self, garden: tuple[str, int]) -> list[str]:
        with self.logbook.begin() as c:
            words = sa.select(outbox.c.text).where(outbox.c.chat_id == garden[1], outbox.c.key.startswith("trouble:"))
            return list(c.scalars(words))

    def looked(self, garden: tuple[str, int]) -> datetime | None:
        with self.logbook.begin() as c:
            kept = lb.last_round(c, garden[0])
        return kept.at_utc if kept else None


@pytest.fixture
def hosted(tmp_path: Path, new_database: Callable[[], str]) -> Iterator[Hosted]:
    write_garden_file(tmp_path, LARKMOOR[0], "Porch fig", NOON)
    write_garden_file(tmp_path, HERON[0], "Gate fig", NOON)
    logbook = open_logbook(new_database())
    with logbook.begin() as c:
        for name, chat in (LARKMOOR, HERON):
            lb.note_person(c, name, chat, "Rowan", "owner")
    files = files_in(tmp_path, logbook)
    gardens = Gardens(logbook, files.settings())
    found = Hosted(tmp_path, logbook, files, gardens)
    found.goes_on()
    yield found
    logbook.close()


def files_in(folder: Path, logbook: Logbook) -> GardenFiles:
    return GardenFiles(folder, logbook, partial(transport_of, secrets=read_secrets({})))


def rewritten(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def test_a_contact_in_any_letters_runs_as_it_was_checked(hosted: Hosted) -> None:
    rewritten(hosted.larkmoor, 'services = ["saved"]', 'services = ["saved"]\ncontact = "rené@example.org"')
    hosted.goes_on()
    setting = hosted.gardens.setting_of(LARKMOOR[0])
    assert setting is not None
    assert setting.transport.user_agent == "bedstraw/0.1 (ren%C3%A9@example.org)"
    assert hosted.told(LARKMOOR) == []


def broken(path: Path) -> None:
    path.write_text("name = 7", encoding="utf-8")


def no_text(path: Path) -> None:
    path.write_bytes(b"\xff\xfe\x00")


def a_folder(path: Path) -> None:
    path.unlink()
    path.mkdir()


def leads_nowhere(path: Path) -> None:
    path.unlink()
    path.symlink_to(path.parent / "nowhere.toml")


def with_a_nul(path: Path) -> None:
    rewritten(path, 'name = "Larkmoor"', r'name = "Kestrel\u0000Bench"')


@pytest.mark.parametrize("spoil", [broken, no_text, a_folder, leads_nowhere, with_a_nul])
def test_a_spoilt_file_stops_no_other_garden_and_is_told_once(
    hosted: Hosted, spoil: Callable[[Path], None], caplog: pytest.LogCaptureFixture
) -> None:
    spoil(hosted.larkmoor)
    before = hosted.looked(HERON)
    hosted.at += timedelta(hours=13)  # the clock alone asks for a new look
    hosted.goes_on(3)
    assert hosted.looked(HERON) != before
    assert caplog.text.count("larkmoor.toml is left out") == 1
    (told,) = hosted.told(LARKMOOR)
    assert told.startswith("Your garden file was changed and I can't use it. I go on with it as it was before.")
    assert hosted.told(HERON) == []
    assert hosted.looked(LARKMOOR) is not None  # it goes on too, as it was


def test_a_file_that_was_spoilt_before_the_start_is_told_to_its_owners(hosted: Hosted) -> None:
    broken(hosted.larkmoor)
    again = files_in(hosted.path, hosted.logbook)
    assert list(again.settings()) == [HERON[0]]
    again.tell(hosted.at)
    (told,) = hosted.told(LARKMOOR)
    assert told.startswith("I can't use your garden file, so until it is mended I look after nothing in it.")


def test_two_files_of_one_name_are_told_once_in_the_log(hosted: Hosted, caplog: pytest.LogCaptureFixture) -> None:
    (hosted.path / "zz_copy.toml").write_bytes(hosted.larkmoor.read_bytes())
    hosted.goes_on(3)
    assert caplog.text.count("zz_copy.toml is left out") == 1


def test_past_weather_that_cannot_be_read_is_told_and_the_garden_goes_on(
    hosted: Hosted, caplog: pytest.LogCaptureFixture
) -> None:
    (hosted.path / "past.json").write_bytes(b'{"a": "\xff"}')
    rewritten(hosted.larkmoor, 'services = ["saved"]', 'services = ["saved"]\npast_weather = "past.json"')
    hosted.at += timedelta(hours=13)
    before = hosted.looked(LARKMOOR)
    hosted.goes_on(3)
    assert hosted.looked(LARKMOOR) != before
    (told,) = hosted.told(LARKMOOR)
    assert told.startswith("I can't read past.json, your past weather, so I go on without it.")
    assert caplog.text.count("past weather of Larkmoor") == 1


def test_a_spoilt_row_of_one_garden_keeps_no_other_from_its_rounds_and_no_watch_from_its_alarm(hosted: Hosted) -> None:
    with hosted.logbook.begin() as c:
        mine = states.c.name.in_(["asked", "round ended"]) & states.c.garden.contains("Larkmoor")
        assert c.execute(sa.update(states).where(mine).values(body="not json")).rowcount
        c.execute(sa.update(turns).values(due_utc=hosted.at))
    before = hosted.looked(HERON)
    hosted.at += timedelta(hours=13)
    hosted.goes_on()
    assert hosted.looked(HERON) != before
    hosted.gardens.tell_of_silence(hosted.at + timedelta(hours=4))  # raises nothing
    with hosted.logbook.begin() as c:
        assert c.scalar(sa.select(sa.func.count()).select_from(people)) == 2
