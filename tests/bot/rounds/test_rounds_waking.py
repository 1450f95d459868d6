"""Who asked to be woken is woken for the worst alone, once a night; and the watch handed from one person to another."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from bot.nudges import Declined, NudgeState, PastNudge, Quiet, Stage, wake_nudge
from bot.outbox import Claimed
from rules.plan.acts import Act
from tests.bot.household_phones import Phones, demo_garden
from tests.bot.nudges.test_nudges import act
from tests.bot.talk import JUNIPER, ROWAN

ZONE = ZoneInfo("America/Denver")
EVENING = datetime(2025, 11, 28, 19, tzinfo=ZONE)  # that night the wood of an open cage falls below what it can take
NIGHT = EVENING.replace(hour=22)
QUIET = Quiet(start=time(21), end=time(7), zone=ZONE)
DAY = date(2026, 1, 14)
LOWEST = datetime(2026, 1, 15, 7, tzinfo=ZONE).astimezone(UTC)
AT_TEN = datetime(2026, 1, 14, 22, tzinfo=ZONE).astimezone(UTC)


@pytest.fixture
def phones(tmp_path: Path) -> Iterator[Phones]:
    phones = Phones(demo_garden(tmp_path, "Porch fig", "Bench fig"), EVENING, (ROWAN, JUNIPER))
    yield phones
    phones.close()


def woken(heard: list[Claimed]) -> list[int]:
    return [one.chat_id for one in heard if one.text.startswith("You asked to be woken")]


def test_only_who_asked_is_woken_once_a_night_and_an_answer_settles_it(phones: Phones) -> None:
    phones.say("wrapped porch and bench yesterday")
    assert "at most once a night" in phones.say("wake me", JUNIPER)
    phones.now = NIGHT
    heard = phones.tick()
    assert woken(heard) == [JUNIPER]
    message = next(one for one in heard if one.chat_id == JUNIPER)
    assert not message.silent
    assert "close Porch fig" in message.text or "close Bench fig" in message.text
    phones.now += timedelta(minutes=30)
    assert woken(phones.tick()) == []
    assert "closed" in phones.tap("Closed", JUNIPER)


def test_nobody_is_woken_who_takes_it_back_or_whose_caps_are_shut(phones: Phones) -> None:
    phones.say("closed porch and bench")
    phones.say("wake me")
    phones.now = NIGHT
    assert woken(phones.tick()) == []
    phones.say("opened porch")
    assert "let you sleep" in phones.say("don't wake me")
    assert woken(phones.tick()) == []


def threat(chance: float = 0.8, saves_trips: float = 20.0) -> Act:
    return replace(act(chance=chance), saves_trips=saves_trips, by_utc=LOWEST)


def test_who_was_woken_or_said_cannot_sleeps_on() -> None:
    first = wake_nudge([threat()], [], [], QUIET, AT_TEN)
    assert first is not None
    assert first.stage is Stage.WAKE
    before = PastNudge(key=first.key, stage=first.stage, verb=None, trees=first.trees, day=first.day, opened_utc=AT_TEN,
                  state=NudgeState.EXPIRED)  # fmt: skip
    assert wake_nudge([threat()], [before], [], QUIET, AT_TEN + timedelta(hours=2)) is None
    cannot = Declined(trees=("Porch",), noted_utc=AT_TEN, until_utc=LOWEST, asks_again=False)
    assert wake_nudge([threat()], [], [cannot], QUIET, AT_TEN) is None


def test_the_watch_handed_over_goes_to_that_person_alone_who_is_told_and_comes_back(phones: Phones) -> None:
    answer = phones.say("hand over to Juniper until sunday")
    assert answer.startswith("Juniper takes over until Sunday 08:00")
    told = next(one for one in phones.heard if one.chat_id == JUNIPER)
    assert told.text.startswith("Rowan asks you to look after Larkmoor until Sunday 08:00")
    phones.now = EVENING.replace(day=29, hour=8)
    assert {one.chat_id for one in phones.tick()} <= {JUNIPER}
    assert "Welcome back" in phones.say("back")
    phones.now = EVENING.replace(day=30, hour=9)
    assert ROWAN in {one.chat_id for one in phones.tick()} or phones.tick() == []


def test_nobody_unknown_or_silent_is_handed_the_watch(phones: Phones) -> None:
    assert "Nobody here is called Alder. Here are Juniper." in phones.say("hand over to Alder")
    phones.say("stop writing to me", JUNIPER)
    assert "would be talking to nobody" in phones.say("Juniper takes over until sunday")
