"""The heat of a tree from now on: it starts from what the past left behind and can be stretched to any colder night."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from rules.garden.cover import Cover, CoverState
from rules.garden.records import Deed, DeedKind, Records
from rules.garden.tree import Site, Standing, Tree
from rules.outlook.inputs import OutlookInputs
from rules.outlook.tree_heat import TreeHeat, tree_heats
from rules.weather.hourly import Forecast, HourlyWeather
from tests.hourly import hours_of

SITE = Site(latitude_deg=45.0, longitude_deg=0.0, elevation_m=200.0, time_zone="UTC")
NOW = datetime(2026, 1, 14, 12, tzinfo=UTC)
FIG = Tree(name="Fig", species="fig", standing=Standing.WALL, cover="cage")
WRAPPED = Deed(tree="Fig", kind=DeedKind.WRAPPED, state=CoverState.CLOSED, at_utc=NOW - timedelta(days=50))


def weather(start: datetime, hours: int) -> HourlyWeather:
    """Clear calm days between −6 °C at six and 2 °C at eighteen."""
    of_day = (np.arange(hours) + start.hour) % 24
    air_c = -2.0 - 4.0 * np.cos((of_day - 6) / 24 * 2 * np.pi)
    return hours_of(start, air_c, dew_point_c=air_c - 2, wind_m_s=1.0, gust_m_s=2.0, cloud_fraction=0.0)


def inputs(past_days: int | None = 60) -> OutlookInputs:
    past = None if past_days is None else weather(NOW - timedelta(days=past_days), past_days * 24 + 1)
    ahead = weather(NOW - timedelta(hours=1), 100)
    forecast = Forecast(weather=ahead, service="saved", issued_utc=NOW, fetched_utc=NOW)
    return OutlookInputs(site=SITE, trees=(FIG,), covers={"cage": Cover(name="cage")}, forecast=forecast, past=past,
                  records=Records(deeds=(WRAPPED,)))  # fmt: skip


def heat(past_days: int | None = 60) -> TreeHeat:
    return tree_heats(inputs(past_days), [FIG], NOW)[0]


def test_without_a_forecast_there_is_no_heat_to_tell() -> None:
    assert tree_heats(replace(inputs(), forecast=None), [FIG], NOW) == []


def test_three_weeks_of_past_are_enough() -> None:
    """Five days wash out an unknown start within 0.1 °C (see heat_balance): 20 of them and 60 must agree far better."""
    long, short = heat(60).start, heat(20).start
    assert long is not None
    assert short is not None
    assert np.abs(long.nodes_c - short.nodes_c).max() < 0.05


def test_a_spell_reaches_the_minimum_asked_at_the_tree_and_in_the_open() -> None:
    here = heat()
    assert here.spell(-20.0).air_c.min() == pytest.approx(-20.0)
    in_the_open = here.spell(-20.0, in_the_open=True).air_c.min()
    # a wall's prior makes clear calm nights 2 °C milder, and a breeze of 1 m/s takes a quarter of it
    assert in_the_open == pytest.approx(-18.5, abs=0.01)
    assert here.spell().air_c.shape == (72,)
    assert here.spell(windy=True).wind_m_s.min() == pytest.approx(6.0)


def test_terms_are_those_of_a_cover_that_is_on() -> None:
    here = heat()
    closed = here.night_terms(date(2026, 1, 14), CoverState.CLOSED, -5.0)
    assert closed is not None
    assert closed.gain_c > 0
    assert here.night_terms(date(2026, 1, 14), CoverState.BARE, -5.0) is None
    assert here.night_terms(date(2026, 3, 1), CoverState.CLOSED, -5.0) is None
    bare = FIG.model_copy(update={"left_bare": True})
    assert tree_heats(inputs(), [bare], NOW)[0].night_terms(date(2026, 1, 14), CoverState.CLOSED, -5.0) is None
