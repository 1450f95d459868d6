"""What readings change, as a grower sees it: the answer, the outlook after it, forget, and undo."""

import re
from collections.abc import Iterator
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from bot.logbook import read_told, undo
from bot.rounds.gathering import RoundInputs, gather
from bot.rounds.learning.garden import Learner
from rules.garden.cover import CoverState
from rules.garden.doubt import DoubtKind
from rules.heat.properties import ReadCover
from rules.outlook.garden_outlook import outlook
from rules.site.microclimate import PRIORS
from rules.weather.members import PUBLISHED
from tests.bot.phone import Phone, inputs, larkmoor

ZONE = ZoneInfo("America/Denver")
MORNING = datetime(2025, 11, 28, 7, 20, tzinfo=ZONE)


@pytest.fixture(scope="module")
def one_phone() -> Iterator[Phone]:
    """A cold morning in a garden that was looked at."""
    phone = Phone(larkmoor("Porch fig", "Wall fig", "Trial pomegranate"), MORNING)
    phone.tick()
    yield phone
    phone.close()


@pytest.fixture
def phone(one_phone: Phone) -> Iterator[Phone]:
    """The same with nothing told of it."""
    yield one_phone
    with one_phone.logbook.begin() as c:
        undo(c, one_phone.garden.name, [one.record_id for one in read_told(c, one_phone.garden.name)], one_phone.now)


@pytest.fixture
def days() -> Iterator[Phone]:
    """Another, whose clock a test may move by days."""
    phone = Phone(larkmoor("Wall fig"), MORNING)
    phone.tick()
    yield phone
    phone.close()


def expected_c(text: str) -> tuple[float, float]:
    """The offset on clear nights and its sd, of the first sentence that tells them."""
    found = re.search(r"([\d.]+) ± ([\d.]+) °C (warmer|colder)", text)
    assert found, text
    return float(found[1]) * (1 if found[3] == "warmer" else -1), float(found[2])


def surely(phone: Phone, text: str) -> str:
    """A reading, kept by a tap where it is so far from what was expected that it is asked about."""
    answer = phone.send(text=text)[-1]
    sure = [button.label for button in answer.buttons if button.label.startswith("Yes, ")]
    assert bool(sure) == ("I keep nothing yet" in answer.text)
    return phone.tap_under(answer, sure[0]) if sure else answer.text


def test_without_readings_nothing_is_learned_and_nothing_is_asked_of_the_past(phone: Phone) -> None:
    seen = inputs(phone)
    assert seen.offsets == {}
    assert seen.accepted == {}
    assert "no readings yet" in phone.say("what have you learned wall")


def test_a_low_is_set_against_the_night_it_is_of_and_changes_what_is_expected(phone: Phone) -> None:
    prior = PRIORS[next(tree.standing for tree in phone.garden.trees if tree.name == "Wall fig")]
    text = surely(phone, "low was -13 at the wall last night")
    assert "I had no forecast" not in text
    assert re.search(r"That is [\d.]+ °C (warmer|colder) than I expected there|Just as expected", text)
    now_c, sd_c = expected_c(text.split("I now expect")[1])
    assert sd_c < prior.sd_c(1.0)
    assert inputs(phone).offsets["Wall fig"].radiation_c + inputs(phone).offsets["Wall fig"].mixed_c == pytest.approx(
        now_c, abs=0.06
    )
    assert "Porch fig" not in inputs(phone).offsets


def test_the_next_look_rests_on_it_and_a_reading_by_day_stirs_nothing(days: Phone) -> None:
    before = days.watch.looked_utc
    surely(days, "low was -13 at the wall last night")
    days.tick()
    assert before is not None
    looked = days.watch.looked_utc
    assert looked is not None
    assert looked > before
    kinds = {doubt.kind for doubt in outlook(inputs(days), days.now).tree("Wall fig").doubts}
    assert DoubtKind.SITE_GUESSED not in kinds
    days.now += timedelta(hours=5)
    days.tick()
    noon = days.watch.looked_utc
    assert "I learn from nights" in days.say("+3 at the wall now")
    days.tick()
    assert days.watch.looked_utc == noon


def test_a_slip_of_the_sign_is_kept_named_and_not_believed(days: Phone) -> None:
    for day in range(1, 4):
        days.say(f"low was -{6 + day % 3} at the wall last night")
        days.now += timedelta(days=1)
    told = inputs(days).offsets["Wall fig"]
    text = surely(days, "low was plus 14 at the wall last night")
    assert "Kept, but not used to learn" in text
    assert inputs(days).offsets["Wall fig"].radiation_c == pytest.approx(told.radiation_c, abs=0.3)


def test_forget_asks_first_starts_again_from_the_standing_and_undo_brings_it_back(phone: Phone) -> None:
    surely(phone, "low was -13 at the wall last night")
    held = inputs(phone).offsets
    asked = phone.send(text="forget wall")[0]
    assert "Forget what I learned at Wall fig (1 reading)?" in asked.text
    assert inputs(phone).offsets == held
    assert "no longer count" in phone.tap_under(asked, "Forget it")
    assert inputs(phone).offsets == {}
    assert "no readings yet" in phone.say("what have you learned wall")
    phone.say("undo")
    assert inputs(phone).offsets == held
    assert "There is nothing to forget" in phone.say("forget porch")


def test_what_was_learned_is_told_with_its_prior_its_count_and_the_worth_of_more(phone: Phone) -> None:
    surely(phone, "low was -13 at the wall last night")
    text = phone.say("what have you learned")
    line = next(line for line in text.splitlines() if line.startswith("Wall fig"))
    assert "I began at" in line
    assert "From 1 reading in 1 night" in line
    assert "no readings yet" in next(line for line in text.splitlines() if line.startswith("Porch fig"))
    named = phone.say("what have you learned porch")
    assert "Inside Porch fig: no reading yet" in named
    assert "One more low there would bring it to ±" in named
    assert "One more low" not in text
    assert re.search(r"A thermometer inside Porch fig for 5 nights would halve|would bring it|change little", named)


def test_what_was_learned_once_is_not_learned_again_for_the_same_readings(phone: Phone) -> None:
    surely(phone, "low was -13 at the wall last night")
    learner = Learner()
    with phone.logbook.begin() as c:
        first = gather(c, phone.garden, phone.now, learner=learner).learned
        again = gather(c, phone.garden, phone.now, learner=learner).learned
    assert again is first
    surely(phone, "low was -12 at the porch last night")
    with phone.logbook.begin() as c:
        assert set(gather(c, phone.garden, phone.now, learner=learner).learned) == {"Porch fig", "Wall fig"}


@pytest.fixture
def wrapped() -> Iterator[Phone]:
    """A closed porch whose clock a test may move by days."""
    phone = Phone(larkmoor("Porch fig"), MORNING)
    phone.tick()
    phone.say("closed porch")
    yield phone
    phone.close()


def closed_c(phone: Phone) -> float:
    """The coldest of the wood inside in the first night ahead, closed [°C]."""
    phone.tick()
    return outlook(inputs(phone), phone.now).tree("Porch fig").nights[0].tissue[CoverState.CLOSED].wood_c


def test_lows_inside_move_the_inside_of_the_nights_ahead_and_the_air_until_they_are_forgotten(wrapped: Phone) -> None:
    wrapped.now += timedelta(days=1)
    before_c = closed_c(wrapped)
    answer = wrapped.say("low was -11 inside the porch last night")
    assert re.search(r"On a cold night I now expect the wood inside Porch fig to be [\d.]+ ± [\d.]+ °C colder", answer)
    told = inputs(wrapped)
    assert isinstance(told.covers_read["Porch fig"], ReadCover)
    assert told.offsets["Porch fig"].mixed_c < 0  # the prior of its standing has none
    assert closed_c(wrapped) < before_c - 0.3
    assert "Inside Porch fig: 1 reading." in wrapped.say("what have you learned")
    text = wrapped.say("what have you learned porch")
    assert "Inside Porch fig: 1 reading." in text
    assert "from those inside its cover" in text
    assert re.search(
        r"I hold its wood [\d.]+ ± [\d.]+ °C colder than under the cover you described \(I began at ±", text
    )
    asked = wrapped.send(text="forget porch")[0]
    wrapped.tap_under(asked, "Forget it")
    assert inputs(wrapped).covers_read == {}
    assert inputs(wrapped).offsets == {}
    assert closed_c(wrapped) == pytest.approx(before_c, abs=0.01)


def test_a_cover_warmer_by_day_than_reckoned_is_not_to_be_opened_in_autumn(wrapped: Phone) -> None:
    wrapped.now += timedelta(days=1, hours=5)
    answer = wrapped.say("6 inside the porch now")
    assert "On a cold night I" in answer
    assert "Open it" not in answer


def test_beside_a_thermometer_of_its_own_the_air_is_not_told_by_readings_inside(wrapped: Phone) -> None:
    wrapped.now += timedelta(days=1)
    wrapped.say("low was -13 at the porch last night")
    told = inputs(wrapped).offsets
    wrapped.say("low was -4 inside the porch last night")
    after = inputs(wrapped)
    assert after.offsets["Porch fig"].mixed_c == pytest.approx(told["Porch fig"].mixed_c)
    assert after.offsets["Porch fig"].radiation_c == pytest.approx(told["Porch fig"].radiation_c)
    assert isinstance(after.covers_read["Porch fig"], ReadCover)


def test_a_reading_inside_with_its_sign_lost_is_kept_and_not_believed(wrapped: Phone) -> None:
    wrapped.now += timedelta(days=1)
    assert "Kept, but not used to learn" in wrapped.say("low was 11 inside the porch last night")
    assert inputs(wrapped).covers_read == {}


def test_a_reading_inside_a_cover_that_nobody_told_of_teaches_nothing_and_says_why(days: Phone) -> None:
    days.now += timedelta(days=1)
    assert "its cover was off" in days.say("low was -2 inside the wall last night")
    assert inputs(days).offsets == {}


def test_a_cover_read_once_is_known_while_it_stands_and_half_let_go_when_wrapped_anew(wrapped: Phone) -> None:
    wrapped.now += timedelta(days=1)
    wrapped.say("low was -11 inside the porch last night")
    read = inputs(wrapped).covers_read["Porch fig"]
    wrapped.now += timedelta(hours=8)
    wrapped.say("wrapped porch")
    anew = inputs(wrapped).covers_read["Porch fig"]
    assert isinstance(read, ReadCover)
    assert isinstance(anew, ReadCover)
    # the hours told since then move it in the second decimal
    assert anew.shown == pytest.approx([0.7 * one for one in read.shown], abs=0.03)


def test_lows_at_a_tree_judge_the_forecasts_that_were_made_of_their_nights(days: Phone) -> None:
    for low_c in (-13, -14, -12, -15):
        days.tick()
        days.now += timedelta(days=1)
        surely(days, f"low was {low_c} at the wall last night")
    days.tick()
    error = inputs(days).forecast_error
    assert error.nights >= 3  # a night must have lain wholly ahead
    assert error != PUBLISHED
    told = days.say("what have you learned")
    assert f"From {error.nights} nights." in told.splitlines()[-1]
    assert "I began at 2.2 °C" in told
    asked = days.send(text="forget wall")[0]
    days.tap_under(asked, "Forget it")
    assert inputs(days).forecast_error == PUBLISHED


def test_an_hour_that_a_sensor_tells_does_not_have_covers_and_service_reckoned_anew(wrapped: Phone) -> None:
    wrapped.now += timedelta(days=1)
    wrapped.say("low was -11 inside the porch last night")
    wrapped.say("low was -13 at the porch last night")
    learner = Learner()

    def learned() -> RoundInputs:
        with wrapped.logbook.begin() as c:
            return gather(c, wrapped.garden, wrapped.now, learner=learner)

    first = learned()
    wrapped.now += timedelta(hours=10)  # the next night has begun, and nothing was read inside in it
    wrapped.say("-6 at the porch")
    again = learned()
    assert again.inside is first.inside
    assert again.services is first.services
    wrapped.say("-3 inside the porch")
    assert learned().inside is not first.inside
