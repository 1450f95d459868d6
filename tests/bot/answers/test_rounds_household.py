"""Whole conversations of a household: garden changed by chat, season told, people let in and out, data deleted."""

import re
import tomllib
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from bot.answers.season.photos import MOST_A_DAY, PhotoShelf, shelf_of
from bot.logbook import list_people, read_told
from bot.messages import LARGEST_PHOTO_BYTES
from bot.rounds.garden_on_disk import home_folder
from bot.rounds.setting import OWN, Setting
from bot.settings import read_garden
from rules.garden.records import Deed, Dieback
from rules.garden.season_records import Gift, Harvest, Photo
from tests.bot.household_phones import Phones, demo_garden
from tests.bot.talk import GROUP, JUNIPER, NAMES, ROWAN, STRANGER

ZONE = ZoneInfo("America/Denver")
MORNING = datetime(2025, 11, 28, 9, 20, tzinfo=ZONE)
JPEG = b"\xff\xd8\xff\xe0" + bytes(100)


@pytest.fixture
def phones(tmp_path: Path) -> Iterator[Phones]:
    phones = Phones(
        demo_garden(tmp_path, "Porch fig", "Bench fig", "Pomegranate", "Trial pomegranate"),
        MORNING,
        (ROWAN, JUNIPER, GROUP),
    )
    yield phones
    phones.close()


def told(phones: Phones) -> list[object]:
    with phones.logbook.begin() as c:
        return [one.entry for one in read_told(c, "Larkmoor")]


def trees(phones: Phones) -> list[str]:
    return [tree.name for tree in read_garden(phones.path).trees]


# --- the garden by chat ----------------------------------------------------------------------------------------------


def test_a_tree_is_added_by_a_sentence_and_four_taps_and_watched_at_once(phones: Phones) -> None:
    assert "stand" in phones.say("add a fig called Gate, planted 2023")
    assert "cover" in phones.tap("House wall")
    assert "How does the cover of" in phones.tap("Straw, film")
    assert "worth" in phones.tap("Cap open")
    assert phones.tap("As usual: 40").startswith("Added Gate: fig, against the wall of a heated house, planted 2023")
    tree = read_garden(phones.path).trees[-1]
    assert (tree.name, tree.standing, tree.cover, tree.worth_trips) == ("Gate", "wall", "straw cage with film", 40)
    assert "Gate: cap open" in phones.say("trees")


def test_the_same_questions_are_answered_by_typing(phones: Phones) -> None:
    phones.say("add an olive called Gate")
    phones.say("under the eaves")
    phones.say("burlap")
    phones.say("not on yet")
    assert "worth 25 trips" in phones.say("25")
    assert (read_garden(phones.path).trees[-1].standing, trees(phones)[-1]) == ("eave", "Gate")


def test_a_deed_told_between_two_questions_is_noted_and_the_question_still_waits(phones: Phones) -> None:
    phones.say("add a fig called Gate")
    assert phones.say("wrapped porch").startswith("Noted: Porch fig wrapped")
    assert "cover" in phones.tap("House wall")
    assert sum(isinstance(entry, Deed) for entry in told(phones)) == 1


def test_a_tap_on_a_question_of_before_changes_nothing(phones: Phones) -> None:
    phones.say("add a fig called Gate")
    phones.tap("House wall")
    assert "settled" in phones.tap("In the open")
    assert "never mind" in phones.say("cancel")
    assert trees(phones) == ["Porch fig", "Bench fig", "Pomegranate", "Trial pomegranate"]


@pytest.mark.parametrize(
    ("said", "sentence"),
    [
        ("add a fig called Porch", "called Porch already"),
        ("add a fig called Due", "is a word of the conversation"),
        ("add a fig called 42", "must not be a number"),
    ],
)
def test_a_name_that_will_not_do_is_refused_before_any_question(phones: Phones, said: str, sentence: str) -> None:
    before = phones.path.read_bytes()
    assert sentence in phones.say(said)
    assert phones.path.read_bytes() == before


def test_a_cover_is_described_in_the_growers_units_and_a_shared_one_left_to_the_others(phones: Phones) -> None:
    text = phones.say("cover porch: straw cage with film, 50 cm inside, 90 cm outside")
    assert "50 cm inside, 90 cm outside" in text
    garden = read_garden(phones.path)
    assert [tree.cover for tree in garden.trees[:2]] == ["Porch fig", "straw cage"]
    assert garden.covers["Porch fig"].inner_diameter_m == pytest.approx(0.5)
    assert garden.covers["straw cage"].inner_diameter_m == pytest.approx(0.6)
    assert "120 cm high" in phones.say("cover porch: 120 cm high")
    written = tomllib.loads(phones.path.read_text())["covers"]["Porch fig"]
    assert written["height_cm"] == 120
    assert written["inner_diameter_cm"] == 50


def test_a_cover_nobody_builds_is_refused_with_the_readers_own_sentence(phones: Phones) -> None:
    before = phones.path.read_bytes()
    text = phones.say("cover porch: straw cage, 90 cm inside, 80 cm outside")
    assert "nothing was changed" in text
    assert "outer_diameter" in text
    assert phones.path.read_bytes() == before


def test_a_tree_is_renamed_with_its_records_and_removed_without_them_only_after_a_yes(phones: Phones) -> None:
    phones.say("picked 12 figs from porch")
    phones.say("rename porch to Front door")
    assert trees(phones)[0] == "Porch fig"
    phones.tap("Rename")
    assert trees(phones)[0] == "Front door"
    assert told(phones) == [Harvest(tree="Front door", count=12, at_utc=told(phones)[0].at_utc)]  # type: ignore[attr-defined]  # every entry has it
    phones.say("remove front door")
    assert "Nothing was changed" in phones.say("no")
    phones.say("remove front door")
    phones.tap("Remove")
    assert trees(phones) == ["Bench fig", "Pomegranate", "Trial pomegranate"]
    assert len(told(phones)) == 1


def test_a_nudge_about_a_removed_tree_is_asked_no_more(phones: Phones) -> None:
    asked = phones.tick()
    assert any("Wrap" in one.text for one in asked)
    phones.say("remove porch")
    phones.say("yes")
    assert phones.say("wrapped bench").startswith("Noted: Bench fig wrapped")
    phones.tick()
    assert "Porch" not in phones.say("due")
    for button in [button for one in asked for button in one.buttons]:  # of the message that is still on the screen
        answers = phones.send(ROWAN, button=button.data, kind="tap")
        assert answers
        assert not any("stumbled" in one.text for one in answers), button.label


def test_a_choice_between_trees_is_out_of_date_once_one_of_them_is_gone(phones: Phones) -> None:
    assert "Which" in phones.say("closed the fig") or "?" in phones.heard[-1].text
    choices = phones.heard[-1].buttons
    phones.say("remove porch")
    phones.say("yes")
    for button in choices:
        answers = phones.send(ROWAN, button=button.data, kind="tap")
        assert answers
        assert not any("stumbled" in one.text for one in answers), button.label


def test_a_file_changed_by_hand_is_taken_at_the_next_tick_and_a_broken_one_is_not(phones: Phones) -> None:
    text = phones.path.read_text()
    phones.path.write_text(text.replace('name = "Bench fig"', 'name = "Lawn fig"').replace('"Bench fig"', '"Lawn fig"'))
    phones.tick()
    assert "Lawn fig" in phones.say("trees")
    phones.path.write_text("name = ")
    phones.tick()
    assert "Lawn fig" in phones.say("trees")


def test_export_gives_the_file_byte_for_byte(phones: Phones) -> None:
    before = phones.path.read_bytes()
    (sent,) = phones.send(ROWAN, text="export", kind="text")
    assert sent.picture is not None
    assert Path(sent.picture).read_bytes() == before


def test_who_writes_a_decimal_comma_reads_one_too(phones: Phones) -> None:
    phones.path.write_text(phones.path.read_text().replace("[units]", '[units]\ndecimal = "comma"'))
    phones.tick()
    answer = phones.say("-6,5 at the porch")
    assert "−6,5 °C" in answer
    assert not re.search(r"\d\.\d", answer)


# --- the household ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "said",
    ["add a kaki called Gate", "remove porch", "rename porch to X", "cover porch: burlap", "let someone in",
     "put out Rowan", "export"],
)  # fmt: skip
def test_a_helper_is_told_whom_to_ask_and_changes_nothing(phones: Phones, said: str) -> None:
    before = phones.path.read_bytes()
    for chat in (JUNIPER, GROUP):
        assert phones.say(said, chat, sender=JUNIPER) == "Only an owner of this garden can do that. Ask Rowan."
    assert phones.path.read_bytes() == before


def test_somebody_is_let_in_by_a_code_shown_in_the_chat_and_put_out_again(phones: Phones) -> None:
    code = phones.say("let Alder in").splitlines()[0]
    assert re.fullmatch(r"(?:\w{4}-){2}\w{4}", code)
    assert "private garden" in phones.say("hello", STRANGER)
    assert "Welcome" in phones.say(code, STRANGER)
    assert "Alder: helper" in phones.say("who is here")
    phones.say("put out alder")
    assert "Alder is removed" in phones.tap("Remove Alder")
    phones.say("closed porch", STRANGER)
    assert told(phones) == []
    with phones.logbook.begin() as c:
        assert NAMES[STRANGER] not in [person.name for person in list_people(c, "Larkmoor")]


def test_a_code_works_once(phones: Phones) -> None:
    code = phones.say("let someone in").splitlines()[0]
    phones.say(code, STRANGER)
    assert "wrong, used up or out of date" in phones.say(code, 10, sender=STRANGER)


def test_nobody_puts_out_themselves_or_somebody_who_is_not_here(phones: Phones) -> None:
    assert "delete my data" in phones.say("put out Rowan")
    assert "Nobody here is called Linnet" in phones.say("put out Linnet")


def test_one_answer_settles_for_all_and_says_whose_it_was(phones: Phones) -> None:
    phones.tick()
    phones.say("wrapped porch, bench and pom", JUNIPER)
    phones.tick()
    settled = [one for one in phones.heard if one.text.startswith("Settled")]
    assert {one.chat_id for one in settled} >= {ROWAN}
    assert all("by Juniper" in one.text for one in settled)
    assert "Juniper 3" in phones.say("season")


def test_in_a_group_the_name_of_who_wrote_is_kept_and_the_owner_is_known_by_themselves(phones: Phones) -> None:
    phones.say("closed porch", GROUP, sender=JUNIPER)
    assert "(Juniper)" in phones.say("season porch")
    assert "Not here" in phones.say("let someone in", GROUP, sender=ROWAN)
    assert "stand" in phones.say("add a fig called Gate", GROUP, sender=ROWAN)


# --- the season ------------------------------------------------------------------------------------------------------


def test_the_season_is_told_and_answered_with_a_page_of_at_most_twelve_lines(phones: Phones) -> None:
    phones.tick()
    assert "died back 30 cm of 150 cm, a fifth" in phones.say("porch died back 30 cm of 150")
    assert phones.say("picked 12 figs from porch") == "Noted: 12 picked from Porch fig."
    assert phones.say("picked 3 figs from porch", JUNIPER) == "Noted: 3 picked from Porch fig. 15 of this year's crop."
    phones.say("pruned porch by a third")
    phones.say("took 4 cuttings from bench for Alder")
    page = phones.say("season")
    assert "died back 30 cm of 150 cm, a fifth; 15 picked; pruned" in page
    assert "4 cuttings" in page
    words = next(one for one in reversed(phones.heard) if one.text.startswith("The season"))
    assert len(words.text.splitlines()) <= 12
    assert len(words.text) <= 1200


def test_twins_are_set_side_by_side(phones: Phones) -> None:
    assert "How is its twin, Trial pomegranate?" in phones.say("pom no damage")
    assert "Its twin Pomegranate came through whole." in phones.say("trial lost two thirds")
    assert (
        "Twins: Pomegranate (covered) came through whole; Trial pomegranate (bare) lost two thirds of its wood."
        in phones.say("season")
    )


def test_the_same_cultivar_twice_is_noticed_under_another_name_and_who_gets_the_spare(phones: Phones) -> None:
    phones.say("add a King fig called Gate, to give away")
    phones.tap("In the open")
    phones.tap("No cover")
    phones.tap("A little: 10")
    assert (
        "Porch fig and Gate are the same cultivar, Desert King. Gate is the spare, to give away: to whom?"
        in phones.say("season")
    )
    phones.say("gate goes to Juniper")
    assert "Gate is the spare, for Juniper" in phones.say("season")
    assert any(isinstance(entry, Gift) for entry in told(phones))


def test_each_word_of_the_season_can_be_undone(phones: Phones) -> None:
    for said in ("porch lost a third", "picked 2 figs from porch", "pruned porch", "4 cuttings from porch"):
        phones.say(said)
        assert len(told(phones)) == 1
        assert phones.say("undo").startswith("Undone: ")
        assert told(phones) == []


def test_dieback_reaches_the_rules_as_a_share(phones: Phones) -> None:
    phones.say("porch died back 30 cm of 150")
    (entry,) = told(phones)
    assert isinstance(entry, Dieback)
    assert entry.lost == pytest.approx(0.2)


def test_sizes_are_said_in_inches_where_the_grower_reads_inches(tmp_path: Path) -> None:
    path = demo_garden(tmp_path, "Porch fig")
    path.write_text(path.read_text().replace('length = "cm"', 'length = "in"'))
    phones = Phones(path, MORNING)
    assert "died back 12 in of 60 in, a fifth" in phones.say("porch died back 12 of 60")
    assert "20 in inside" in phones.say("cover porch: straw cage, 20 inside, 36 outside")
    assert tomllib.loads(path.read_text())["covers"]["straw cage"]["inner_diameter_in"] == 20
    phones.close()


# --- photos ----------------------------------------------------------------------------------------------------------


def shelf(phones: Phones) -> PhotoShelf:
    garden = read_garden(phones.path)
    setting = Setting(garden=garden, logbook=phones.logbook, transport=None, path=phones.path)  # type: ignore[arg-type]  # no weather is asked
    found = shelf_of(setting)
    assert found is not None
    assert home_folder(setting, phones.path) == folder(phones)
    return found


def folder(phones: Phones) -> Path:
    return phones.path.with_suffix(".photos")


def test_a_photo_is_kept_under_its_day_and_tree_and_taken_away_by_undo(phones: Phones) -> None:
    text = phones.say("porch", photo_id="AgADBAAD")
    assert text == "Kept: a photo of Porch fig, today."
    (wanted,) = shelf(phones).wanted(phones.now)
    name = shelf(phones).keep(wanted, JPEG)
    assert re.fullmatch(r"2025-11-28_porch-fig_\d+\.jpg", name)
    assert (folder(phones) / name).read_bytes() == JPEG
    assert (folder(phones) / name).stat().st_mode & 0o777 == 0o600
    phones.say("undo")
    assert shelf(phones).wanted(phones.now) == []
    assert list(folder(phones).iterdir()) == []


def test_one_person_s_photos_of_a_day_are_bounded_and_the_others_are_kept(phones: Phones) -> None:
    for number in range(MOST_A_DAY):
        assert phones.say("porch", photo_id=f"AgAD{number}").startswith("Kept")
    assert "more than 50 photos from you within a day" in phones.say("porch", photo_id="AgADone")
    assert "more than 50" in phones.say("", photo_id="AgADone")  # not asked of which tree, either
    assert phones.say("porch", JUNIPER, photo_id="AgADhers").startswith("Kept")
    phones.now += timedelta(days=1)
    assert phones.say("porch", photo_id="AgADnext").startswith("Kept")


def test_photos_never_fill_the_disk_on_which_the_logbook_lies(phones: Phones) -> None:
    folder = phones.path.with_suffix(".photos")
    folder.mkdir()
    with (folder / "2025-01-01_porch-fig_1.jpg").open("wb") as file:
        file.truncate(OWN.most_photo_bytes - LARGEST_PHOTO_BYTES)  # a file of holes: it takes no room here
    assert phones.say("porch", photo_id="AgADBAAD").startswith("Kept")
    with (folder / "2025-01-02_porch-fig_2.jpg").open("wb") as file:
        file.truncate(1)
    assert "take 2 GB, all that I keep" in phones.say("porch", photo_id="AgADBAAE")


def test_a_photo_without_a_word_asks_of_which_tree_it_is(phones: Phones) -> None:
    assert phones.say("", photo_id="AgADBAAD") == "A photo of which tree?"
    assert phones.tap("Bench fig") == "Kept: a photo of Bench fig, today."
    phones.say("", photo_id="AgADBAAE")
    assert phones.say("trial") == "Kept: a photo of Trial pomegranate, today."


def test_a_deed_under_a_photo_is_noted_too(phones: Phones) -> None:
    text = phones.say("closed porch", photo_id="AgADBAAD")
    assert "Kept: a photo of Porch fig" in text
    assert "Noted: Porch fig closed" in text
    assert [type(entry) for entry in told(phones)] in ([Photo, Deed], [Deed, Photo])


@pytest.mark.parametrize("data", [b"", b"<html>", b"PK\x03\x04", JPEG + bytes(10_000_000)])
def test_what_is_no_picture_or_too_large_is_not_kept(phones: Phones, data: bytes) -> None:
    phones.say("porch", photo_id="AgADBAAD")
    (wanted,) = shelf(phones).wanted(phones.now)
    assert shelf(phones).keep(wanted, data) == ""
    assert not folder(phones).exists()
    assert shelf(phones).wanted(phones.now) == []


@pytest.mark.parametrize("name", ["../../etc", "a/b", "..", "C:\\x", "Фиг", "fig\u202egpj"])
def test_no_name_of_a_tree_leads_out_of_the_folder(phones: Phones, name: str) -> None:
    text = phones.path.read_text().replace('name = "Porch fig"', f"name = '{name}'")
    phones.path.write_text(text)
    phones.say(name, photo_id="../../../AgAD")
    phones.tap("Bench fig") if "which" in phones.heard[-1].text else None
    (wanted,) = shelf(phones).wanted(phones.now)
    kept = folder(phones) / shelf(phones).keep(wanted, JPEG)
    assert kept.resolve().parent == folder(phones).resolve()
    assert kept.name.isascii()


# --- delete my data --------------------------------------------------------------------------------------------------


def test_a_helper_who_leaves_is_asked_twice_and_leaves_the_deeds_without_a_name(phones: Phones) -> None:
    phones.say("closed porch", JUNIPER)
    phones.say("note: mice in the straw of porch", JUNIPER)
    assert "stays without your name" in phones.say("delete my data", JUNIPER)
    assert phones.tap("Delete", JUNIPER) == "Really? This is the last question."
    assert "What remains" in phones.tap("Yes, delete", JUNIPER)
    assert [type(entry) for entry in told(phones)] == [Deed]
    assert "Juniper" not in phones.say("who is here")
    assert "private garden" in phones.say("hello", JUNIPER)
    assert phones.path.exists()


def test_an_owner_deletes_the_garden_and_nothing_is_left_or_watched(phones: Phones) -> None:
    phones.tick()
    phones.say("porch", photo_id="AgADBAAD")
    shelf(phones).keep(shelf(phones).wanted(phones.now)[0], JPEG)
    phones.say("delete the garden")
    assert "last question" in phones.say("yes")
    assert "What remains" in phones.say("yes")
    assert not phones.path.exists()
    assert not folder(phones).exists()
    assert phones.tick() == []
    with phones.logbook.begin() as c:
        assert list_people(c, "Larkmoor") == []
        assert read_told(c, "Larkmoor") == []
    assert "private garden" in phones.say("trees")


def test_a_no_at_either_question_keeps_everything(phones: Phones) -> None:
    phones.say("closed porch")
    for answers in (["no"], ["yes", "no"], ["yes", "cancel"]):
        phones.say("delete my data")
        for said in answers:
            text = phones.say(said)
        assert "Nothing was changed" in text
    assert len(told(phones)) == 1
    assert phones.path.exists()
