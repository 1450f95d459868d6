"""A garden file sent to the bot: taken back unchanged, asked about, refused in a sentence, undone; owners only."""

import json
import os
import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from bot.answers.garden_file.attachments import Attachments, AttachmentsOfMany, attachments_of
from bot.answers.garden_file.garden_import import KEPT, MOST_KEPT
from bot.logbook import gardens_to_fetch, note_state, read_told
from bot.outbox import Claimed
from bot.rounds.garden_on_disk import home_folder
from bot.rounds.setting import Setting
from bot.settings import read_garden
from bot.terminal_chat import read_line
from tests.bot.household_phones import Phones, demo_garden
from tests.bot.talk import GROUP, JUNIPER, ROWAN

MORNING = datetime(2025, 11, 28, 9, 20, tzinfo=ZoneInfo("America/Denver"))
ASKED = "use it as your garden file?"


@pytest.fixture
def phones(tmp_path: Path) -> Iterator[Phones]:
    phones = Phones(
        demo_garden(tmp_path, "Porch fig", "Bench fig", "Trial pomegranate"), MORNING, (ROWAN, JUNIPER, GROUP)
    )
    yield phones
    phones.close()


def setting(phones: Phones) -> Setting:
    return phones.watch.setting


def shelves(phones: Phones) -> Attachments:
    found = attachments_of(setting(phones), lambda: phones.now)
    assert found is not None
    return found


def send_file(phones: Phones, data: bytes, chat_id: int = ROWAN, name: str = "copy.toml") -> list[Claimed]:
    """A document sent, fetched by the door, and what came of it; the first word is that it is being read."""
    answers = phones.send(chat_id, kind="text", text="", file_id="f1", file_name=name)
    door = shelves(phones)
    for wanted in door.wanted(phones.now):
        door.keep(wanted, data)
    return [*answers, *(one for one in phones.listen() if one.chat_id == chat_id)]


def changed(phones: Phones) -> bytes:
    """The garden's file with a tree's worth changed."""
    return phones.path.read_bytes().replace(b"worth_trips = 60", b"worth_trips = 61", 1)


def old_files(phones: Phones) -> list[Path]:
    return sorted(home_folder(setting(phones), phones.path).glob(f"{KEPT}*"))


def test_the_exported_file_comes_back_unchanged(phones: Phones) -> None:
    (sent,) = phones.send(ROWAN, text="export", kind="text")
    assert sent.picture is not None
    exported = Path(sent.picture).read_bytes()
    assert "letter for letter" in send_file(phones, exported)[-1].text
    phones.path.write_bytes(changed(phones))  # meanwhile somebody changed it
    phones.tick()
    assert ASKED in send_file(phones, exported)[-1].text
    assert phones.tap("Use this file").startswith("Done: 3 trees")
    assert phones.path.read_bytes() == exported


def test_line_ends_and_the_mark_of_some_editors_come_back_as_they_were(phones: Phones) -> None:
    exported = b"\xef\xbb\xbf" + phones.path.read_bytes().replace(b"\n", b"\r\n")
    send_file(phones, exported)
    phones.tap("Use this file")
    assert phones.path.read_bytes() == exported


def test_nothing_changes_before_a_tap_and_what_would_change_is_told(phones: Phones) -> None:
    before = phones.path.read_bytes()
    first, asked = send_file(phones, changed(phones))
    assert first.text == "I am reading copy.toml. Nothing changes before you say so."
    assert "Changed: Porch fig." in asked.text
    assert [button.label for button in asked.buttons] == ["Use this file", "Keep mine"]
    assert phones.path.read_bytes() == before
    assert phones.tap("Keep mine") == "All right, I keep the garden file I have."
    assert phones.path.read_bytes() == before


def test_new_and_missing_trees_are_told_and_watched_at_once(phones: Phones) -> None:
    text = phones.path.read_text().replace('"Trial pomegranate"', '"Gate fig"')
    asked = send_file(phones, text.encode())[-1].text
    assert "New: Gate fig." in asked
    assert "Gone: Trial pomegranate." in asked
    phones.tap("Use this file")
    assert "Gate fig" in phones.say("trees")


def test_one_tap_puts_the_old_file_back_and_records_stay(phones: Phones) -> None:
    before = phones.path.read_bytes()
    phones.say("closed porch")
    send_file(phones, changed(phones))
    answer = phones.tap("Use this file")
    assert old_files(phones)[0].name in answer
    assert old_files(phones)[0].read_bytes() == before
    assert old_files(phones)[0].stat().st_mode & 0o777 == 0o600  # it says where somebody lives
    phones.tap("Put the old one back")
    assert phones.path.read_bytes() == before
    with phones.logbook.begin() as c:
        assert len(read_told(c, "Larkmoor")) == 1


def test_undo_after_an_import_takes_back_what_was_said_not_the_file(phones: Phones) -> None:
    send_file(phones, new := changed(phones))
    phones.tap("Use this file")
    phones.say("closed porch")
    assert "Undone: Porch fig closed" in phones.say("undo")
    assert phones.path.read_bytes() == new


def test_a_bad_file_gets_a_sentence_and_nothing_is_lost(phones: Phones) -> None:
    before = phones.path.read_bytes()
    token = "4839574812:AAFD39kkdpWt3ywyRZergyOLMaJhac60qcK"  # noqa: S105 - invented
    (phones.path.parent / "other.csv").write_text("date,min_c,max_c\n2020-01-01,-5,5\n")
    bad = {
        b" \n": "it is empty",
        b"\xff\xfe\x00g": "is not text in UTF-8",
        b"#" * 100_001: "has 100,001 bytes",
        b"name = ": "a mistake",
        b"hello there\n": "a mistake",
        b'name = "Larkmoor"\n': "mistake",
        before.replace(b'"Larkmoor"', b'"Merlin Bench"'): 'called "Merlin Bench"; this one is "Larkmoor"',
        b'past_winters = "other.csv"\n' + before: "names another past_winters than mine",
        f"# {token}\n".encode() + before: "token does not belong",
    }
    for data, why in bad.items():
        answer = send_file(phones, data)[-1]
        assert why in answer.text
        assert "nothing was changed" in answer.text.casefold()
        assert len(answer.text) < 600
        assert str(phones.path.parent) not in answer.text  # where it lies on the machine is nobody's business
        assert token not in answer.text
        assert answer.buttons == ()
        assert phones.path.read_bytes() == before
    assert [file.name for file in phones.path.parent.glob(".*")] == []


def test_only_an_owner_may_send_one_and_not_in_a_group(phones: Phones) -> None:
    file = {"kind": "text", "text": "", "file_id": "f1", "file_name": "copy.toml"}
    for chat, sender, answer in ((JUNIPER, JUNIPER, "Only an owner"), (GROUP, JUNIPER, "Only an owner")):
        (said,) = phones.send(chat, sender=sender, **file)
        assert said.text.startswith(answer)
    (said,) = phones.send(GROUP, sender=ROWAN, **file)
    assert said.text.startswith("Not here")
    assert shelves(phones).wanted(phones.now) == []


def test_another_kind_of_file_and_one_too_large_are_not_fetched(phones: Phones) -> None:
    # the door leaves out the id of what is too large for a garden
    for name, file_id in (("holiday.pdf", "f1"), ("a file without a name", "f1"), ("copy.toml", "")):
        (said,) = phones.send(ROWAN, kind="text", text="", file_id=file_id, file_name=name)
        assert said.text.startswith("I can use a photo of a tree, or a garden file (.toml, at most 100 kB)")
    assert shelves(phones).wanted(phones.now) == []


def test_a_file_the_messenger_does_not_give_is_asked_for_once_more(phones: Phones) -> None:
    assert "Please send it once more" in send_file(phones, b"")[-1].text
    assert shelves(phones).wanted(phones.now) == []


def test_a_file_fetched_too_late_is_not_asked_about_out_of_the_blue(phones: Phones) -> None:
    phones.send(ROWAN, kind="text", text="", file_id="f1", file_name="copy.toml")
    data = changed(phones)
    door = shelves(phones)
    (wanted,) = door.wanted(phones.now)  # and the messenger takes its time
    phones.now += timedelta(hours=2)
    door.keep(wanted, data)
    door.keep(wanted, data)  # a second fetch of the same file says nothing
    (answer,) = phones.listen()
    assert "send it once more" in answer.text


def test_the_last_ten_old_files_are_kept(phones: Phones) -> None:
    one, other = phones.path.read_bytes(), changed(phones)
    for turn in range(MOST_KEPT + 2):
        phones.now += timedelta(minutes=1)
        send_file(phones, (other, one)[turn % 2])
        phones.tap("Use this file")
    assert len(old_files(phones)) == MOST_KEPT


def test_the_terminal_reads_the_file_that_import_names(tmp_path: Path) -> None:
    from bot.terminal_chat import _file_named

    path = tmp_path / "my copy.toml"
    path.write_bytes(b"name = \xff")
    raw = {"update_id": 1, "person": "Rowan", "at": MORNING.astimezone(UTC).isoformat(), "text": f"import {path}"}
    heard = read_line(json.dumps(raw | _file_named(f'import "{path}"')))
    assert heard.file_name == "my copy.toml"
    assert heard.file_text is not None
    assert heard.file_text.encode("utf-8", "surrogateescape") == b"name = \xff"
    assert _file_named("import nothing.toml") == {}
    assert _file_named(f"import {tmp_path}") == {}


def test_import_alone_says_how(phones: Phones) -> None:
    assert phones.say("import").startswith("Send me the garden file here, as a file")
    # a path is for the terminal alone
    assert phones.say(f"import {phones.path}").startswith("Send me the garden file here")


def test_a_deed_is_still_a_deed_while_an_import_waits_for_its_answer(phones: Phones) -> None:
    send_file(phones, changed(phones))
    assert "Porch fig closed" in phones.say("closed porch")
    assert "Done" in phones.tap("Use this file")


def test_the_file_read_again_is_the_same_garden(phones: Phones) -> None:
    before = read_garden(phones.path)
    send_file(phones, changed(phones))
    phones.tap("Use this file")
    after = read_garden(phones.path)
    assert after.trees[0].worth_trips == 61
    assert after.trees[1:] == before.trees[1:]


class _Two:
    """Two gardens behind one door, of which one has anything sent to it."""

    def __init__(self, phones: Phones) -> None:
        self.logbook = phones.logbook
        self.settings = {"Larkmoor": setting(phones)}

    def setting_of(self, garden: str) -> Setting | None:
        return self.settings.get(garden)

    def beginning_of(self, _: str) -> None:
        return None


def test_behind_a_door_of_many_gardens_a_file_finds_its_own_and_is_fetched_once(phones: Phones) -> None:
    door = AttachmentsOfMany(_Two(phones), lambda: phones.now)
    assert door.wanted(phones.now) == []
    phones.send(ROWAN, kind="text", text="", file_id="f1", file_name="copy.toml")
    (wanted,) = door.wanted(phones.now)
    assert (wanted.garden, wanted.file_id) == ("Larkmoor", "f1")
    door.keep(wanted, changed(phones))
    assert ASKED in phones.listen()[-1].text
    assert door.wanted(phones.now) == []
    with phones.logbook.begin() as c:
        assert gardens_to_fetch(c) == []


def test_while_a_sent_file_is_read_others_write_to_the_logbook(phones: Phones) -> None:
    """The old file is a pipe here: the reading stands still exactly as long as this test holds its other end."""
    phones.send(ROWAN, kind="text", text="", file_id="f1", file_name="copy.toml")
    data, door = changed(phones), shelves(phones)
    (wanted,) = door.wanted(phones.now)
    phones.path.unlink()
    os.mkfifo(phones.path)
    reading = threading.Thread(target=door.keep, args=(wanted, data))
    reading.start()
    with phones.path.open("wb"):  # returns once the other thread is in the midst of reading
        with phones.logbook.begin() as c:
            note_state(c, "Larkmoor", "meanwhile", "1")
        assert phones.listen() == []
    reading.join()
    assert ASKED in phones.listen()[-1].text


def test_a_file_sent_after_the_old_one_was_taken_away_takes_its_place(phones: Phones) -> None:
    data = changed(phones)
    phones.path.unlink()
    assert ASKED in send_file(phones, data)[-1].text
    assert phones.tap("Use this file").startswith("Done: 3 trees")
    assert phones.path.read_bytes() == data


def test_a_file_of_very_many_mistakes_gets_a_short_answer(phones: Phones) -> None:
    answer = send_file(phones, "".join(f"k{i} = 1\n" for i in range(700)).encode())[-1].text
    assert "It has 705 mistakes:" in answer
    assert answer.endswith("and 702 more.")
    assert len(answer) < 600
