"""Open-Meteo's forecast and ensemble, open-meteo.com (structure after its public documentation and source).

We ask for hours in UTC, because a series in local time carries one offset for its whole length and slips by an hour
where the clock changes inside it. We ask for no height correction (`elevation=nan`): the service moves temperatures at
a constant 6.5 K/km, which warms a valley floor just on the nights when an inversion makes it colder than the slopes.
What a tree's own spot adds is learned from its thermometer instead.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any, Final

import numpy as np

from bot.forecasts.asking import Question, Transport, coordinate
from bot.forecasts.calls import Calls
from bot.forecasts.fetching import fetch_answer
from bot.forecasts.hour_marks import HOUR, Layer, believed_c, on_marks, place_of, refuse_other_place, weather_of
from bot.forecasts.kept_answers import Fetched, KeptAnswer, WeatherServiceError, document_of, inside, one_line
from rules.garden.doubt import Doubt, DoubtKind
from rules.garden.tree import Site
from rules.weather.hourly import Forecast, Hours
from rules.weather.stated_extremes import StatedExtremes, reaching

SERVICE: Final = "open-meteo"
ENSEMBLE: Final = "open-meteo/ensemble"
CREDIT: Final = "Weather data by Open-Meteo.com (CC BY 4.0)"  # wording from memory
FIELDS: Final = {
    "temperature_2m": "air_c",
    "dew_point_2m": "dew_point_c",
    "wind_speed_10m": "wind_m_s",
    "wind_gusts_10m": "gust_m_s",
    "cloud_cover": "cloud_fraction",
    "shortwave_radiation": "sun_w_m2",
    "precipitation": "precipitation_mm",  # of the preceding hour: rain, showers and melted snow
    "snowfall": "new_snow_m",  # of the preceding hour, in cm
}
EXTREMES: Final = ("temperature_2m_min", "temperature_2m_max")  # of each day of UTC; hours and days may disagree
FORECAST_DAYS: Final = 10
ENSEMBLE_MODEL: Final = "ecmwf_ifs025"  # 51 members, 15 days, the whole globe; one model, or the names grow suffixes
DAY: Final = timedelta(days=1)
KEEP_H: Final = 1.0  # fair use asks for a pace of an hour or slower
SAME_ROUND: Final = timedelta(hours=12)  # members of an older run are not set beside a newer forecast; no source
ENSEMBLE_KEEP_H: Final = 3.0  # the model runs every 6 h
HOPELESS: Final = ("try again tomorrow", "next hour", "Daily API", "Hourly API")
_MEMBER = re.compile(r"temperature_2m(_member\d+)?")


def fetch_open_meteo(site: Site, transport: Transport, now: datetime, kept: Mapping[str, KeptAnswer]) -> Fetched:
    """The forecast with its past days and, where that can be had and read, the ensemble."""
    forecast = fetch_answer(_forecast_question(site, transport), transport, now, kept.get(SERVICE))
    try:
        ensemble = fetch_answer(_ensemble_question(site, transport), transport, now, kept.get(ENSEMBLE))
        refuse_other_place(place_open_meteo(ensemble.body), site, SERVICE)
        parse_open_meteo(forecast.body, now, ensemble.body)
    except WeatherServiceError as failure:
        return Fetched(answers={SERVICE: forecast}, tried=[(ENSEMBLE, str(failure))])
    return Fetched(answers={SERVICE: forecast, ENSEMBLE: ensemble})


def place_parameters(site: Site) -> dict[str, str]:
    """What every question says of the place: no height correction, hence `elevation=nan`."""
    return {
        "latitude": coordinate(site.latitude_deg),
        "longitude": coordinate(site.longitude_deg),
        "elevation": "nan",
    }


def _forecast_question(site: Site, transport: Transport) -> Question:
    parameters = {
        **place_parameters(site),
        "hourly": ",".join(FIELDS),
        "daily": ",".join(EXTREMES),
        "past_days": str(transport.past_days),
        "forecast_days": str(FORECAST_DAYS),
        "wind_speed_unit": "ms",
        "timezone": "UTC",
        "timeformat": "iso8601",
    }
    address = f"{transport.base(SERVICE)}/v1/forecast"
    return Question(name=SERVICE, address=address, parameters=parameters, keep_h=KEEP_H, hopeless=HOPELESS)


def _ensemble_question(site: Site, transport: Transport) -> Question:
    parameters = {
        **place_parameters(site),
        "hourly": "temperature_2m",
        "models": ENSEMBLE_MODEL,
        "forecast_days": str(FORECAST_DAYS),
        "timezone": "UTC",
        "timeformat": "iso8601",
    }
    address = f"{transport.base(ENSEMBLE)}/v1/ensemble"
    return Question(name=ENSEMBLE, address=address, parameters=parameters, keep_h=ENSEMBLE_KEEP_H, hopeless=HOPELESS)


def parse_open_meteo(body: str, fetched_utc: datetime, ensemble_body: str = "") -> Forecast:
    """The forecast in an answer, with the members of an ensemble's answer on the same hours.

    The service does not say when the forecast was issued. An hour that the ensemble lacks is missing in every member.
    """
    document = document_of(body, SERVICE)
    marks = _marks_utc(document)
    layers = [_layer(document, theirs, ours, marks) for theirs, ours in FIELDS.items()]
    weather, doubts = weather_of(layers, SERVICE)
    weather = reaching(weather, _extremes(document))
    forecast = Forecast(
        service=SERVICE, issued_utc=None, fetched_utc=fetched_utc, weather=weather, credit=CREDIT, doubts=doubts
    )
    return _with_members(forecast, _members(ensemble_body)) if ensemble_body else forecast


def _members(ensemble_body: str) -> list[Layer]:
    """The air of each member, the control run first."""
    document = document_of(ensemble_body, SERVICE)
    marks = _marks_utc(document)
    names = sorted(name for name in inside(document, "hourly") or () if _MEMBER.fullmatch(name))
    layers = [_layer(document, name, "air_c", marks) for name in names]
    stated = [layer for layer in layers if any(value is not None for value in layer.values.values())]
    if len(stated) < 2:
        raise WeatherServiceError("The ensemble of {title} has no members.", service=SERVICE)
    return stated


def _with_members(forecast: Forecast, members: list[Layer]) -> Forecast:
    weather = forecast.weather
    placed = [on_marks(layer, weather.start_utc, weather.hours, SERVICE) for layer in members]
    refused = sum(count for _, count in placed)
    doubt = [Doubt(kind=DoubtKind.VALUE_REFUSED, subject="members_air_c", amount=refused)] if refused else []
    members_air_c = np.stack([values for values, _ in placed])
    return replace(forecast, members_air_c=members_air_c, doubts=(*forecast.doubts, *doubt))


def _extremes(document: dict[str, Any]) -> Iterator[StatedExtremes]:
    """Lowest and highest air of each day of the answer's own offset; nothing where it tells no days, or others."""
    days = inside(document, "daily", "time")
    lows, highs = (_daily_c(document, name) for name in EXTREMES)
    if not isinstance(days, list) or not len(days) == len(lows) == len(highs):
        return
    is_unix = inside(document, "daily_units", "time") == "unixtime"
    offset = timedelta(0) if is_unix else _offset(document)
    for day, low_c, high_c in zip(days, lows, highs, strict=True):
        start = _mark(day, is_unix=is_unix) - offset
        yield StatedExtremes(start_utc=start, end_utc=start + DAY - HOUR, min_c=float(low_c), max_c=float(high_c))


def _daily_c(document: dict[str, Any], name: str) -> Hours:
    values = inside(document, "daily", name)
    return believed_c(values if isinstance(values, list) else [], str(inside(document, "daily_units", name) or ""))


def _layer(document: dict[str, Any], theirs: str, ours: str, marks: list[datetime]) -> Layer:
    values = inside(document, "hourly", theirs)
    if values is None:
        return Layer(field=ours, unit="", values={})
    if not isinstance(values, list) or len(values) != len(marks):
        raise WeatherServiceError(f"{{title}} gives {theirs} for other hours than it names.", service=SERVICE)
    unit = str(inside(document, "hourly_units", theirs) or "")
    return Layer(field=ours, unit=unit, values=dict(zip(marks, values, strict=True)))


def _marks_utc(document: dict[str, Any]) -> list[datetime]:
    """The hours of an answer; refused where they do not follow each other by one hour.

    ISO times are local and naive with the answer's one offset, also beyond a change of the clock; Unix times are UTC.
    """
    stated = inside(document, "hourly", "time")
    if not isinstance(stated, list) or not stated:
        raise WeatherServiceError("The answer of {title} names no hours.", service=SERVICE)
    is_unix = inside(document, "hourly_units", "time") == "unixtime"
    offset = timedelta(0) if is_unix else _offset(document)
    marks = [_mark(text, is_unix=is_unix) - offset for text in stated]
    odd = next((after for before, after in pairwise(marks) if after - before != HOUR), None)
    if odd is not None:
        raise WeatherServiceError(f"The hours of {{title}} jump at {odd:%Y-%m-%d %H:%M} UTC.", service=SERVICE)
    return marks


def _offset(document: dict[str, Any]) -> timedelta:
    stated = document.get("utc_offset_seconds")
    if isinstance(stated, bool) or not isinstance(stated, int) or abs(stated) > 15 * 3600:
        raise WeatherServiceError("{title} does not say which offset from UTC its hours have.", service=SERVICE)
    return timedelta(seconds=stated)


def _mark(stated: object, *, is_unix: bool) -> datetime:
    try:
        if is_unix:
            return datetime.fromtimestamp(int(str(stated)), UTC)
        return datetime.fromisoformat(str(stated)).replace(tzinfo=UTC)
    except (ValueError, OverflowError, OSError) as error:
        told = one_line(stated)
        raise WeatherServiceError(
            f"{{title}} states the time '{told}', which we cannot read.", service=SERVICE
        ) from error


def place_open_meteo(body: str) -> tuple[float, float] | None:
    """Middle of the grid cell [degrees north, east]."""
    document = document_of(body, SERVICE)
    return place_of(document.get("latitude"), document.get("longitude"))


def _parse(answers: Mapping[str, KeptAnswer]) -> Forecast:
    answer, ensemble = answers[SERVICE], answers.get(ENSEMBLE)
    together = ensemble is not None and abs(answer.fetched_utc - ensemble.fetched_utc) <= SAME_ROUND
    return parse_open_meteo(answer.body, answer.fetched_utc, ensemble.body if ensemble and together else "")


CALLS: Final = Calls(fetch=fetch_open_meteo, parse=_parse, place_deg=place_open_meteo)
