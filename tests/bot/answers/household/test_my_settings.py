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
    assert "°F" in told
    assert "America/Denver" in told
    assert "21:00 to 07:00" in told
    assert "export" in told  # an owner is told where to change it
