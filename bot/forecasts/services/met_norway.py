"""MET Norway's Locationforecast 2.0, api.met.no (structure after its public documentation)."""

import re
from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta
from typing import Any, Final

import numpy as np

from bot.forecasts.asking import Question, Transport, coordinate
from bot.forecasts.calls import Calls
from bot.forecasts.fetching import fetch_answer
from bot.forecasts.hour_marks import Layer, believed_c, on_marks, place_of, shared_out, weather_of
from bot.forecasts.kept_answers import Fetched, KeptAnswer, WeatherServiceError, document_of, inside, objects, time_utc
from rules.garden.tree import Site
from rules.weather.hourly import Forecast, HourlyWeather, Hours
from rules.weather.stated_extremes import StatedExtremes, reaching

SERVICE: Final = "met-norway"
CREDIT: Final = "Based on data from MET Norway (CC BY 4.0)"
FIELDS: Final = {
    "air_temperature": "air_c",
    "dew_point_temperature": "dew_point_c",
    "wind_speed": "wind_m_s",
    "wind_speed_of_gust": "gust_m_s",
    "cloud_area_fraction": "cloud_fraction",
}
# Sums over the hours that follow; no service of theirs tells the depth of snow.
SIX_HOURS: Final = "next_6_hours"
SUMS_AHEAD: Final = {"next_1_hours": timedelta(hours=1), SIX_HOURS: timedelta(hours=6)}
LOWEST, HIGHEST = "air_temperature_min", "air_temperature_max"
FALLEN: Final = "precipitation_amount"
COLD_TENTH, WARM_TENTH = "air_temperature_percentile_10", "air_temperature_percentile_90"
SIGMAS_BETWEEN_TENTHS: Final = 2.5631  # of a normal curve: 2 x 1.28155
KEEP_H: Final = 0.5


def fetch_met_norway(site: Site, transport: Transport, now: datetime, kept: Mapping[str, KeptAnswer]) -> Fetched:
    """The complete forecast for the site; not asked for before it expires, then only if it changed."""
    question = Question(
        name=SERVICE,
        address=f"{transport.base(SERVICE)}/weatherapi/locationforecast/2.0/complete",
        parameters={
            "lat": coordinate(site.latitude_deg, cut=True),  # five decimals are refused
            "lon": coordinate(site.longitude_deg, cut=True),
            "altitude": str(round(site.elevation_m)),
        },
        keep_h=KEEP_H,
    )
    return Fetched(answers={SERVICE: fetch_answer(question, transport, now, kept.get(SERVICE))})


def parse_met_norway(body: str, fetched_utc: datetime) -> Forecast:
    """The forecast in an answer, hourly at first and then in steps of six hours (the hours between are missing).

    Half the distance between the stated tenth and ninetieth percentile is 1.2816 standard deviations.
    """
    properties = inside(document_of(body, SERVICE), "properties")
    steps = _steps(inside(properties, "timeseries"))
    instants = {moment: inside(data, "instant", "details") or {} for moment, data in steps.items()}
    units = inside(properties, "meta", "units")
    layers = [_layer(instants, theirs, ours, units) for theirs, ours in FIELDS.items()]
    fallen = Layer(
        field="precipitation_mm", unit=str(inside(units, FALLEN) or ""), values=shared_out(_sums_ahead(steps))
    )
    weather, doubts = weather_of([*layers, fallen], SERVICE)
    weather = reaching(weather, _extremes(steps, units))
    return Forecast(
        service=SERVICE,
        issued_utc=time_utc(inside(properties, "meta", "updated_at"), SERVICE),
        fetched_utc=fetched_utc,
        weather=weather,
        sigma_c=_sigma_c(instants, units, weather),
        credit=CREDIT,
        doubts=doubts,
    )


def _steps(timeseries: object) -> dict[datetime, Any]:
    """What is said at and after each moment."""
    steps: dict[datetime, Any] = {}
    for entry in objects(timeseries):
        moment = time_utc(entry.get("time"), SERVICE)
        if moment in steps:
            raise WeatherServiceError(f"{{title}} gives the hour {moment:%Y-%m-%d %H:%M} UTC twice.", service=SERVICE)
        steps[moment] = entry.get("data")
    return steps


def _sums_ahead(steps: Mapping[datetime, object]) -> Iterator[tuple[datetime, datetime, object]]:
    """Start, end and fall of each stretch: the next hour's where it is told, else that of the next six.

    The six hours after one moment overlap those after the next, so a stretch begins where the one before it ends.
    """
    told_until = min(steps, default=None)
    for moment, data in sorted(steps.items(), key=lambda step: step[0]):
        for ahead, length in SUMS_AHEAD.items():
            sum_mm = inside(data, ahead, "details", FALLEN)
            if sum_mm is not None and told_until is not None and moment >= told_until:
                told_until = moment + length
                yield moment, told_until, sum_mm


def _extremes(steps: Mapping[datetime, object], units: object) -> Iterator[StatedExtremes]:
    """Lowest and highest air of the six hours after each moment."""
    low, high = (
        believed_c([inside(data, SIX_HOURS, "details", name) for data in steps.values()], _unit(units, name))
        for name in (LOWEST, HIGHEST)
    )
    for moment, low_c, high_c in zip(steps, low, high, strict=True):
        yield StatedExtremes(start_utc=moment, end_utc=moment + SUMS_AHEAD[SIX_HOURS], min_c=low_c, max_c=high_c)


def _layer(instants: Mapping[datetime, object], theirs: str, ours: str, units: object) -> Layer:
    values = {t: inside(details, theirs) for t, details in instants.items()}
    return Layer(field=ours, unit=_unit(units, theirs), values=values)


def _unit(units: object, theirs: str) -> str:
    """The unit of a value; that of what it is derived from where it has none of its own."""
    derived_from = re.sub("_(percentile_.*|min|max)$", "", theirs)
    return str(inside(units, theirs) or inside(units, derived_from) or "")


def _sigma_c(instants: Mapping[datetime, object], units: object, weather: HourlyWeather) -> Hours | None:
    cold, warm = (
        on_marks(_layer(instants, theirs, "air_c", units), weather.start_utc, weather.hours, SERVICE)[0]
        for theirs in (COLD_TENTH, WARM_TENTH)
    )
    sigma_c = (warm - cold) / SIGMAS_BETWEEN_TENTHS
    sigma_c[sigma_c < 0] = np.nan  # percentiles the wrong way round say nothing
    return sigma_c if np.isfinite(sigma_c).any() else None


def place_met_norway(body: str) -> tuple[float, float] | None:
    """The place of an answer [degrees north, east]; the body gives east first."""
    stated = inside(document_of(body, SERVICE), "geometry", "coordinates")
    return place_of(stated[1], stated[0]) if isinstance(stated, list) and len(stated) >= 2 else None


def _parse(answers: Mapping[str, KeptAnswer]) -> Forecast:
    return parse_met_norway(answers[SERVICE].body, answers[SERVICE].fetched_utc)


CALLS: Final = Calls(fetch=fetch_met_norway, parse=_parse, place_deg=place_met_norway)
