"""A tent of clear film on the coldest night: it is colder than none, and nobody is told to put it on."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from tests.bot.phone import Phone, larkmoor

FRIDAY = datetime(2025, 11, 28, 14, 5, tzinfo=ZoneInfo("America/Denver"))  # before a clear night of -15 in the hollow


@pytest.fixture
def phone() -> Phone:
    phone = Phone(larkmoor("Olive"), FRIDAY)
    phone.say("closed olive")
    phone.now += timedelta(minutes=10)
    phone.tick()
    return phone


def test_a_skin_that_makes_the_night_colder_is_better_off_and_is_not_asked_for(phone: Phone) -> None:
    """A dry clear film lets long wave out: colder inside than outside until it is wet (Savage 1980)."""
    assert "Taking its cover off tonight" in phone.say("what should I do first")
    lost = phone.say("wind took the film off olive")
    assert "Leave the film off tonight" in lost
    assert "Put the film on" not in lost
    phone.close()


def test_why_tells_what_is_radiated_through_the_film(phone: Phone) -> None:
    assert "radiated through the film" in phone.say("why olive")
    phone.close()
