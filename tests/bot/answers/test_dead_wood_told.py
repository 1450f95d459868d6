"""A night that killed: told once with what remains, no cover asked for, and what was found is taken by one tap."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from bot.logbook import note_past_hours, read_records
from bot.nudges import Stage
from bot.outbox import Claimed
from bot.rounds.deciding import write_due
from rules.jobs import GardenFacts, JobKind, JobSettings
from rules.outlook.garden_outlook import outlook
from rules.weather.hourly import HourlyWeather
from tests.bot.phone import Phone, inputs, larkmoor
from tests.hourly import hours_of

MORNING = datetime(2025, 11, 28, 10, 0, tzinfo=ZoneInfo("America/Denver"))  # a Friday before cold nights
KILLING = datetime(2025, 11, 18, 6, tzinfo=UTC)  # an evening of the 17th


def autumn(low_c: float) -> HourlyWeather:
    """Mild weather since August, and six hours of one night as cold as this."""
    start = datetime(2025, 8, 20, tzinfo=UTC)
    hours = int((MORNING - start) / timedelta(hours=1))
    day = np.arange(hours) / 24.0
    air_c = 16.0 - 0.14 * day + 4.0 * np.sin(2 * np.pi * (day - 0.9))
    at = int((KILLING - start) / timedelta(hours=1))
    air_c[at : at + 6] = low_c
    return hours_of(start, air_c, dew_point_c=air_c - 4.0, wind_m_s=1.0)


@pytest.fixture
def phone(request: pytest.FixtureRequest) -> Phone:
    """A fig that stood bare in a night of -22, and no job but the look at it; of its cover nothing told on demand."""
    off = {kind: JobSettings(on=False) for kind in JobKind if kind is not JobKind.SCRATCH_TEST}
    phone = Phone(larkmoor("Porch fig").model_copy(update={"jobs": off}), MORNING)
    with phone.logbook.begin() as c:
        note_past_hours(c, phone.garden.name, autumn(-22.0), MORNING, MORNING)
    if not getattr(request, "param", ""):
        assert "Noted" in phone.say("stripped porch on 1 nov")
    return phone


@pytest.mark.parametrize("phone", ["cover untold"], indirect=True)
def test_nights_in_which_nobody_told_of_the_cover_are_asked_about_and_no_tree_is_held_dead(phone: Phone) -> None:
    """A new garden: the cover may well have been on, so it is asked for as that of any living tree."""
    heard = phone.tick()
    assert not of(heard, "lost:")
    assert of(heard, "wrapped:")
    assert "dead" not in phone.say("trees")
    asked = phone.send(text="why porch")[-1]
    assert "Was its cover on by 17 Nov? If it was off, Porch fig is probably dead above ground." in asked.text
    assert "so I ask for no cover" not in asked.text
    labels = [button.label for button in asked.buttons]
    assert labels == ["Porch fig: cap shut", "Porch fig: cap open", "Porch fig: not on"]
    phone.tap_under(asked, "Porch fig: not on")
    phone.tick()
    assert "probably dead above ground" in phone.say("trees")
    phone.say("undo")
    phone.tick()
    asked = phone.send(text="why porch")[-1]
    phone.tap_under(asked, "Porch fig: cap shut")
    phone.tick()
    assert "Porch fig: cap shut" in phone.say("trees")
    assert "Was its cover on" not in phone.say("why porch")
    phone.close()


def of(heard: list[Claimed], key: str) -> list[Claimed]:
    return [one for one in heard if key in one.key]


def test_a_killing_night_is_told_once_with_what_remains_and_no_cover_is_asked_for(phone: Phone) -> None:
    heard = phone.tick()
    (told,) = of(heard, "lost:")
    assert told.silent
    assert told.text.startswith("Porch fig is probably dead above ground")
    assert "The night of 17 Nov it felt about −2" in told.text
    assert "Roots and foot mostly live" in told.text
    assert "From 27 Nov a scratch of the bark tells" in told.text
    assert not of(heard, "wrapped:")
    assert "probably dead above ground" in phone.say("trees")
    assert "so I ask for no cover" in phone.say("why porch")
    for _ in range(3):
        phone.now += timedelta(hours=20)
        assert not of(phone.tick(), "lost:")
    phone.close()


def test_a_tree_that_winter_killed_is_no_news_in_july_when_all_else_is_said_anew(phone: Phone) -> None:
    assert of(phone.tick(), "lost:")
    july = datetime(2026, 7, 2, 10, tzinfo=MORNING.tzinfo)
    seen = replace(outlook(inputs(phone), MORNING), now=july)
    assert seen.held_dead == ["Porch fig"]
    with phone.logbook.begin() as c:
        due = write_due(c, phone.garden, seen, read_records(c, phone.garden.name), None, july, no_facts)
    assert not [nudge for nudge in due if nudge.stage is Stage.LOST]
    phone.close()


def no_facts() -> GardenFacts:
    raise AssertionError("nothing is asked for, so there is nothing to beware of")


def test_what_a_scratch_showed_is_taken_by_one_tap_and_green_bark_is_covered_again(phone: Phone) -> None:
    (news,) = of(phone.tick(), "jobs:")
    assert "green bark lives, brown is dead" in news.text
    assert [button.label for button in news.buttons] == ["All green", "A third dead", "Half dead", "All dead", "Later"]
    assert "Noted: Porch fig came through whole." in phone.tap_under(news, "All green")
    assert "settled" in phone.tap_under(news, "All dead")
    with phone.logbook.begin() as c:
        assert [one.share for one in read_records(c, phone.garden.name).diebacks] == [0.0]
    phone.now += timedelta(hours=1)
    phone.tick()
    assert "dead" not in phone.say("trees")
    assert "ask for no cover" not in phone.say("why porch")
    assert "Undone" in phone.say("undo")
    phone.close()


def test_a_tree_found_dead_is_said_to_be_so_and_the_record_stands(phone: Phone) -> None:
    (news,) = of(phone.tick(), "jobs:")
    assert "died to the ground" in phone.tap_under(news, "All dead")
    phone.now += timedelta(hours=1)
    phone.tick()
    assert "You found it dead above ground: I ask for no cover." in phone.say("why porch")
    phone.close()


def test_the_weather_of_autumn_is_still_known_in_spring_for_the_wood_is_what_it_made(phone: Phone) -> None:
    phone.now = MORNING + timedelta(days=170)
    past = inputs(phone).past
    assert past is not None
    assert past.start_utc <= datetime(2025, 9, 8, tzinfo=UTC)
    phone.close()
