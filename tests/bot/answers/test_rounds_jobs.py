"""Whole conversations about the year's jobs: told, answered by word and by tap, put off, undone, never told twice."""

import json
import re
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from bot.forecasts import file_name
from bot.logbook import note_state, past_weather, read_job_marks, read_records
from bot.outbox import Claimed
from bot.rounds.jobs_news import STATE
from rules.jobs import JobKind, JobMark, JobSettings, MarkState
from tests.bot.phone import Phone, larkmoor, winters_file
from tests.bot.talk import JUNIPER, ROWAN

ZONE = ZoneInfo("America/Denver")
MORNING = datetime(2025, 11, 28, 9, 20, tzinfo=ZONE)  # a Friday before cold nights
PAUSE = timedelta(minutes=5)  # who says more in a minute than a person can is asked to wait
MILDER_C = 4.0  # the record's own winters kill a fig under any cover, and nothing would be asked for
TREES = ("Porch fig", "Wall fig", "Trial pomegranate", "Kaki")


def a_phone(*trees: str, at: datetime = MORNING, people: tuple[int, ...] = (ROWAN,)) -> Phone:
    return Phone(larkmoor(*trees, winters=winters_file(MILDER_C)), at, people=people)


@pytest.fixture(scope="module")
def kept_phone() -> Iterator[Phone]:
    phone = a_phone(*TREES)
    phone.tick()
    yield phone
    phone.close()


@pytest.fixture
def phone(kept_phone: Phone) -> Iterator[Phone]:
    """The same garden for each test, with all that was said taken back after it."""
    kept_phone.now += PAUSE
    yield kept_phone
    while "nothing to undo" not in kept_phone.say("undo"):
        pass


def marks(phone: Phone) -> list[JobMark]:
    with phone.logbook.begin() as c:
        return read_job_marks(c, phone.garden.name)


def news(heard: list[Claimed]) -> list[Claimed]:
    return [one for one in heard if "jobs:" in one.key]


# due ------------------------------------------------------------------------------------------------------------------


def test_due_is_one_list_of_the_plan_s_acts_and_the_year_s_jobs(phone: Phone) -> None:
    text = phone.say("due")
    wrap = next(line for line in text.splitlines() if "wrap Porch fig" in line)
    assert wrap.startswith("Today by ")  # the hour the plan gives
    assert "To buy:" in wrap
    assert "tie in the branches of Porch fig" in text  # before the straw hides them
    assert "Nothing for Trial pomegranate: left bare on purpose." in text
    assert "Forecast of today" in text
    assert len(phone.send(text="due")) == 1


def test_due_of_a_tree_names_its_jobs_alone(phone: Phone) -> None:
    text = phone.say("due trial")
    assert text.startswith("Nothing is due.")
    assert "left bare on purpose" in text
    assert "snow" in phone.say("due kaki")


def test_why_a_job_is_asked_for_is_said_with_who_says_so(phone: Phone) -> None:
    text = phone.say("why water the kaki")
    assert "water" in text
    assert "Kaki" in text
    assert "Who says so: monthly from November to March" in text
    assert "Klett & Wilson 2008" in text
    assert "under the bark" in phone.say("why the scratch test?")
    assert "Who says so: snow on a cover keeps it warmer" in phone.say("why the snow")
    assert "Klett & Wilson" in phone.say("should I water?")
    phone.say("skip the mulch this year")
    phone.now += PAUSE
    assert phone.say("why mulch") == "Nothing more is due of that: mulching."


def test_a_job_bidden_for_another_day_is_put_off_not_done(phone: Phone) -> None:
    assert "ask again tomorrow" in phone.say("knock the snow off tomorrow")
    phone.now += PAUSE
    assert "ask again Monday" in phone.say("water kaki on monday")
    assert {mark.state for mark in marks(phone)} == {MarkState.PUT_OFF}


def test_a_month_asked_for_comes_from_past_winters_and_says_so(phone: Phone) -> None:
    text = phone.say("due may")
    assert "Scratch the bark" in text or "scratch the bark" in text
    assert "by past winters" in text
    assert "Fig sap" not in text  # a caution comes with the work, not half a year before it
    assert "knock the snow off" in phone.say("due next month")


def test_what_is_switched_off_in_the_garden_file_is_not_due() -> None:
    garden = larkmoor(*TREES, winters=winters_file(MILDER_C))
    quiet = garden.model_copy(update={"jobs": {JobKind.LOOK_FOR_VOLES: JobSettings(on=False)}})
    phone = Phone(quiet, MORNING)
    phone.tick()
    assert "voles" not in phone.say("due")
    phone.close()


def test_what_the_covers_take_is_less_what_lies_in_the_shed(phone: Phone) -> None:
    text = phone.say("what do I need for wall and kaki")
    assert text.startswith("For Wall fig and Kaki:")
    assert "buy 3 bales (72 kg in the shed)" in text  # 113 kg in bales of 18 kg, four of them in the shed
    assert phone.say("shopping list").startswith("To buy for Porch fig, Wall fig and Kaki:")
    phone.say("closed porch and wall")
    assert phone.say("shopping list").startswith("To buy for Kaki:")
    assert "None of these has a cover" in phone.say("need for trial")


def forecast_file(folder: Path, issued: datetime, air_c: float, **fields: float | None) -> None:
    """A saved forecast of five days from its issue on, nothing of the hours before it; None is not told."""
    series = {name: [None, *[value] * 119] for name, value in fields.items()}
    document = {"issued_utc": issued.isoformat(), "start_utc": issued.isoformat(), "air_c": [air_c] * 120, **series}
    (folder / file_name(issued)).write_text(json.dumps(document), encoding="utf-8")


def test_rain_is_remembered_from_what_was_forecast_of_hours_gone_by(tmp_path: Path) -> None:
    # as MET Norway answers: from now on, the fall of an hour told at its start and never again
    first = datetime(2025, 11, 28, 15, tzinfo=UTC)
    for hour in range(3):
        issued = first + timedelta(hours=hour)
        forecast_file(tmp_path, issued, 4.0, precipitation_mm=1.0 + hour)
    garden = larkmoor("Porch fig").model_copy(update={"saved_forecasts": tmp_path, "past_weather": None})
    phone = Phone(garden, first + timedelta(minutes=1))
    for hour in range(3):
        phone.now = first + timedelta(hours=hour, minutes=1)
        phone.tick()
    with phone.logbook.begin() as c:
        past = past_weather(c, garden.name, first)
    assert past is not None
    np.testing.assert_array_equal(past.precipitation_mm[:3], [np.nan, 1.0, 2.0])
    assert past.air_c.tolist() == [4.0, 4.0, 4.0]
    phone.close()


@pytest.mark.parametrize(
    ("air_c", "told", "untold"),
    [(-3.0, "snow presses on top", "wet snow"), (0.4, "wet snow is heavy: it presses lids in", "does not report")],
)
def test_a_fall_of_snow_in_the_forecast_is_due_with_its_depth(
    tmp_path: Path, air_c: float, told: str, untold: str
) -> None:
    issued = datetime(2025, 11, 28, 15, tzinfo=UTC)
    forecast_file(tmp_path, issued, air_c, new_snow_m=0.001, gust_m_s=4.0)
    garden = larkmoor("Porch fig").model_copy(update={"saved_forecasts": tmp_path, "past_weather": None})
    phone = Phone(garden, MORNING)
    phone.tick()
    phone.say("porch wrapped and closed")
    phone.now += PAUSE
    text = phone.say("due")
    assert "nock the snow off Porch fig" in text
    assert told in text.casefold()
    assert "cm of it" in text
    assert untold not in text.casefold()
    phone.close()


# answers --------------------------------------------------------------------------------------------------------------


def test_a_job_done_is_gone_from_the_list_and_undo_brings_it_back(phone: Phone) -> None:
    assert "voles" in phone.say("due")
    answer = phone.send(text="no voles")[0]
    assert answer.text == "Noted as done: looking for voles."
    assert [button.label for button in answer.buttons] == ["Undo"]
    assert "voles" not in phone.say("due")
    assert "Undone: looking for voles done" in phone.tap_under(answer, "Undo")
    assert "voles" in phone.say("due")
    assert marks(phone) == []


def test_a_job_done_at_one_tree_stays_at_the_others() -> None:
    phone = mild("Porch fig", "Kaki")
    phone.say("looked for voles at the kaki")
    line = next(line for line in phone.say("due").splitlines() if "voles" in line)
    assert "Porch fig" in line
    assert "Kaki" not in line
    phone.close()


def test_a_job_put_off_names_the_day_and_refused_ones_are_left_for_the_season(phone: Phone) -> None:
    assert phone.say("put off the mulch till may") == "Put off: mulching. I ask again Fri 1 May."
    assert phone.say("skip the scratch test") == "Left out this season: scratch test."
    assert "scratch" not in phone.say("due may").casefold()
    assert [(mark.kind, mark.state) for mark in marks(phone)] == [
        (JobKind.MULCH, MarkState.PUT_OFF),
        (JobKind.SCRATCH_TEST, MarkState.REFUSED),
    ]


def test_later_without_a_day_is_a_week_on_but_not_after_the_job_s_last_day() -> None:
    phone = mild("Porch fig")
    assert "I ask again tomorrow" in phone.say("voles later")  # November's look ends on Sunday the 30th
    assert re.search(r"I ask again \w+ \d+ (Mar|Apr|May)", phone.say("mulch later"))  # and nobody mulches in winter
    phone.close()


def test_a_deed_and_a_job_in_one_message_are_both_noted(phone: Phone) -> None:
    text = phone.say("closed porch and watered kaki")
    assert "Porch fig closed" in text
    assert "winter water (Kaki)" in text
    with phone.logbook.begin() as c:
        assert [deed.tree for deed in read_records(c, phone.garden.name).deeds] == ["Porch fig"]


def test_cuttings_told_of_settle_the_job_of_taking_them(phone: Phone) -> None:
    assert "ake cuttings of" in phone.say("due october")
    phone.say("took 4 cuttings from wall")
    assert [(mark.kind, mark.tree) for mark in marks(phone)] == [(JobKind.TAKE_CUTTINGS, "Wall fig")]


@pytest.mark.parametrize("said", ["watered", "watered kaki", "no voles", "looked for voles at porch", "mulched"])
def test_a_negation_marks_nothing_and_undo_leaves_all_as_it_was(phone: Phone, said: str) -> None:
    before = listed(phone)
    phone.say(f"haven't {said.removeprefix('no ')} yet")
    assert marks(phone) == []
    phone.say(said)
    assert [mark.state for mark in marks(phone)] == [MarkState.DONE]
    assert listed(phone) != before or said == "mulched"  # which is not due now
    phone.say("undo")
    assert listed(phone) == before


def listed(phone: Phone) -> str:
    return "\n".join(phone.say(text) for text in ("due", "due december"))


# news -----------------------------------------------------------------------------------------------------------------


def mild(*trees: str, people: tuple[int, ...] = (ROWAN,)) -> Phone:
    """A Saturday on which the cold asks for nothing: every tree has its cover on."""
    phone = a_phone(*trees, at=MORNING - timedelta(minutes=40), people=people)
    phone.tick()
    phone.say("wrapped all on 10 november, tops shut")
    phone.now = MORNING + timedelta(days=1)
    return phone


def test_jobs_are_told_once_in_one_silent_message_with_no_word_in_the_quiet_hours() -> None:
    phone = mild("Porch fig")
    phone.now = phone.now.replace(hour=6)
    assert not news(phone.tick())
    phone.now = phone.now.replace(hour=9, minute=5)
    (told,) = news(phone.tick())
    assert told.silent
    assert "voles" in told.text
    for hour in (9, 12, 18):
        phone.now = phone.now.replace(hour=hour, minute=30)
        assert not news(phone.tick())
    phone.now += timedelta(days=1)
    assert not news(phone.tick())
    phone.close()


def told_alone(tmp_path: Path) -> tuple[Phone, Claimed]:
    """News of one job: all others were told before."""
    phone = mild("Porch fig")
    keys = [f"{kind}|{reason}|Porch fig" for kind, reason in (("fill", "settled"), ("snow", "snow may fall"))]
    keys += [f"water|dry winter|Porch fig|2025-{month}" for month in ("11-30", "12-31")]
    snow = [f"snow|{how}|Porch fig" for how in ("wet snow", "snow fell")]
    told = dict.fromkeys(keys, "2025-11-22") | dict.fromkeys(snow, "2025-11-28")
    with phone.logbook.begin() as c:
        note_state(c, phone.garden.name, STATE, json.dumps({"told": told, "gathered": "2025-11-22"}))
    return phone, next(iter(news(phone.tick())))


def test_a_job_alone_is_answered_by_a_tap_and_its_message_says_so(tmp_path: Path) -> None:
    phone, told = told_alone(tmp_path)
    assert [button.label for button in told.buttons] == ["Done", "Later", "Skip"]
    assert "Noted as done: looking for voles (Porch fig)." in phone.tap_under(told, "Done")
    edits = [one for one in phone.heard if one.edits_message_id is not None]
    assert edits[-1].text.startswith("Settled: looking for voles. Done, says Rowan")
    assert edits[-1].buttons == ()
    assert "settled" in phone.tap_under(told, "Skip")  # a second tap does nothing
    assert len(marks(phone)) == 1
    phone.close()


def test_a_deed_on_a_cover_is_noted_while_news_of_jobs_is_open(tmp_path: Path) -> None:
    phone, _ = told_alone(tmp_path)
    assert phone.say("opened porch").startswith("Noted: Porch fig opened")
    phone.close()


def test_a_bare_word_answers_the_only_job_that_was_told(tmp_path: Path) -> None:
    phone, _ = told_alone(tmp_path)
    for said, state in (("not yet", None), ("no", None), ("haven't", None), ("can't today", None),
                        ("done it", MarkState.DONE), ("later", MarkState.PUT_OFF), ("skip", MarkState.REFUSED),
                        ("Done!", MarkState.DONE)):  # fmt: skip
        phone.say(said)
        meant = [] if state is None else [(JobKind.LOOK_FOR_VOLES, "Porch fig", state)]
        assert [(mark.kind, mark.tree, mark.state) for mark in marks(phone)] == meant, said
        if state is not None:
            phone.say("undo")  # which opens the message again
    phone.close()


def test_a_job_put_off_by_a_tap_is_told_again_on_the_day_promised(tmp_path: Path) -> None:
    phone, told = told_alone(tmp_path)
    assert "I ask again tomorrow" in phone.tap_under(told, "Later")  # the 30th is the last day for it
    phone.now += timedelta(days=1)
    (again,) = news(phone.tick())
    assert "voles" in again.text
    phone.close()


def test_everyone_hears_the_news_and_of_several_jobs_a_bare_done_asks_which() -> None:
    phone = mild("Porch fig", "Kaki", people=(ROWAN, JUNIPER))
    phone.now += timedelta(days=3)  # in December, when snow and voles are looked for
    told, other = news(phone.tick())
    assert (told.text, {told.chat_id, other.chat_id}) == (other.text, {ROWAN, JUNIPER})
    assert told.text.startswith("Jobs ahead:")
    assert told.buttons == ()
    answer = phone.send(text="done")[0]
    assert marks(phone) == []
    phone.tap_under(answer, answer.buttons[-1].label)  # all of them
    assert len({mark.kind for mark in marks(phone)}) == len(answer.buttons) - 1
    phone.close()


def test_who_has_only_a_tree_left_bare_on_purpose_is_never_called_to_it() -> None:
    phone = a_phone("Trial pomegranate")
    for _ in range(6):  # through the gale, the freeze and the snow of that week
        phone.tick()
        phone.now += timedelta(days=1)
    assert not news(phone.heard)
    assert not [one for one in phone.heard if one.buttons]
    phone.close()


def test_while_a_wrap_is_asked_for_no_job_that_can_wait_is_told() -> None:
    phone = a_phone(*TREES, at=MORNING - timedelta(days=1))
    heard = phone.tick()
    assert any(one.buttons for one in heard)
    assert not news(heard)
    phone.close()


def test_what_comes_before_a_wrap_is_told_in_its_ask_and_not_beside_it() -> None:
    phone = a_phone("Porch fig", "Wall fig")
    heard = phone.tick()
    (asked,) = [one for one in heard if one.text.startswith("Wrap Porch fig")]
    first = next(line for line in asked.text.splitlines() if line.startswith("First "))
    assert "tie in the branches; prune only what will not fit; put 6 mm mesh round the trunk" in first
    assert sum("Fig sap burns" in one.text for one in heard) == 1  # with the knife comes its caution
    assert not any("tie in" in one.text for one in news(heard))
    phone.close()
    done = a_phone("Porch fig", "Wall fig", at=MORNING - timedelta(hours=3))
    done.say("tied in the branches")
    done.now = MORNING
    assert not any("tie in" in one.text for one in done.tick())
    done.close()


def test_each_caution_is_said_once_a_season_whichever_door_it_comes_by() -> None:
    phone = a_phone(*TREES)
    phone.tick()  # the wrap is asked for, with what to beware of
    for said in ("due", "due", "closed porch", "due"):
        phone.say(said)
    phone.now += timedelta(days=1)
    phone.tick()
    words = "\n".join(one.text for one in phone.heard)
    for caution in (
        "Mouldy straw dust",
        "Call the utility locating service",
        "No ladder or film work",
        "No lamp, heater",
    ):
        assert words.count(caution) == 1, caution
    phone.close()


def test_the_day_a_job_was_put_off_to_is_a_day_in_the_garden_s_zone(phone: Phone) -> None:
    now, phone.now = phone.now, MORNING.replace(hour=23, minute=30)  # already the 29th in UTC
    phone.say("remind me of the voles tomorrow")
    assert [mark.until for mark in marks(phone)] == [date(2025, 11, 29)]
    phone.now = now


def test_a_tree_that_no_cover_saves_is_not_asked_for_and_why_says_so() -> None:
    """The record's own winters fall below −25 °C, far below what a satsuma can take even in its box of straw.

    Not so the fig by the wall: at rest until its buds move, it lives through the milder of them under its cover.
    """
    phone = Phone(larkmoor("Satsuma", winters=winters_file()), MORNING)
    assert not any(one.text.startswith("Wrap") for one in phone.tick())
    assert "By past winters the cold kills it under its cover too" in phone.say("why satsuma")
    phone.close()


def test_what_was_bought_is_kept_and_settles_no_job_by_itself(phone: Phone) -> None:
    answer = phone.say("bought 4 bales of straw")
    assert answer.startswith("4 bales of straw bought: kept as a note.")
    assert "Noted as done" not in answer


def test_without_a_forecast_no_tree_is_said_to_have_no_cover() -> None:
    phone = Phone(larkmoor(*TREES), datetime(2026, 1, 28, 12, tzinfo=UTC))
    phone.say("wrapped all, tops shut")
    for asked in ("can i open the porch fig today", "what else can i do", "what else can i do for the kaki"):
        assert phone.say(asked).startswith("I have no forecast for the night to come."), asked
    for asked in ("what first", "how cold tonight", "what's the week like", "is it too late to close them"):
        assert "no forecast" in phone.say(asked), asked
    phone.close()
