"""A kept forecast is read once as long as somebody holds it, and anew when its words are others."""

from datetime import UTC, datetime, timedelta

from bot.forecasts import dump_forecast
from bot.logbook import KeptForecast
from bot.rounds.kept_forecast import forecast_of
from tests.bot.invented_gardens import cold_forecast

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
