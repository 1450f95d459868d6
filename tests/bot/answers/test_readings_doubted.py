"""A reading that cannot well be is asked about before it is kept, and a low belongs to its night, not to an hour."""

from datetime import datetime
from pathlib import Path

import pytest

from bot.logbook import read_records
from tests.bot.nine_trees import ZONE, tanglewick, week
from tests.bot.phone import Phone

NOW = datetime(2026, 12, 5, 9, 20, tzinfo=ZONE)


@pytest.fixture
def phone(tmp_path: Path) -> Phone:
    found = Phone(tanglewick(tmp_path, week(NOW, [-6.0, -9.0, -13.0, -15.0, -12.0, -6.0, -2.0])), NOW)
    found.tick()
    return found


def readings(phone: Phone) -> list[float]:
    with phone.logbook.begin() as c:
        return [one.air_c for one in read_records(c, phone.garden.name).readings]


def test_a_low_far_from_what_was_expected_is_kept_only_after_one_tap(phone: Phone) -> None:
    answer = phone.say("low was -24 last night at well")  # the nights behind fell to about 3 °C
    assert "colder than I expected there. Is it right? I keep nothing yet." in answer
    assert readings(phone) == []
    kept = phone.say("yes, -24.0 °C".replace("-", "−"))
    assert "Noted: a low of −24.0 °C at Well last night." in kept
    assert readings(phone) == [-24.0]


def test_a_low_of_the_night_is_told_without_an_hour(phone: Phone) -> None:
    answer = phone.say("low was -2 last night at well")
    assert "Noted: a low of −2.0 °C at Well last night." in answer
