"""What is said of what was learned: before, now, from how much, what more would be worth."""

from dataclasses import replace
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from bot.wording import learned as words
from bot.wording.formats import Style
from bot.wording.year import winter_review
from rules.garden.records import Reading
from rules.garden.tree import Phase, Standing
from rules.learning import (
    LearnedTree,
    NightLookedBackOn,
    Outcome,
    Proposal,
    SetAside,
    Why,
    Worth,
    WouldHave,
    compare_twins,
    learn_forecast,
    learn_site,
    season_review,
    unread_cover,
    worth_at_tree,
)
from rules.site.microclimate import PRIORS
from rules.weather.members import PUBLISHED
from tests.rules.learning.learning_twins import twin_garden, twin_service

METRIC = Style(zone=ZoneInfo("UTC"))
AMERICAN = Style(zone=ZoneInfo("America/Denver"), fahrenheit=True)
WALL = PRIORS[Standing.WALL]


def wall(nights: int = 0, wild: float = 0.0) -> LearnedTree:
    found = learn_site(twin_garden(1, WALL, nights, wild).pairs, WALL)
    return LearnedTree(tree="Wall", offset=found, air_worth=worth_at_tree(found))


def outcome(tree: str, tissue_c: float, lost: float) -> Outcome:
    return Outcome(
        tree=tree, evening=date(2026, 1, 15), phase=Phase.RESTING, tissue_c=tissue_c, lt10_c=-9, lt50_c=-12, lost=lost
    )


def test_a_tree_without_readings_is_said_to_be_guessed_and_asked_for_one() -> None:
    text = words.what_learned([wall()], PUBLISHED, METRIC)
    assert "Wall: no readings yet. I take it 2.0 °C warmer ± 1.8 °C than the open on clear calm nights." in text
    assert "low was 14 last night" in text


def test_a_tree_with_readings_is_told_before_now_and_from_how_many() -> None:
    text = words.what_learned([wall(10)], learn_forecast(twin_service(1, 20).misses).error, METRIC)
    assert "(I began at 2.0 °C warmer ± 1.8 °C)" in text
    assert "From 10 readings in 10 nights." in text
    assert "Forecast, a day ahead:" in text
    assert "From 20 nights." in text
    assert "Nothing is learned" not in text


def test_a_fahrenheit_grower_reads_differences_without_the_32() -> None:
    assert "I take it 3.6 °F warmer" in words.what_learned([wall()], PUBLISHED, AMERICAN)


def test_a_reading_not_believed_is_shown_with_its_reason() -> None:
    reading = Reading(tree="Wall", air_c=9.5, at_utc=datetime(2026, 1, 9, 7, tzinfo=UTC), is_minimum=True)
    line = words.set_aside_line(SetAside(reading=reading, why=Why.SIGN_LOST, expected_c=-10.2), METRIC)
    assert line == "Kept but not used: 9.5 °C at Wall, 9 Jan: a minus seems to be missing (I expected about −10 °C)."
    assert "Kept but not used" in words.what_learned([wall(20, 0.2)], PUBLISHED, METRIC)


@pytest.mark.parametrize("why", list(Why))
def test_every_reason_has_its_words(why: Why) -> None:
    assert words.BECAUSE[why]


def test_what_more_readings_are_worth_is_said_as_it_is() -> None:
    def said(then_c: float) -> str:
        return words.worth(Worth(nights=5, sd_now_c=1.0, sd_then_c=then_c), "inside Porch", METRIC)

    assert said(0.5) == "A thermometer inside Porch for 5 nights would halve my doubt, to ± 0.5 °C."
    assert said(0.7) == "Lows read inside Porch on 5 nights would bring it to ± 0.7 °C."
    assert said(0.95) == "More readings inside Porch would change little."
    nights, one_more = (Worth(nights=n, sd_now_c=1.0, sd_then_c=c) for n, c in ((5, 0.5), (1, 0.8)))
    assert words.worth(nights, "there", METRIC, one_more) == (
        "One more low there would bring it to ± 0.8 °C. "
        "A thermometer there for 5 nights would halve my doubt, to ± 0.5 °C."
    )


def test_a_cover_without_a_reading_is_offered_a_thermometer() -> None:
    one = replace(wall(), cover=unread_cover(), inside_worth=Worth(nights=5, sd_now_c=1.4, sd_then_c=0.7))
    line = words.inside_line(one, METRIC)
    assert line.startswith("Inside Wall: no reading yet. On a cold night I know its wood to ± 1.4 °C.")
    assert "would halve my doubt" in line


def test_forgetting_says_how_to_take_it_back() -> None:
    assert words.forgotten("Porch", 3).startswith("Forgotten: 3 readings at Porch no longer count.")
    assert "Undo" in words.forgotten("Porch", 1)
    assert words.forgotten("Porch", 0) == "There was nothing to forget: no readings at Porch."


def test_the_june_review_tells_said_came_made_and_asks_yes_or_no() -> None:
    nights = [
        NightLookedBackOn(
            tree="Porch", evening=date(2026, 1, day), forecast_c=-8, came_c=-10, chance=0.5, too_cold=day == 1
        )
        for day in (1, 2)
    ]
    proposal = Proposal(tree="Porch", phase=Phase.RESTING, lt10_before_c=-9, lt10_after_c=-10.2, sd_c=1.1, outcomes=2)
    other = WouldHave(way="the plan with what is now known", trips=6, lost={"Porch": 0.05})
    review = season_review(nights, [], [outcome("Porch", -12, 0.3)], {"Porch": 0.2}, [proposal], [other])
    text = winter_review.june_review(review, METRIC)
    assert "Lows over 2 nights: off by 2.0 °C, on average 2.0 °C too warm." in text
    assert "1 night should have been too cold; 1 came. I warned of 2; 1 of those came." in text
    assert "Porch: 1 night too cold, 20 % of the wood expected lost, 30 % was lost." in text
    assert "The plan with what is now known: 6 trips, wood lost: Porch 5 %." in text
    assert "hold −10.2 °C ± 1.1 °C in place of −9.0 °C? From 2 winters. Yes or no." in text


def test_twins_are_told_with_what_one_pair_cannot_show() -> None:
    text = winter_review.twins(compare_twins(outcome("Porch", -9, 0.2), outcome("Trial", -12, 0.5)), METRIC)
    assert text.startswith("Porch (covered) lost 20 %, Trial (bare) 50 %.")
    assert "kept its wood 3.0 °C warmer" in text
    assert "To make it plain takes about 3 such pairs." in text
    assert "One pair cannot tell" in text
    mild = winter_review.twins(compare_twins(outcome("Porch", -3, 0.0), outcome("Trial", -5, 0.0)), METRIC)
    assert "shows nothing of the cover: neither was hurt" in mild
