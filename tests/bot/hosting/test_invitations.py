"""Who is invited begins a garden of their own in the chat of many, by talking or by a file; nobody else does."""

import zipfile
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import sqlalchemy as sa
from pytest_httpserver import HTTPServer

from bot.answers.garden_file.attachments import AttachmentsOfMany
from bot.commands.serving.invite import invitations, invite, revoke
from bot.forecasts import Transport
from bot.hosting.beginnings import Beginnings
from bot.hosting.garden_files import GardenFiles
from bot.hosting.many_gardens import Gardens
from bot.logbook import Logbook, hash_of_code, list_people, open_logbook
from bot.logbook.database.tables import outbox
from bot.logbook.garden.invitations import make_invitation, revoke_invitation
from bot.rounds.setting import GUEST
from bot.settings import SecretsError, read_garden
from tests.bot.invented_gardens import Clock, said
from tests.bot.migrated import new_file
from tests.bot.talk import keep, read_said

NOON = datetime(2026, 12, 2, 19, tzinfo=UTC)
ROWAN, ALDER, GROUP = 11, 12, -5
FORTNIGHT = timedelta(days=14)


class Deployment:
    """A folder without any garden, one logbook, and a bot of many gardens."""

    def __init__(self, folder: Path, address: str) -> None:
        self.folder, self.clock, self.updates = folder, Clock(NOON), 0
        self.logbook: Logbook = open_logbook(new_file(folder / "many.logbook"))
        transport = Transport(addresses={"open-meteo": address}, pause=lambda _: None)
        self.files = GardenFiles(folder, self.logbook, lambda _: transport)
        self.gardens = Gardens(self.logbook, {})
        self.gardens.begin_with(Beginnings(folder, self.logbook, transport, self._reread))

    def _reread(self) -> None:
        self.gardens.change(self.files.settings(), self.clock())

    def invitation(self, uses: int = 1) -> tuple[int, str]:
        with self.logbook.begin() as c:
            return make_invitation(c, self.clock(), FORTNIGHT, uses)

    def hears(self, chat_id: int, text: str, **more: object) -> str:
        """What is said back."""
        self.updates += 1
        incoming = said(self.updates, chat_id, text, self.clock(), **more)
        before = len(self._texts(chat_id))
        keep(self.logbook, incoming, self.clock())
        self.gardens.take_pending(read_said, self.clock)
        return "\n".join(self._texts(chat_id)[before:])

    def _texts(self, chat_id: int) -> list[str]:
        with self.logbook.begin() as c:
            return list(c.scalars(sa.select(outbox.c.text).where(outbox.c.chat_id == chat_id).order_by(outbox.c.id)))

    def comes(self, chat_id: int, code: str) -> str:
        """Somebody with a code, as the link sends it."""
        return self.hears(chat_id, "", code_hash=hash_of_code(code))

    def begins(self, chat_id: int, code: str, tree: str) -> str:
        self.comes(chat_id, code)
        answer = ""
        for words in ("39.0, -109.0", "yes", "1", f"a fig called {tree}, in the open, no cover", "40", "early"):
            answer = self.hears(chat_id, words)
        return answer

    def sends(self, chat_id: int, text: str) -> str:
        """A garden file, fetched by the door and read."""
        self.hears(chat_id, "", file_id=f"f{self.updates}", file_name="mine.toml")
        before = len(self._texts(chat_id))
        shelf = AttachmentsOfMany(self.gardens, self.clock)
        for wanted in shelf.wanted(self.clock()):
            shelf.keep(wanted, text.encode())
        return "\n".join(self._texts(chat_id)[before:])

    def gardens_begun(self) -> list[str]:
        return sorted(read_garden(path).name for path in self.folder.glob("begun_*.toml"))


@pytest.fixture
def hosted(tmp_path: Path, httpserver: HTTPServer) -> Iterator[Deployment]:
    httpserver.expect_request("/v1/elevation").respond_with_json({"elevation": [1743.0]})
    deployment = Deployment(tmp_path, httpserver.url_for("").rstrip("/"))
    yield deployment
    deployment.logbook.close()


def test_who_is_invited_begins_a_garden_in_the_chat_and_is_its_owner(hosted: Deployment) -> None:
    _, code = hosted.invitation()
    hello = hosted.comes(ROWAN, code)
    assert "kept on the machine of whoever runs me" in hello
    assert "Where is it?" in hello
    assert hosted.hears(ROWAN, "39.0, -109.0") == "Is your clock on America/Denver time?"
    assert "1743 m" in hosted.hears(ROWAN, "yes")
    for words in ("1", "a fig called Well, in the open, straw cage with film", "not on yet", "40"):
        hosted.hears(ROWAN, words)
    assert "Rowan's garden is set up, with Well" in hosted.hears(ROWAN, "fewest trips")
    assert "1. Well:" in hosted.hears(ROWAN, "trees")  # at once, and not when the folder is looked at next
    (begun,) = hosted.gardens_begun()
    with hosted.logbook.begin() as c:
        assert [(one.chat_id, one.role) for one in list_people(c, begun)] == [(ROWAN, "owner")]


def test_an_invitation_is_counted_expires_and_is_taken_back(hosted: Deployment) -> None:
    number, code = hosted.invitation(uses=2)
    hosted.begins(ROWAN, code, "Well")
    hosted.begins(ALDER, code, "Gate")
    assert "used up" in hosted.comes(13, code)
    number, other = hosted.invitation()
    hosted.clock.pass_(FORTNIGHT)
    assert "out of date" in hosted.comes(13, other)
    number, third = hosted.invitation()
    with hosted.logbook.begin() as c:
        assert revoke_invitation(c, number, hosted.clock())
        assert not revoke_invitation(c, number, hosted.clock())
    assert "wrong, used up or out of date" in hosted.comes(13, third)
    assert hosted.gardens_begun() == ["Rowan's garden", "Rowan's garden 2"]  # two of one name


def test_two_gardens_that_began_so_hear_nothing_of_each_other(hosted: Deployment) -> None:
    _, code = hosted.invitation(uses=2)
    hosted.begins(ROWAN, code, "Well")
    hosted.begins(ALDER, code, "Gate")
    assert "Well" not in hosted.hears(ALDER, "trees")
    assert "Gate" not in hosted.hears(ROWAN, "trees")


def test_a_group_and_whoever_has_a_garden_begin_none(hosted: Deployment) -> None:
    _, code = hosted.invitation(uses=5)
    assert "wrong" in hosted.comes(GROUP, code)
    hosted.begins(ROWAN, code, "Well")
    assert "let in already" in hosted.comes(ROWAN, code)
    assert len(hosted.gardens_begun()) == 1


def test_who_comes_back_after_days_goes_on_where_they_were(hosted: Deployment) -> None:
    _, code = hosted.invitation()
    hosted.comes(ROWAN, code)
    hosted.hears(ROWAN, "39.0, -109.0")
    hosted.clock.pass_(timedelta(days=9))
    assert "1743 m" in hosted.hears(ROWAN, "yes")


def test_who_leaves_before_it_began_leaves_nothing_and_the_link_serves_again(hosted: Deployment) -> None:
    _, code = hosted.invitation()
    hosted.comes(ROWAN, code)
    hosted.hears(ROWAN, "39.0, -109.0")
    assert "Nothing you told me is kept" in hosted.hears(ROWAN, "leave")
    assert "private garden" in hosted.hears(ROWAN, "yes")
    assert "is set up" in hosted.begins(ROWAN, code, "Well")


def test_a_garden_begins_with_a_file_whatever_it_is_called_there(hosted: Deployment) -> None:
    _, code = hosted.invitation(uses=2)
    hosted.begins(ROWAN, code, "Well")
    (path,) = hosted.folder.glob("begun_*.toml")
    brought = path.read_text().replace('"Well"', '"Gate"')  # the name of a garden there is already
    hosted.comes(ALDER, code)
    told = hosted.sends(ALDER, brought)
    assert "Rowan's garden 2 is set up, with 1 tree." in told
    assert "Your file calls it Rowan's garden" in told
    assert "1. Gate:" in hosted.hears(ALDER, "trees")
    assert "1. Well:" in hosted.hears(ROWAN, "trees")


@pytest.mark.parametrize(
    ("spoil", "why"),
    [
        (lambda text: text.replace("latitude_deg = 39.0", "latitude_deg = 139.0"), "latitude_deg"),
        (lambda text: text.replace("quiet_from", 'past_weather = "/etc/hostname"\nquiet_from', 1), "past_weather"),
        (lambda text: text + "".join(f'\n[[trees]]\nname = "T{n}"\nspecies = "fig"\n' for n in range(60)), "60"),
        (lambda _: "not a garden", "can't"),
    ],
)
def test_a_file_that_cannot_be_used_begins_nothing_and_says_why(
    hosted: Deployment, spoil: Callable[[str], str], why: str
) -> None:
    _, code = hosted.invitation(uses=2)
    hosted.begins(ROWAN, code, "Well")
    (path,) = hosted.folder.glob("begun_*.toml")
    hosted.comes(ALDER, code)
    told = hosted.sends(ALDER, spoil(path.read_text()))
    assert why in told
    assert str(hosted.folder) not in told
    assert len(hosted.gardens_begun()) == 1
    assert "clock" in hosted.hears(ALDER, "39.0, -109.0")  # and the talk goes on


def test_a_garden_that_began_so_grows_no_further_than_it_may(hosted: Deployment) -> None:
    _, code = hosted.invitation()
    hosted.begins(ROWAN, code, "Well")
    (path,) = hosted.folder.glob("begun_*.toml")
    more = "".join(f'\n[[trees]]\nname = "T{n}"\nspecies = "fig"\n' for n in range(GUEST.most_trees - 1))
    path.write_text(path.read_text() + more)
    hosted.gardens.change(hosted.files.settings(), hosted.clock())
    assert f"may have {GUEST.most_trees} trees" in hosted.hears(ROWAN, "add a fig called One more, in the open")


def test_who_leaves_takes_everything_along_and_nothing_stays(hosted: Deployment) -> None:
    _, code = hosted.invitation()
    hosted.begins(ROWAN, code, "Well")
    hosted.hears(ROWAN, "low was -4 at well")
    assert "its file, 1 record as a table" in hosted.hears(ROWAN, "export everything")
    with hosted.logbook.begin() as c:
        path = c.scalar(sa.select(outbox.c.picture).where(outbox.c.picture.is_not(None)))
    with zipfile.ZipFile(str(path)) as packed:
        (garden_file,) = (name for name in packed.namelist() if name.endswith(".toml"))
        assert b'name = "Well"' in packed.read(garden_file)
        assert b"Well,reading" in packed.read("season.csv")
    hosted.hears(ROWAN, "delete my data")
    hosted.hears(ROWAN, "yes")
    hosted.hears(ROWAN, "yes")
    assert hosted.gardens_begun() == []
    hosted.gardens.change(hosted.files.settings(), hosted.clock())
    assert "private garden" in hosted.hears(ROWAN, "trees")


def test_the_host_makes_lists_and_takes_back_invitations(
    new_database: Callable[[], str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BEDSTRAW_LOGBOOK", new_database())
    assert invitations().startswith("There are no invitations")
    made = invite(3, 7)
    assert "Invitation 1: whoever sends this to the bot begins a garden" in made
    assert "good for 3 gardens, 7 days long" in made
    assert "Invitation 1: good for 3 gardens more" in invitations()
    assert "is taken back" in revoke(1)
    assert "no invitation 1" in revoke(1)
    assert invitations() == "Invitation 1: taken back."


def test_a_bot_of_one_garden_has_no_invitations(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BEDSTRAW_LOGBOOK", f"sqlite:///{tmp_path / 'one.logbook'}")
    with pytest.raises(SecretsError, match="many gardens"):
        invite(1, 14)
