"""Forecasts in files of our own shape."""

import json
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.forecasts.asking import Transport
from bot.forecasts.kept_answers import WeatherServiceError
from bot.forecasts.services.saved_file import dump_forecast, fetch_saved, file_name, parse_saved
from rules.garden.doubt import Doubt, DoubtKind
from rules.garden.tree import Site
from rules.weather.hourly import BELIEVABLE, Forecast, HourlyWeather

SITE = Site(latitude_deg=39, longitude_deg=-109, elevation_m=978, time_zone="America/Denver")
NOW = datetime(2026, 1, 14, 10, 5, tzinfo=UTC)
SMALL = {"start_utc": "2026-01-14T06:00:00Z", "air_c": [-3.0, None, -4.0]}


def saved(**changes: object) -> str:
    return json.dumps({**SMALL, **changes})


@given(data=st.data(), hours=st.integers(2, 12))
def test_a_forecast_is_read_back_as_it_was_dumped(data: st.DataObject, hours: int) -> None:
    def series(low: float, high: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
        value = st.one_of(st.just(float("nan")), st.floats(low, high))
        return np.array(data.draw(st.lists(value, min_size=hours, max_size=hours)), dtype=np.float64)

    fields = {name: series(low, high) for name, (low, high, _) in BELIEVABLE.items()}
    fields["air_c"][0] = -1.5  # a forecast without any temperature is none
    before = Forecast(
        service="met-norway",
        issued_utc=datetime(2026, 1, 14, 9, 31, 2, tzinfo=UTC),
        fetched_utc=NOW,
        weather=HourlyWeather(start_utc=datetime(2026, 1, 14, 6, tzinfo=UTC), **fields),
        members_air_c=np.stack([fields["air_c"], fields["air_c"]]),
        sigma_c=series(0, 9),
        credit="Kühle Nächte",
        doubts=(Doubt(kind=DoubtKind.VALUE_REFUSED, subject="air_c", amount=2.0),),
    )
    after = parse_saved(dump_forecast(before), datetime(2030, 1, 1, tzinfo=UTC))
    for name in ("service", "issued_utc", "fetched_utc", "credit", "doubts"):
        assert getattr(after, name) == getattr(before, name)
    assert after.weather.start_utc == before.weather.start_utc
    for name in BELIEVABLE:
        np.testing.assert_array_equal(getattr(after.weather, name), fields[name])
    np.testing.assert_array_equal(after.members_air_c, before.members_air_c)
    np.testing.assert_array_equal(after.sigma_c, before.sigma_c)


def test_start_and_air_are_enough() -> None:
    forecast = parse_saved(saved(), NOW)
    np.testing.assert_array_equal(forecast.weather.air_c, [-3.0, np.nan, -4.0])
    assert np.isnan(forecast.weather.wind_m_s).all()
    assert np.isnan(forecast.weather.precipitation_mm).all()


def test_rain_nobody_told_of_takes_no_place_in_a_file() -> None:
    forecast = parse_saved(saved(precipitation_mm=[0.0, None, 2.5]), NOW)
    assert json.loads(dump_forecast(forecast))["precipitation_mm"] == [0.0, None, 2.5]
    assert "new_snow_m" not in json.loads(dump_forecast(forecast))
    assert (forecast.service, forecast.issued_utc, forecast.fetched_utc) == ("saved", None, NOW)


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"air_f": [1.0]}, "unknown key 'air_f'"),
        ({"start_utc": None}, "must give start_utc"),
        ({"start_utc": "2026-01-14T06:30:00Z"}, "off the hour"),
        ({"start_utc": "2026-01-14T06:00:00"}, "offset from UTC"),
        ({"air_c": []}, "must give start_utc and air_c"),
        ({"air_c": -3.0}, "must give start_utc and air_c"),
        ({"air_c": [268.0, 267.0, 266.0]}, "Kelvin"),
        ({"wind_m_s": [1.0]}, "1 values of wind_m_s, but 3 of air_c"),
        ({"wind_m_s": 2.0}, "no list of values of wind_m_s"),
        ({"sigma_c": [1.0, 2.0]}, "3 values of sigma_c"),
        ({"sigma_c": [1.0, -2.0, 1.0]}, "numbers from 0 up"),
        ({"sigma_c": 2.0}, "sigma_c that is no list"),
        ({"members_air_c": [[-3.0, -3.0, -3.0]]}, "two or more members"),
        ({"members_air_c": [[-3.0], [-3.0]]}, "values of a member"),
        ({"doubts": [{"kind": "bad mood"}]}, "a doubt we do not know"),
    ],
)
def test_a_slip_in_the_file_is_named(changes: dict[str, object], told: str) -> None:
    with pytest.raises(WeatherServiceError, match=told):
        parse_saved(saved(**changes), NOW)


def test_from_a_folder_comes_the_newest_that_was_issued_by_now(tmp_path: Path) -> None:
    for hour, air_c in ((0, -1.0), (6, -2.0), (12, -3.0)):
        issued = datetime(2026, 1, 14, hour, tzinfo=UTC)
        text = saved(issued_utc=issued.isoformat(), air_c=[air_c] * 3)
        (tmp_path / file_name(issued)).write_text(text, encoding="utf-8")
    answer = fetch_saved(SITE, Transport(saved_path=tmp_path), NOW, {}).answers["saved"]
    assert parse_saved(answer.body, NOW).weather.air_c.tolist() == [-2.0] * 3
    with pytest.raises(WeatherServiceError, match="no saved forecast issued by 2026-01-13"):
        fetch_saved(SITE, Transport(saved_path=tmp_path), datetime(2026, 1, 13, tzinfo=UTC), {})


def test_a_file_in_the_folder_with_another_name_is_named(tmp_path: Path) -> None:
    (tmp_path / "tuesday.json").write_text(saved(), encoding="utf-8")
    with pytest.raises(WeatherServiceError, match=r"tuesday\.json is not named by its time of issue"):
        fetch_saved(SITE, Transport(saved_path=tmp_path), NOW, {})


def test_a_forecast_from_the_future_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "tonight.json"
    path.write_text(saved(issued_utc="2026-01-14T12:00:00Z"), encoding="utf-8")
    with pytest.raises(WeatherServiceError, match="after now"):
        fetch_saved(SITE, Transport(saved_path=path), NOW, {})


def test_a_file_that_is_not_there_or_no_text_is_said_so(tmp_path: Path) -> None:
    with pytest.raises(WeatherServiceError, match=r"gone\.json cannot be read: No such file"):
        fetch_saved(SITE, Transport(saved_path=tmp_path / "gone.json"), NOW, {})
    (tmp_path / "noise.json").write_bytes(b"\xff\xfe\x00\xd8")
    with pytest.raises(WeatherServiceError, match="is no text"):
        fetch_saved(SITE, Transport(saved_path=tmp_path / "noise.json"), NOW, {})
    with pytest.raises(WeatherServiceError, match="names no file"):
        fetch_saved(SITE, Transport(), NOW, {})
