"""What is set, as it is told: each with the word that changes it, which then changes it."""

from datetime import UTC, datetime

import pytest

from tests.bot.phone import Phone, larkmoor

NOW = datetime(2025, 11, 28, 19, tzinfo=UTC)


@pytest.mark.parametrize(
    ("word", "told"),
    [
        ("stop writing to me", "Nudges to you: off"),
        ("wake me", "threatens: on"),
        ("away until sunday", "You are away until Sunday"),
    ],
)
def test_what_a_word_changes_is_told_as_changed(word: str, told: str) -> None:
    phone = Phone(larkmoor("Porch fig"), NOW)
    before = phone.say("/settings")
    assert told not in before
    phone.say(word)
    assert told in phone.say("settings")
    phone.close()


def test_the_gardens_own_are_told_in_its_units() -> None:
    phone = Phone(larkmoor("Porch fig", fahrenheit=True), NOW)
    told = phone.say("my settings")
    phone.close()
    assert "Units: °F, in" in told
    assert "9:00 pm to 7:00 am" in told  # who reads Fahrenheit reads a clock of twelve hours
    assert told.count("Change") >= 4  # each with the words that change it
