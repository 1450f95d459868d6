"""The US National Weather Service's gridpoints, api.weather.gov (structure after its repository weather-gov/api)."""

import re
from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta
from typing import Any, Final
from urllib.parse import urlsplit

from bot.forecasts.asking import Question, Transport, coordinate
from bot.forecasts.calls import Calls
from bot.forecasts.fetching import fetch_answer
from bot.forecasts.hour_marks import HOUR, Layer, believed_c, place_of, shared_out, weather_of
from bot.forecasts.kept_answers import (
    Fetched,
    KeptAnswer,
    WeatherServiceError,
    document_of,
    inside,
    objects,
    one_line,
    time_utc,
)
from rules.garden.tree import Site
from rules.weather.hourly import Forecast
from rules.weather.stated_extremes import StatedExtremes, reaching

SERVICE: Final = "us-nws"
POINT: Final = "us-nws/point"
CREDIT: Final = "Forecast: US National Weather Service"
FIELDS: Final = {
    "temperature": "air_c",
    "dewpoint": "dew_point_c",
    "windSpeed": "wind_m_s",
    "windGust": "gust_m_s",
    "skyCover": "cloud_fraction",
}
EXTREMES: Final = {"minTemperature": "min_c", "maxTemperature": "max_c"}  # of a night, of a day
SHORTEST_EXTREME: Final = timedelta(hours=9)  # a period cut off by the end of the series is shorter; recorded: 6 h
# Sums over periods, not values at hours (weather-gov/api issues 21 and 134).
SUMS: Final = {"quantitativePrecipitation": "precipitation_mm", "snowfallAmount": "new_snow_m"}
HOPELESS: Final = ("ForecastGridExpired", "ForecastGridInvalid", "Forecast Grid Expired", "Forecast Grid Invalid")
MOVED: Final = {404, 503}  # the cell may have become a marine cell, or the mapping changed: ask for it anew
POINT_KEEP_H: Final = 7 * 24.0  # no source; the mapping "can change without notice" but seldom does
GRID_KEEP_H: Final = 1.0  # pace that worked for a heavy user of the service (weather-gov/api issue 86)
GRID_KEEP_AT_MOST_H: Final = 3.0
LONGEST_PERIOD: Final = timedelta(days=40)
_DURATION = re.compile(r"P(?:(\d+)D)?(?:T(?:(\d+)H)?(?:(\d+)M)?(?:(\d+)S)?)?")


def fetch_us_nws(site: Site, transport: Transport, now: datetime, kept: Mapping[str, KeptAnswer]) -> Fetched:
    """The grid answer for the site, by way of the point that names its grid cell."""
    known = kept.get(POINT)
    point = fetch_answer(_point_question(site, transport), transport, now, known)
    try:
        grid = fetch_answer(_grid_question(point, transport), transport, now, kept.get(SERVICE))
    except WeatherServiceError as failure:
        if failure.status not in MOVED or point is not known:
            raise
        before = grid_path(point.body)
        point = fetch_answer(_point_question(site, transport), transport, now)
        if grid_path(point.body) == before:
            raise
        grid = fetch_answer(_grid_question(point, transport), transport, now)
    return Fetched(answers={POINT: point, SERVICE: grid})


def _point_question(site: Site, transport: Transport) -> Question:
    place = f"{coordinate(site.latitude_deg)},{coordinate(site.longitude_deg)}"
    return Question(
        name=POINT,
        address=f"{transport.base(SERVICE)}/points/{place}",
        keep_h=POINT_KEEP_H,
        web_page_is_busy=True,
    )


def _grid_question(point: KeptAnswer, transport: Transport) -> Question:
    return Question(
        name=SERVICE,
        address=transport.base(SERVICE) + grid_path(point.body),
        keep_h=GRID_KEEP_H,
        keep_at_most_h=GRID_KEEP_AT_MOST_H,
        hopeless=HOPELESS,
        web_page_is_busy=True,
    )


def grid_path(point_body: str) -> str:
    """The path of the grid's address in the answer about a point."""
    path = urlsplit(str(inside(document_of(point_body, SERVICE), "properties", "forecastGridData") or "")).path
    if not path.startswith("/gridpoints/"):
        raise WeatherServiceError("{title} has no forecast grid for this place.", service=SERVICE, permanent=True)
    return path


def parse_us_nws(body: str, fetched_utc: datetime) -> Forecast:
    """The forecast in a grid answer.

    The layers are run-length coded: each value holds for every hour mark from the start of its period up to, not
    including, its end. Rain and snow are sums over their period, shared out evenly over its hours. The series starts
    hours before it was issued. Its resolution is 1 °F.
    """
    properties = inside(document_of(body, SERVICE), "properties")
    layers = [_layer(inside(properties, theirs), ours, fetched_utc) for theirs, ours in FIELDS.items()]
    layers += [_sum_layer(inside(properties, theirs), ours, fetched_utc) for theirs, ours in SUMS.items()]
    weather, doubts = weather_of(layers, SERVICE)
    for theirs, ours in EXTREMES.items():
        weather = reaching(weather, _extremes(inside(properties, theirs), ours, fetched_utc))
    issued_utc = time_utc(inside(properties, "updateTime"), SERVICE)
    return Forecast(
        service=SERVICE, issued_utc=issued_utc, fetched_utc=fetched_utc, weather=weather, credit=CREDIT, doubts=doubts
    )


def _unit(stated: object) -> str:
    return str(inside(stated, "uom") or "").rpartition(":")[2]  # "wmoUnit:degC", "unit:degC" and "degC" all occurred


def _layer(stated: object, field: str, fetched_utc: datetime) -> Layer:
    values: dict[datetime, Any] = {}
    for entry in objects(inside(stated, "values")):
        values |= dict.fromkeys(_marks(*period_utc(entry.get("validTime"), fetched_utc)), entry.get("value"))
    return Layer(field=field, unit=_unit(stated), values=values)


def _sum_layer(stated: object, field: str, fetched_utc: datetime) -> Layer:
    entries = objects(inside(stated, "values"))
    sums = ((*period_utc(entry.get("validTime"), fetched_utc), entry.get("value")) for entry in entries)
    return Layer(field=field, unit=_unit(stated), values=shared_out(sums))


def _extremes(stated: object, ours: str, fetched_utc: datetime) -> Iterator[StatedExtremes]:
    """The low of each night, or the high of each day, by its own period; those cut off say nothing of the whole."""
    entries = list(objects(inside(stated, "values")))
    believed = believed_c([entry.get("value") for entry in entries], _unit(stated))
    for entry, value_c in zip(entries, believed, strict=True):
        start, end = period_utc(entry.get("validTime"), fetched_utc)
        if end - start >= SHORTEST_EXTREME:
            yield StatedExtremes(start_utc=start, end_utc=end, **{ours: float(value_c)})


def _marks(start_utc: datetime, end_utc: datetime) -> Iterator[datetime]:
    """The hour marks from start (the next one where it is off the hour) up to, not including, end."""
    floor = start_utc.replace(minute=0, second=0, microsecond=0)
    mark = floor if floor == start_utc else floor + HOUR
    while mark < end_utc:
        yield mark
        mark += HOUR


def period_utc(text: object, now_utc: datetime) -> tuple[datetime, datetime]:
    """Start and end of a validTime: start/end, start/duration or duration/end, where NOW may stand for a time.

    >>> from datetime import UTC
    >>> start, end = period_utc("2026-01-14T03:00:00+00:00/P1DT6H", datetime(2026, 1, 14, tzinfo=UTC))
    >>> (end - start).total_seconds() / 3600
    30.0
    """
    left, _, right = str(text).partition("/")
    if left.startswith("P"):
        end = _moment(right, now_utc)
        start = end - duration(left)
    else:
        start = _moment(left, now_utc)
        end = start + duration(right) if right.startswith("P") else _moment(right, now_utc)
    if not timedelta(0) <= end - start <= LONGEST_PERIOD:
        raise WeatherServiceError(f"{{title}} gives a value for the odd period '{one_line(text)}'.", service=SERVICE)
    return start, end


def duration(text: str) -> timedelta:
    """Length of an ISO 8601 duration of days, hours, minutes and seconds.

    Years and months are legal in the service's pattern but have no fixed length; they are refused.

    >>> duration("P2DT12H") / HOUR
    60.0
    """
    match = _DURATION.fullmatch(text)
    if match is None or not any(match.groups()) or any(len(part or "") > 6 for part in match.groups()):
        raise WeatherServiceError(
            f"{{title}} gives the duration '{one_line(text)}', which we cannot read.", service=SERVICE
        )
    days, hours, minutes, seconds = (int(part or 0) for part in match.groups())
    return timedelta(days=days, hours=hours, minutes=minutes, seconds=seconds)


def _moment(text: str, now_utc: datetime) -> datetime:
    return now_utc.replace(minute=0, second=0, microsecond=0) if text == "NOW" else time_utc(text, SERVICE)


def place_us_nws(body: str) -> tuple[float, float] | None:
    """Middle of the grid cell [degrees north, east], None where the answer does not draw it."""
    rings = inside(document_of(body, SERVICE), "geometry", "coordinates")
    ring = rings[0] if isinstance(rings, list) and rings else None
    if not isinstance(ring, list):
        return None
    corners = [corner for corner in ring if isinstance(corner, list) and len(corner) >= 2]
    places = [place for place in (place_of(corner[1], corner[0]) for corner in corners) if place]
    if not places:
        return None
    return sum(p[0] for p in places) / len(places), sum(p[1] for p in places) / len(places)


def _parse(answers: Mapping[str, KeptAnswer]) -> Forecast:
    return parse_us_nws(answers[SERVICE].body, answers[SERVICE].fetched_utc)


CALLS: Final = Calls(fetch=fetch_us_nws, parse=_parse, place_deg=place_us_nws)
