"""The winter looked back on in the chat: what was told and what came, thresholds proposed and answered, twins."""

import json
import re
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from bot.answers.dialogues import Chat, close
from bot.logbook import Source, note_entry, note_past_hours, note_round, read_told, undo
from rules.garden.cover import CoverState
from rules.garden.records import Deed, DeedKind, Dieback
from rules.garden.tree import Phase
from rules.outlook.inputs import OutlookInputs, tree_hardiness
from rules.outlook.views.past_winter import NightGone, outcome_of, season_looked_back, winters_gone
from rules.weather.hourly import HourlyWeather, night_minima
from rules.wood.daily_temperatures import WoodDays
from rules.wood.hardiness import HardinessSource
from tests.bot.phone import Phone, inputs, larkmoor
from tests.bot.talk import ROWAN
from tests.hourly import hours_of

ZONE = ZoneInfo("America/Denver")
NOW = datetime(
    2025, 11, 28, 9, 20, tzinfo=ZONE
)  # eleven weeks into the new season: the winter before is looked back on
FIRST = datetime(2024, 9, 1, tzinfo=UTC)
SNAP = date(2025, 1, 15)
SPRING = datetime(2025, 5, 10, 18, tzinfo=UTC)
STARTS = date(2024, 9, 7)
COVERED, BARE = "Pomegranate", "Trial pomegranate"
CALM = {"chance": 0.0, "lost": 0.0}


def last_winter(snap_c: float = -11.5) -> HourlyWeather:
    """An invented winter, plain as a textbook's: a yearly and a daily wave, and three nights of hard cold."""
    hours = np.arange(24 * 280)
    day = hours / 24
    air_c = 9 - 12 * np.sin(2 * np.pi * (day - 40) / 365) + 3 * np.cos(2 * np.pi * (hours - 21) / 24)
    near = np.abs(day - (SNAP - FIRST.date()).days - 0.5)
    air_c = np.where(near < 1.5, np.minimum(air_c, snap_c + 8 + 8 * np.cos(2 * np.pi * (hours - 21) / 24)), air_c)
    return hours_of(FIRST, air_c, dew_point_c=air_c - 3, wind_m_s=1.0, gust_m_s=2.0, cloud_fraction=0.0)


def told(phone: Phone, evening: date, chance: float, air_c: float) -> None:
    """A round of the evening before, with one night at each tree, as the logbook keeps it."""
    wood_days = {"bare": {"chance": chance, "lost": chance / 2}}
    night = {"evening": evening.isoformat(), "air_c": air_c, "felt": wood_days}
    trees = [{"name": tree.name, "cover": None, "state": None, "nights": [night]} for tree in phone.garden.trees]
    at = datetime(evening.year, evening.month, evening.day, 15, tzinfo=ZONE)
    with phone.logbook.begin() as c:
        note_round(c, phone.garden.name, at, None, json.dumps({"trees": trees}))


def lost(phone: Phone, shares: dict[str, float]) -> None:
    with phone.logbook.begin() as c:
        source = Source(garden=phone.garden.name, person="Rowan", update_id=900, noted_utc=SPRING)
        for name, share in shares.items():
            note_entry(c, source, Dieback(tree=name, share=share, at_utc=SPRING))


@pytest.fixture(scope="module")
def one_phone() -> Iterator[Phone]:
    """A garden with a winter behind it."""
    phone = Phone(larkmoor(COVERED, BARE), NOW)
    with phone.logbook.begin() as c:
        note_past_hours(c, phone.garden.name, last_winter(), FIRST + timedelta(days=280), FIRST + timedelta(days=280))
    phone.tick()
    yield phone
    phone.close()


@pytest.fixture
def phone(one_phone: Phone) -> Iterator[Phone]:
    """The same with nothing told of it and nothing asked."""
    yield one_phone
    with one_phone.logbook.begin() as c:
        told = read_told(c, one_phone.garden.name)
        undo(c, one_phone.garden.name, [one.record_id for one in told], one_phone.now)
        close(Chat(c=c, garden=one_phone.garden.name, chat_id=ROWAN, update_id=0, at_utc=one_phone.now))


def test_the_coldest_night_is_found_and_a_bare_tree_felt_at_least_its_air(phone: Phone) -> None:
    long = OutlookInputs(**{**vars(inputs(phone)), "past": last_winter()})
    nights = winters_gone(long, phone.garden.trees, [STARTS], NOW)[BARE][STARTS]
    worst = min(nights, key=lambda one: one.air_c)
    assert abs((worst.evening - SNAP).days) <= 2  # of the three cold nights one
    assert worst.wood_c == pytest.approx(worst.air_c, abs=5.0)  # under a clear sky a stem is up to 5 °C colder
    assert worst.phase in (Phase.RESTING, Phase.HARDENING)
    assert worst.beyond_c < 0


def test_early_in_a_season_it_is_the_winter_before_that_is_over(phone: Phone) -> None:
    site = phone.garden.site
    assert season_looked_back(date(2025, 11, 28), site) == STARTS
    assert season_looked_back(date(2025, 6, 10), site) == STARTS
    assert season_looked_back(date(2026, 1, 20), site) == date(2025, 9, 7)


def test_dieback_is_judged_by_the_night_furthest_beyond_before_it_was_told() -> None:
    def night(day: int, wood_c: float) -> NightGone:
        return NightGone(
            evening=date(2025, 1, day), air_c=wood_c, wood_c=wood_c, lt10_c=-12.0, lt50_c=-15.0, phase=Phase.RESTING
        )

    dieback = Dieback(tree="Porch fig", share=0.5, at_utc=datetime(2025, 1, 20, tzinfo=UTC))
    found = outcome_of([night(3, -13), night(9, -16), night(25, -20)], dieback)
    assert found is not None
    assert (found.evening, found.tissue_c, found.lost) == (date(2025, 1, 9), -16, 0.5)
    assert outcome_of([], dieback) is None
    stem = Dieback(tree="Porch fig", length_m=0.3, at_utc=datetime(2025, 1, 20, tzinfo=UTC))
    assert outcome_of([night(3, -13)], stem) is None  # of how long a stem was not told


def test_the_review_sets_what_was_told_beside_what_came(phone: Phone) -> None:
    told(phone, SNAP, 0.9, -20.0)
    told(phone, SNAP - timedelta(days=20), 0.3, -5.0)
    text = phone.say("review the winter")
    assert text.startswith("Your winter, looked back on.")
    assert "2 nights too cold" in text or "3 nights too cold" in text
    assert "I warned of 4" in text  # two nights at two trees
    assert "Lows over 4 nights" in text
    assert "you have not told me what was lost" in text


def test_a_tree_that_came_through_is_proposed_as_hardier_and_yes_holds_it_until_undone(phone: Phone) -> None:
    lost(phone, {BARE: 0.0})
    answers = phone.send(text="review the winter")
    assert "Trial pomegranate looks hardier than I held" in answers[-1].text
    assert "nothing was lost" in answers[0].text
    assert inputs(phone).accepted == {}  # asked, not done
    assert "Held from now on: Trial pomegranate" in phone.tap_under(answers[-1], "Yes, hold that")
    held = inputs(phone).accepted[BARE][0]
    assert -1.5 <= held.shift_c < 0  # one winter may not move it further
    again = phone.say("review the winter")
    assert "looks hardier" not in again  # what is held is not proposed a second time
    phone.say("undo")
    assert inputs(phone).accepted == {}


def test_no_leaves_everything_as_it_is(phone: Phone) -> None:
    lost(phone, {BARE: 0.0})
    phone.say("review the winter")
    assert "stays at" in phone.say("no")
    assert inputs(phone).accepted == {}


def test_what_was_accepted_is_used_said_and_forgotten_with_the_rest(phone: Phone) -> None:
    lost(phone, {BARE: 0.0})
    phone.say("review the winter")
    phone.say("yes")
    held = inputs(phone).accepted[BARE][0]
    assert "hardier than its kind" in phone.say("what have you learned trial")
    assert held.phase is Phase.RESTING
    january = OutlookInputs(**{**vars(inputs(phone)), "past": last_winter(), "forecast": None})
    tree = phone.garden.trees[-1]
    nothing = WoodDays.nothing(SNAP)
    usual = tree_hardiness(OutlookInputs(**{**vars(january), "accepted": {}}), tree, nothing, SNAP)
    moved = tree_hardiness(january, tree, nothing, SNAP)
    assert moved.lt10_c == pytest.approx(usual.lt10_c + held.shift_c)
    assert moved.source is HardinessSource.YOUR_WINTERS
    assert "1 threshold you accepted" in phone.say("forget trial")
    phone.say("yes")
    assert inputs(phone).accepted == {}


def test_a_growers_own_number_is_not_proposed_against(phone: Phone) -> None:
    own = dict.fromkeys(Phase, -12.0)
    trees = tuple(tree.model_copy(update={"safe_to_c": own}) for tree in phone.garden.trees)
    other = Phone(phone.garden.model_copy(update={"trees": trees}), NOW)
    with other.logbook.begin() as c:
        note_past_hours(c, phone.garden.name, last_winter(), FIRST + timedelta(days=280), FIRST + timedelta(days=280))
    other.tick()
    lost(other, {BARE: 0.0})
    assert "hardier than I held" not in other.say("review the winter")
    other.close()


def test_twins_are_compared_by_one_night_with_what_one_pair_cannot_show(phone: Phone) -> None:
    assert "First tell me what Pomegranate and Trial pomegranate lost" in phone.say("compare pom and trial")
    lost(phone, {COVERED: 0.0, BARE: 0.6})
    assert "was bare too" in phone.say("compare pom and trial")
    with phone.logbook.begin() as c:
        source = Source(garden=phone.garden.name, person="Rowan", update_id=901, noted_utc=SPRING)
        at = datetime(2024, 11, 10, 20, tzinfo=UTC)
        note_entry(c, source, Deed(tree=COVERED, kind=DeedKind.CLOSED, state=CoverState.CLOSED, at_utc=at))
    text = phone.say("compare pom and trial")
    kept_c = re.search(r"kept its wood ([\d.]+) °C warmer", text)
    assert kept_c
    assert float(kept_c[1]) > 3  # of a shut cage of straw on a night of −11 °C
    assert "Pomegranate (covered) lost nothing, Trial pomegranate (bare) 60 %" in text
    assert "at least" in text
    assert "One pair cannot tell the cover's part from the tree's own." in text
    assert "covered tree with a bare one" in phone.say("compare pom and pom")


def test_without_weather_of_that_winter_it_says_so() -> None:
    phone = Phone(larkmoor(BARE), NOW)
    phone.tick()
    assert "I know no weather of that winter" in phone.say("review the winter")
    phone.close()


def test_a_winter_with_its_forecasts_kept_is_planned_again_with_what_is_known_now(phone: Phone) -> None:
    lows = {low.evening: low.air_c for low in night_minima(last_winter(), ZONE) if low.complete}
    evenings = [evening for evening in lows if date(2024, 10, 1) <= evening <= date(2025, 4, 20)]
    with phone.logbook.begin() as c:
        for i, evening in enumerate(evenings):
            nights = [
                {"evening": day.isoformat(), "air_c": lows[day], "field_c": lows[day] + 1, "felt": {"bare": CALM}}
                for day in evenings[i : i + 5]
            ]
            trees = [{"name": tree.name, "cover": None, "state": None, "nights": nights} for tree in phone.garden.trees]
            at = datetime(evening.year, evening.month, evening.day, 15, tzinfo=ZONE)
            note_round(c, phone.garden.name, at, None, json.dumps({"trees": trees}))
    assert "planned again" not in phone.say("review the winter")  # nothing was learned
    lost(phone, {COVERED: 0.0})
    text = phone.say("review the winter")
    then, now = text.split("That winter planned again, on the forecasts of its evenings:\n")[1].splitlines()[:2]
    assert re.match(r"As I knew the garden in autumn: \d+ trips?, wood lost: Pomegranate (nothing|\d+ %)\.", then)
    assert re.match(r"With what I know now: \d+ trips?, wood lost: Pomegranate (nothing|\d+ %)\.", now)
