"""Until when a job can wait, whether an hour is early enough, other nights, and what is on record."""

import re
from datetime import datetime

import pytest

from tests.bot.phone import Phone, larkmoor

GARDEN = larkmoor("Porch fig", "Wall fig")
ZONE = GARDEN.site.zone
FREEZE_DAY = datetime(2025, 11, 28, 11, tzinfo=ZONE)  # the demo's coldest night follows


@pytest.fixture
def phone() -> Phone:
    one = Phone(GARDEN, FREEZE_DAY)
    one.say("wrapped both, tops open")
    one.tick()
    return one


def begins_by(text: str) -> str:
    found = re.search(r"begin today by (\d\d:\d\d)", text)
    assert found is not None, text
    return found[1]


def test_a_job_must_begin_before_the_sun_is_down(phone: Phone) -> None:
    """At 40 degrees north the sun sets before five in late November (NOAA solar calculator, from memory)."""
    by = begins_by(phone.say("by when must I close the wall fig"))
    assert "12:00" < by < "16:45"


def test_an_hour_before_it_is_early_enough_and_one_after_dusk_is_not(phone: Phone) -> None:
    assert phone.say("is 1pm early enough").startswith("Yes, 13:00 is early enough")
    late = phone.say("is it ok if I do it at 8 pm")
    assert late.startswith("Better before 20:00")
    assert "Later is better than not at all" in late


def test_a_mere_question_about_the_hour_notes_nothing(phone: Phone) -> None:
    before = phone.say("trees")
    phone.say("is 6 too late for the wall one?")
    assert phone.say("trees") == before


def test_after_dusk_it_is_told_what_shutting_is_still_worth(phone: Phone) -> None:
    phone.now = FREEZE_DAY.replace(hour=20)
    phone.tick()
    told = phone.say("is it too late now?")
    assert told.startswith("Not too late")
    assert "nothing on a ladder in the dark" in told


def test_another_night_is_told_by_its_name_and_none_beyond_the_forecast(phone: Phone) -> None:
    assert phone.say("how cold on sunday night").startswith("Sunday night: ")
    assert phone.say("how cold tonight").startswith("Tonight: ")
    assert phone.say("how cold on 20 december").startswith("My forecast ends with ")


def test_what_was_told_is_on_record_with_its_time_and_teller(phone: Phone) -> None:
    phone.now = FREEZE_DAY.replace(hour=13)
    phone.say("closed porch")
    told = phone.say("did you note that?")
    assert "13:00 (Rowan): Porch fig closed." in told
    assert "11:00 (Rowan): Porch fig and Wall fig wrapped." in told
    assert "Wall fig closed" not in told


def test_what_to_do_about_what_befell_a_cover_needs_no_name_of_it_said_again(phone: Phone) -> None:
    phone.say("mice at the wall fig")
    assert "gnawed bark" in phone.say("what do i do about it")
    assert "gnawed bark" in phone.say("how do i keep the mice out")
    assert "Brush it off" in phone.say("should i knock the snow off or leave it?")


def test_whether_a_tree_lives_is_told_with_the_way_to_see_it(phone: Phone) -> None:
    """Green under scratched bark is alive, brown is dead: common practice of extension services."""
    told = phone.say("do you think the wall fig is dead?")
    assert told.startswith("Wall fig: ")
    assert "Green lives, brown is dead" in told


def test_what_else_helps_names_each_thing_once(phone: Phone) -> None:
    told = re.findall(r"^- ([^:]+):", phone.say("what else can I do for porch"), re.MULTILINE)
    assert told
    assert len(told) == len(set(told))


def test_each_night_of_the_forecast_is_told_with_the_trees_it_threatens(phone: Phone) -> None:
    told = phone.say("which night this week is the worst?").splitlines()
    assert told[0].startswith("Tonight: ")
    assert [line.split(":")[0] for line in told[1:3]] == ["Tomorrow night", "Sunday night"]
    assert told[-1].startswith("Further than that I have no forecast.")


def test_a_number_of_trees_is_no_number_of_a_tree(phone: Phone) -> None:
    assert "Porch fig and Wall fig closed" in phone.say("closed all 2")


def test_what_is_asked_beside_a_deed_is_told_of_the_cover_as_it_is_now(phone: Phone) -> None:
    assert "Porch fig (cap shut): feels" in phone.say("closed porch. how cold tonight")
    assert "Porch fig (cap open): feels" in phone.say("opened porch. how cold tonight")
