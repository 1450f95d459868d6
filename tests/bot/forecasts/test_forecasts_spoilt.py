"""Answers spoilt at any one spot: read or refused by this room's exception, never anything else."""

import json
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from bot.forecasts.kept_answers import WeatherServiceError
from bot.forecasts.services.met_norway import parse_met_norway, place_met_norway
from bot.forecasts.services.open_meteo import parse_open_meteo, place_open_meteo
from bot.forecasts.services.open_meteo_past import parse_past_days
from bot.forecasts.services.saved_file import parse_saved
from bot.forecasts.services.us_nws import grid_path, parse_us_nws, place_us_nws
from rules.weather.hourly import Forecast

DATA = Path(__file__).parents[2] / "data" / "weather_json"
FETCHED = datetime(2026, 1, 14, 10, 5, tzinfo=UTC)
SAVED = {
    "start_utc": "2026-01-14T06:00:00Z",
    "air_c": [-3.0, -4.0],
    "sigma_c": [1.0, 2.0],
    "members_air_c": [[-3.0, -4.0], [-2.0, -5.0]],
    "doubts": [{"kind": "value refused", "subject": "air_c", "amount": 1}],
}
PAST = {
    "daily_units": {"temperature_2m_min": "°C"},
    "daily": {"time": ["2026-01-06", "2026-01-07"], "temperature_2m_min": [-8.0, -9.0]},
}
ODD: list[Any] = [None, True, 0, -1, 1e400, -9999, 10**400, float("nan"), "", "x", "NOW", "P1D", "2026-01-14", [], {}]
ODD += [[None], [[]], [{}]]


def read(name: str) -> Any:
    return json.loads((DATA / name).read_text(encoding="utf-8"))


def spots(document: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The path of every value in a document."""
    steps: Iterable[tuple[Any, Any]] = ()
    if isinstance(document, dict | list):
        steps = document.items() if isinstance(document, dict) else enumerate(document)
    for step, inner in steps:
        yield (*path, step)
        yield from spots(inner, (*path, step))


def spoilt(document: Any, path: tuple[Any, ...], odd: Any) -> str:
    copy = json.loads(json.dumps(document))
    at = copy
    for step in path[:-1]:
        at = at[step]
    at[path[-1]] = odd
    return json.dumps(copy)


def nws(body: str) -> Forecast:
    place_us_nws(body)
    return parse_us_nws(body, FETCHED)


def met(body: str) -> Forecast:
    place_met_norway(body)
    return parse_met_norway(body, FETCHED)


def meteo(body: str) -> Forecast:
    place_open_meteo(body)
    return parse_open_meteo(body, FETCHED)


FORECAST = json.dumps(read("om_forecast.json"))
READERS: dict[str, tuple[Any, Callable[[str], object]]] = {
    "grid": (read("nws_grid.json"), nws),
    "point": (read("nws_point.json"), grid_path),
    "complete": (read("met_complete.json"), met),
    "forecast": (read("om_forecast.json"), meteo),
    "ensemble": (read("om_ensemble.json"), lambda body: parse_open_meteo(FORECAST, FETCHED, body)),
    "past": (PAST, parse_past_days),
    "saved": (SAVED, lambda body: parse_saved(body, FETCHED)),
}


def refusal(reader: Callable[[str], object], body: str) -> str:
    """The sentence with which an answer is refused, empty where it is read."""
    try:
        reader(body)
    except WeatherServiceError as failure:
        return str(failure)
    return ""


@pytest.mark.parametrize("name", READERS)
def test_an_answer_spoilt_at_any_one_spot_is_read_or_refused_in_a_sentence(name: str) -> None:
    document, reader = READERS[name]
    told = [refusal(reader, spoilt(document, spot, odd)) for spot in spots(document) for odd in ODD]
    assert any(told)
    assert not [sentence for sentence in told if sentence and not (sentence.endswith(".") and len(sentence) < 300)]
