"""A kept forecast is read once as long as somebody holds it, and anew when its words are others."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from bot.forecasts import Transport, dump_forecast
from bot.hosting.one_garden import Watch
from bot.logbook import Connection, KeptForecast, open_logbook
from bot.rounds import Setting
from bot.rounds.weather.kept_forecast import forecast_of, note_beside, read_beside, tells_the_same
from bot.settings import Service
from rules.weather.hourly import Forecast, night_minima
from tests.bot.invented_gardens import cold_forecast, garden

NOW = datetime(2026, 1, 14, 16, tzinfo=UTC)


def kept(low_c: float, fetched_utc: datetime = NOW) -> KeptForecast:
    body = dump_forecast(cold_forecast(NOW, low_c))
    return KeptForecast(
        forecast_id=1, garden="Larkmoor", service="saved", issued_utc=NOW, fetched_utc=fetched_utc, body=body
    )


def test_who_asks_again_for_the_same_words_gets_the_forecast_at_hand() -> None:
    held = forecast_of(kept(-9.0))
    assert held is not None
    assert forecast_of(kept(-9.0)) is held


def test_other_words_or_another_hour_of_fetching_are_another_forecast() -> None:
    held = forecast_of(kept(-9.0))
    colder, later = forecast_of(kept(-11.0)), forecast_of(kept(-9.0, NOW + timedelta(hours=1)))
    assert held is not None
    assert colder is not None
    assert later is not None
    assert colder is not held
    assert later is not held
    assert colder.weather.air_c.min() == held.weather.air_c.min() - 2


def told(low_c: float, now: datetime = NOW) -> Forecast:
    return replace(cold_forecast(now, low_c), issued_utc=NOW, fetched_utc=now)


def test_hours_told_again_within_a_twentieth_of_a_degree_are_no_new_forecast() -> None:
    assert tells_the_same(told(-9.0), told(-9.04))
    assert not tells_the_same(told(-9.0), told(-9.1))
    assert not tells_the_same(told(-9.0), told(-9.0, NOW + timedelta(hours=1)))  # other hours
    assert not tells_the_same(told(-9.0), None)
    windy = told(-9.0)
    assert not tells_the_same(
        windy, replace(windy, weather=replace(windy.weather, wind_m_s=windy.weather.wind_m_s + 1))
    )
    members = replace(windy, members_air_c=np.stack([windy.weather.air_c] * 3))
    assert not tells_the_same(windy, members)
    assert tells_the_same(members, members)


def moved(name: str, by: float) -> Forecast:
    """The forecast of now, one of its series told anew, each hour that is not nothing so much off."""
    one = told(-9.0)
    before = getattr(one.weather, name)
    return replace(one, weather=replace(one.weather, **{name: np.where(before == 0.0, before, before + by)}))


@pytest.mark.parametrize(
    ("name", "rounded", "news"),
    [
        ("air_c", 0.04, 0.08),  # services tell tenths of a degree, of m/s and of mm
        ("wind_m_s", 0.04, 0.08),
        ("sun_w_m2", 4.0, 8.0),
        ("cloud_fraction", 0.015, 0.03),  # and the sky in hundredths
    ],
)
def test_hours_told_again_as_the_same_but_for_rounding_ask_nothing_new(name: str, rounded: float, news: float) -> None:
    for sign in (-1, 1):
        assert tells_the_same(moved(name, sign * rounded), told(-9.0))
        assert not tells_the_same(moved(name, sign * news), told(-9.0))


def test_of_services_heard_beside_the_night_under_way_is_kept_whole_and_the_night_before_it_is_not(
    c: Connection,
) -> None:
    """A night is read from noon to noon: an hour before its end it began 23 hours ago."""
    zone = garden("Larkmoor", "Porch fig").site.zone
    late_morning = NOW.astimezone(zone).replace(hour=11)
    note_beside(c, "cell", [told(-9.0, late_morning)], late_morning)
    (kept_beside,) = read_beside(c, "cell")
    nights = [low.evening.day for low in night_minima(kept_beside.weather, zone) if low.complete]
    assert nights[0] == late_morning.day - 1
    assert kept_beside.weather.start_utc > late_morning - timedelta(hours=36)


def test_small_changes_that_add_up_are_looked_at(tmp_path: Path) -> None:
    saved, start = tmp_path / "forecast.json", NOW.replace(minute=0)
    one = garden("Larkmoor", "Porch fig").model_copy(update={"services": (Service.SAVED,)})
    watch = Watch(Setting(
        garden=one, logbook=open_logbook(tmp_path / "a.logbook"), transport=Transport(saved_path=saved)
    ))  # fmt: skip
    looked = []
    for hour, low_c in enumerate((-9.0, -9.04, -9.08, -9.1)):
        saved.write_text(dump_forecast(told(low_c)), encoding="utf-8")
        watch.tick(start + timedelta(hours=hour))
        looked.append(watch.looked_utc == start + timedelta(hours=hour))
    assert looked == [True, False, True, False]
