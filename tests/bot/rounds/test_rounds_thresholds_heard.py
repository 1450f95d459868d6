"""On either side of each threshold of a round: what it remembers of what it said, and what it learns from."""

from collections.abc import Collection
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np
import pytest
import sqlalchemy as sa

from bot import logbook as lb
from bot.forecasts import dump_forecast
from bot.logbook import Connection, Nudge
from bot.logbook.database.tables import outbox
from bot.nudges import Ask, DueNudge, Stage
from bot.rounds.deciding import _heard
from bot.rounds.file_trouble import tell_of_trouble
from bot.rounds.gathering import gather
from bot.rounds.inputs import inputs_of
from bot.rounds.job_facts import job_facts
from bot.rounds.learning.forecast_error import learn_service
from bot.rounds.learning.inside import Inside, learn_inside
from bot.rounds.learning.told_lows import note_told_lows, read_told_lows
from bot.rounds.nudge_writing import write_nudge
from bot.rounds.said_once import note_said
from bot.rounds.weather.asking import refresh_forecast
from bot.rounds.weather.past_winters import past_winters
from rules.garden.cover import CoverState
from rules.garden.records import Deed, DeedKind, Place, Reading
from rules.garden.tree import Standing
from rules.jobs import Caution
from rules.learning import LearnedForecast, learn_site
from rules.outlook.garden_outlook import outlook
from rules.plan.garden_plan import Act, Reason
from rules.site.microclimate import PRIORS
from rules.weather.hourly import Forecast, HourlyWeather
from tests.bot.invented_gardens import cold_forecast
from tests.bot.rounds.test_faults import MORNING, NAME, Life
from tests.bot.rounds.test_rounds_past_winters import archived
from tests.hourly import hours_of

TREE, CELL, SERVICE = "Porch fig", "cell", "saved"
OFFSET = learn_site([], PRIORS[Standing.OPEN])


def ago(days: float = 0.0, hours: float = 0.0) -> datetime:
    return MORNING - timedelta(days=days, hours=hours)


# what was said


def test_what_was_said_eight_days_ago_is_remembered_and_what_was_said_two_weeks_ago_is_not(
    one: Life, c: Connection
) -> None:
    """An all-is-well a week ago must be known, or it would be said again too soon."""
    for days in (14, 8):
        said = Nudge(
            key=f"{NAME}/well {days}", garden=NAME, stage=Stage.ALL_WELL, ask="", trees=(), night=ago(days).date(),
            opened_utc=ago(days), expires_utc=ago(days - 1),
        )  # fmt: skip
        lb.open_nudge(c, said)
    assert [nudge.key for nudge in _heard(c, one.setting.garden, MORNING).nudges] == [f"{NAME}/well 8"]


def messages_with(one: Life, unheard: Collection[Caution]) -> list[str]:
    """What is sent when a cover is to be taken off, all cautions but these having been heard this season."""
    garden = one.setting.garden
    refresh_forecast(one.setting, MORNING)
    act = Act(
        tree=TREE, kind=DeedKind.STRIPPED, state=CoverState.BARE, reason=Reason.RISK_OVER, night=MORNING.date(),
        from_utc=MORNING, by_utc=MORNING + timedelta(hours=5), minutes=40, chance=0.0, chance_after=0.0,
        saves_trips=2.0, price_trips=1.0,
    )  # fmt: skip
    ask = Ask(verb=DeedKind.STRIPPED, day=MORNING.date(), acts=(act,))
    due = DueNudge(key="strip", stage=Stage.TODAY, day=ask.day, expires_utc=act.by_utc, ask=ask, trees=(TREE,))
    with one.logbook.begin() as c:
        note_said(c, garden, [caution for caution in Caution if caution not in unheard], MORNING)
        seen = gather(c, garden, MORNING, one.setting.weather_of)
        inputs = inputs_of(garden, seen)
        found = outlook(inputs, MORNING)
        facts = job_facts(c, garden, found, inputs, seen.records, MORNING)
        write_nudge(c, garden, found, due, None, MORNING, lambda: facts)
    return [text for _, text in one.texts()]


def test_one_caution_goes_with_its_ask(one: Life) -> None:
    (text,) = messages_with(one, [Caution.STRAW_DUST])
    assert "Mouldy straw dust" in text


def test_two_cautions_follow_their_ask_in_a_message_of_their_own(one: Life) -> None:
    ask, cautions = messages_with(one, [Caution.STRAW_DUST, Caution.LADDER_WIND])
    assert "straw dust" not in ask
    assert "Mouldy straw dust" in cautions


def told_of_file(one: Life, letters: int) -> sa.Row[Any]:
    """The message to a garden's owner that its file has a trouble which takes so many letters to say."""
    with one.logbook.begin() as c:
        assert tell_of_trouble(c, NAME, "x" * letters, MORNING)
        return c.execute(sa.select(outbox)).one()


@pytest.mark.parametrize(("letters", "is_whole"), [(500, True), (900, False)])
def test_a_trouble_is_told_in_some_lines_of_a_phone_and_cut_where_it_is_longer(
    one: Life, letters: int, is_whole: bool
) -> None:
    text = told_of_file(one, letters).text
    assert (text == "x" * letters) is is_whole
    assert is_whole or (text.endswith("x…") and len(text) < 700)


def test_the_word_of_a_trouble_can_still_be_sent_tomorrow_and_not_three_days_later(one: Life) -> None:
    """A phone may be off for a night; after three days the file is mended or the word was said again."""
    assert timedelta(days=1.5) < told_of_file(one, 50).expires_utc - MORNING < timedelta(days=3)


# what is learned from


def told(days: float, gap: slice | None = None) -> HourlyWeather:
    """Hours of a mild spell from so many days ago to now, some of them unknown."""
    hours = int(days * 24) + 1
    air_c = np.full(hours, 3.0)
    if gap:
        air_c[gap] = np.nan
    level = dict.fromkeys(("wind_m_s", "gust_m_s", "cloud_fraction", "sun_w_m2"), 0.5)
    return hours_of(ago(days), air_c, dew_point_c=air_c - 2, precipitation_mm=0.0, **level)


def inside_learned(one: Life, c: Connection, weather: HourlyWeather, *, reading: bool = False) -> Inside | None:
    """What is known of the fig's closed cover, with a reading inside of this morning or without one."""
    lb.note_past_hours(c, CELL, weather, MORNING, MORNING)
    deed = Deed(tree=TREE, kind=DeedKind.CLOSED, state=CoverState.CLOSED, at_utc=ago(20))
    read = [Reading(tree=TREE, air_c=4.0, at_utc=MORNING, place=Place.INSIDE)] if reading else []
    garden = one.setting.garden
    return learn_inside(c, garden, CELL, garden.trees[0], read, [deed], OFFSET, None, MORNING)


@pytest.mark.parametrize(("days", "is_enough"), [(4, False), (7, True)])
def test_a_cover_is_reckoned_with_from_a_week_of_known_weather_and_not_from_four_days(
    one: Life, c: Connection, days: int, is_enough: bool
) -> None:
    """Its straw and soil hold the weather of days: what they began with must be washed out first."""
    assert (inside_learned(one, c, told(days)) is not None) is is_enough


@pytest.mark.parametrize(("hours_ago", "counts"), [(18, False), (32, True)])
def test_a_reading_inside_counts_if_the_weather_of_the_day_before_it_is_known(
    one: Life, c: Connection, hours_ago: int, counts: bool
) -> None:
    gap = slice(-1 - hours_ago - 8, -hours_ago)  # too long to be closed by a line
    found = inside_learned(one, c, told(9, gap), reading=True)
    assert found is not None
    assert bool(found.learned.readings or found.learned.set_aside) is counts


def service_learned(one: Life, c: Connection, lows: int, days_ahead: int) -> LearnedForecast:
    """What so many nights' lows teach of a service that told each of them so many days before its evening."""
    for night in reversed(range(lows)):
        at = ago(1 + night + days_ahead)  # the night before this morning began yesterday
        lb.note_forecast(c, CELL, dump_forecast(cold_days(at, days_ahead + 2)), SERVICE, at, at)
    dawn = MORNING.replace(hour=14)
    readings = [
        Reading(tree=TREE, air_c=-8.0, at_utc=dawn - timedelta(days=night), place=Place.AIR, is_minimum=True)
        for night in reversed(range(lows))
    ]
    past = cold_days(ago(lows + 3), lows + 5).weather
    return learn_service(c, one.setting.garden.site, CELL, SERVICE, readings, {TREE: OFFSET}, past)


def cold_days(at: datetime, days: int) -> Forecast:
    """So many equal clear cold days from then on."""
    week = cold_forecast(at)
    first = int((at - week.weather.start_utc) / timedelta(hours=1))
    names = ("air_c", "dew_point_c", "wind_m_s", "gust_m_s", "cloud_fraction", "sun_w_m2")
    equal = {name: np.tile(getattr(week.weather, name)[first : first + 24], days) for name in names}
    return replace(week, service=SERVICE, weather=HourlyWeather(start_utc=at, **equal))


@pytest.mark.parametrize(("days_ahead", "counts"), [(4, True), (6, False)])
def test_a_forecast_of_four_days_ahead_is_looked_back_on_and_one_of_six_is_not(
    one: Life, c: Connection, days_ahead: int, counts: bool
) -> None:
    assert bool(service_learned(one, c, 1, days_ahead).nights) is counts


def test_a_service_is_judged_by_the_last_five_to_seven_weeks_of_lows(one: Life, c: Connection) -> None:
    assert 35 <= service_learned(one, c, 60, 0).nights <= 49


def test_each_night_told_is_kept_once_for_each_of_the_days_before_it_and_none_of_more_than_five(
    one: Life, c: Connection
) -> None:
    """A service that reckons anew every six hours tells of one night some twenty times in five days."""
    zone, night = one.setting.garden.site.zone, MORNING.date() + timedelta(days=7)
    for hours in range(0, 8 * 24, 6):
        now = MORNING + timedelta(hours=hours)
        note_told_lows(c, CELL, [cold_forecast(now)], zone, now)
    days_before = sorted(low.lead_h / 24 for low in read_told_lows(c, CELL)["saved"] if low.evening == night)
    assert days_before[-1] <= 5.0
    assert days_before == pytest.approx([1.2, 2.2, 3.2, 4.2], abs=0.3)


# past winters


def test_the_archive_tells_its_lows_to_the_tenth_of_a_degree(one: Life, c: Connection) -> None:
    """Its answers are given to one decimal (open-meteo.com, archive documentation): -11.3 is -11.35 to -11.25."""
    garden = one.setting.garden
    cell = f"{garden.site.latitude_deg:.4f},{garden.site.longitude_deg:.4f} winters"
    answer = lb.AnswerRow(service="open-meteo/archive", body=archived(garden), fetched_utc=MORNING)
    lb.note_kept_answer(c, cell, answer)
    past = past_winters(c, garden)
    assert past is not None
    assert past.first == date(2024, 1, 1)
    assert 2 * past.half_unit_c == pytest.approx(0.1)
