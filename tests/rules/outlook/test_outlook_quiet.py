"""A look ahead in summer reckons no cover, and whoever asks is told the same as by one that did."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from rules.garden.cover import Cover, CoverState
from rules.garden.records import Deed, DeedKind, Records
from rules.garden.tree import Site, Standing, Tree
from rules.outlook.garden_outlook import outlook
from rules.outlook.inputs import OutlookInputs
from rules.weather.hourly import Forecast, HourlyWeather
from rules.wood.margins import TissueWhenAsked
from tests.hourly import hours_of

JULY = datetime(2026, 7, 15, 15, tzinfo=UTC)
NAMES = ("Porch fig", "Wall fig")


def summer(days: int = 40) -> HourlyWeather:
    hours = 24 * days
    air_c = 21.0 + 6.0 * np.cos((np.arange(hours) - 22) * np.pi / 12)
    steady = {"wind_m_s": 1.5, "gust_m_s": 3.0, "cloud_fraction": 0.2, "sun_w_m2": 200.0}
    return hours_of(JULY - timedelta(days=days - 7), air_c, dew_point_c=air_c - 6.0, **steady)


@pytest.fixture(scope="module")
def inputs() -> OutlookInputs:
    whole = summer()
    trees = [Tree(name=name, species="fig", standing=Standing.WALL, cover="cage") for name in (*NAMES, "Kaki")]
    return OutlookInputs(
        site=Site(latitude_deg=39, longitude_deg=-109, elevation_m=1620, time_zone="America/Denver"),
        trees=trees, covers={"cage": Cover(name="cage")}, past=whole, records=Records(),
        forecast=Forecast(service="saved", issued_utc=JULY, fetched_utc=JULY, weather=whole),
    )  # fmt: skip


def test_in_summer_no_cover_is_reckoned_until_somebody_asks_and_then_as_ever(inputs: OutlookInputs) -> None:
    vented = Deed(tree="Kaki", kind=DeedKind.WRAPPED, state=CoverState.VENTED, at_utc=JULY - timedelta(days=30))
    quiet, whole = outlook(inputs, JULY), outlook(replace(inputs, records=Records(deeds=[vented])), JULY)
    assert quiet.acts == ()
    assert quiet.plan.second_thoughts().would_change == ()
    for name in NAMES:
        assert quiet.tree(name).doubts == whole.tree(name).doubts
        for night, other in zip(quiet.tree(name).nights, whole.tree(name).nights, strict=True):
            assert isinstance(night.tissue, TissueWhenAsked)
            assert list(night.known) == [CoverState.BARE]
            assert night == other


def test_one_cold_night_is_enough_to_reckon_the_covers(inputs: OutlookInputs) -> None:
    assert inputs.forecast is not None
    cold = inputs.forecast.weather.air_c.copy()
    cold[-60:-50] -= 15.0
    weather = replace(inputs.forecast.weather, air_c=cold, dew_point_c=cold - 6.0)
    seen = outlook(replace(inputs, forecast=replace(inputs.forecast, weather=weather)), JULY)
    assert set(seen.trees[0].nights[0].known) == set(CoverState)
