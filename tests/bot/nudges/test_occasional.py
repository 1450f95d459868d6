"""What is offered unasked, and the word that a tree is lost: by daylight, seldom, and only where it is cold."""

from dataclasses import replace
from datetime import date, datetime, time, timedelta

import pytest

from bot.nudges import PastNudge, Stage, at_risk_unasked, lost_nudge, offer_nudge
from rules.outlook.garden_outlook import Outlook
from tests.bot.nudges.test_nudges import DAY, QUIET, ZONE, at
from tests.bot.wording.test_wording_questions import margins, night, outlook

SUNRISE, SUNSET = at(7.5), at(17.0)


def cold(chance: float = 0.8) -> Outlook:
    """A garden of one fig, for which nothing is asked and tonight is too cold with this chance."""
    tonight = replace(night(), evening=DAY, sunrise_utc=SUNRISE, sunset_utc=SUNSET)
    felt = {state: replace(one, chance=chance) for state, one in tonight.tissue.items()}
    return outlook(replace(margins(), nights=[replace(tonight, tissue=felt)]))


def offered(seen: Outlook, now: datetime, *said: PastNudge) -> bool:
    return bool(at_risk_unasked(seen, said, (), QUIET, now))


def offer_of(day: date) -> PastNudge:
    opened = datetime.combine(day, time(10), ZONE)
    return PastNudge(key="o", stage=Stage.OFFER, verb=None, trees=("Porch fig",), day=day, opened_utc=opened)


@pytest.mark.parametrize(("chance", "worth_a_word"), [(0.2, False), (0.4, True)])
def test_what_helps_a_little_is_offered_for_one_night_in_three_but_not_for_one_in_five(
    chance: float, worth_a_word: bool
) -> None:
    assert offered(cold(chance), at(12)) is worth_a_word


@pytest.mark.parametrize(("days_ago", "worth_a_word"), [(1, False), (3, False), (5, True)])
def test_of_one_cold_spell_it_is_offered_once_and_of_the_next_again(days_ago: int, worth_a_word: bool) -> None:
    assert offered(cold(), at(12), offer_of(DAY - timedelta(days=days_ago))) is worth_a_word


def test_nobody_is_sent_out_at_first_light_nor_so_late_that_dusk_overtakes_the_work() -> None:
    minutes = [(SUNRISE, 45), (SUNRISE, 90), (SUNSET, -90), (SUNSET, -45)]
    assert [offered(cold(), sun + timedelta(minutes=m)) for sun, m in minutes] == [False, True, True, False]


def test_an_offer_of_the_morning_stands_through_the_afternoon_and_is_gone_by_night() -> None:
    nudge = offer_nudge(["Porch fig"], "A bucket of water helps.", QUIET, at(9))
    assert nudge is not None
    assert nudge.silent
    assert at(15) < nudge.expires_utc < at(21)


def test_word_of_a_dead_tree_waits_for_a_phone_that_was_off_over_the_weekend_and_not_for_a_week() -> None:
    nudge = lost_nudge(["Porch fig"], QUIET, at(12))
    assert nudge is not None
    assert at(12) + timedelta(days=2) <= nudge.expires_utc < at(12) + timedelta(days=5)
