"""The hour the clocks leave out, putting off what nobody asked, and how a group is let in."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.answers.household.letting_in import IN_A_GROUP
from bot.logbook import read_records, read_refusals
from bot.messages import IncomingKind
from bot.replies import Context, TreeName, Understood, parse_reply
from tests.bot.household_phones import Phones, demo_garden
from tests.bot.talk import GROUP, STRANGER

DENVER = ZoneInfo("America/Denver")
SPRING = datetime(2026, 3, 8, 9, 5, tzinfo=UTC)  # 03:05; at 02:00 the clocks went to 03:00 (tz database)


@pytest.fixture
def phones(tmp_path: Path) -> Iterator[Phones]:
    one = Phones(demo_garden(tmp_path, "Porch fig", "Wall fig"), SPRING)
    yield one
    one.close()


def last_reading(phones: Phones) -> datetime:
    with phones.logbook.begin() as c:
        return read_records(c, "Larkmoor").readings[-1].at_utc


def test_half_past_two_on_the_night_that_has_none_is_half_an_hour_ago_and_not_yesterday(phones: Phones) -> None:
    assert "yesterday" not in phones.say("-7 at the wall at 2:30")
    assert last_reading(phones) == SPRING - timedelta(minutes=35)


def test_later_that_morning_it_is_the_half_past_three_that_the_old_clock_would_have_shown(phones: Phones) -> None:
    phones.now += timedelta(hours=1)
    phones.say("-7 at the wall at 2:30 this morning")
    assert last_reading(phones) == datetime(2026, 3, 8, 9, 30, tzinfo=UTC)


ZONES = st.sampled_from(["America/Denver", "Europe/Berlin", "Australia/Adelaide", "America/St_Johns", "Asia/Kathmandu"])


@given(ZONES, st.datetimes(datetime(2026, 1, 1), datetime(2027, 1, 1)), st.integers(1, 600))  # noqa: DTZ001 - made aware below
def test_a_clock_time_read_off_the_clock_some_minutes_ago_is_so_long_ago_within_an_hour(
    zone: str, at: datetime, minutes: int
) -> None:
    """Whatever the clocks did meanwhile: one hour is what they move by in these zones."""
    here, now = ZoneInfo(zone), at.replace(tzinfo=UTC)
    read = now - timedelta(minutes=minutes)
    context = Context(trees=(TreeName(name="Wall fig", short_names=("wall",), number=1),), now=now, zone=here)
    reply = parse_reply(f"-7 at the wall at {read.astimezone(here):%H:%M}", context)
    assert isinstance(reply, Understood)
    told = reply.meanings[0].at_utc
    assert told is not None
    assert abs(told - read.replace(second=0, microsecond=0)) <= timedelta(hours=1)


def refusals(phones: Phones) -> int:
    with phones.logbook.begin() as c:
        return len(read_refusals(c, "Larkmoor", phones.now))


@pytest.mark.parametrize("text", ["later", "later porch", "can't", "in 2 hours"])
def test_with_nothing_pending_nothing_is_promised_and_nothing_noted(phones: Phones, text: str) -> None:
    answer = phones.say(text)  # in March, before any look ahead: nothing is asked
    assert "nothing to put off" in answer
    assert "ask again" not in answer
    assert refusals(phones) == 0


def test_with_something_pending_later_is_a_promise(tmp_path: Path) -> None:
    phones = Phones(demo_garden(tmp_path, "Porch fig", "Wall fig"), datetime(2025, 11, 28, 9, 20, tzinfo=DENVER))
    phones.tick()
    assert "I ask again" in phones.say("later")
    assert refusals(phones) == 2
    phones.close()


def test_a_group_that_puts_us_in_is_told_how_to_let_itself_in_and_a_person_is_not_bothered(phones: Phones) -> None:
    assert [one.text for one in phones.send(GROUP, kind=IncomingKind.BACK, sender=STRANGER)] == [IN_A_GROUP]
    assert "/start CODE" in IN_A_GROUP
    assert phones.send(STRANGER, kind=IncomingKind.BACK) == []
    code = phones.say("let someone in").splitlines()[0]
    assert "Welcome" in phones.say(f"/start {code}", GROUP, sender=STRANGER)
