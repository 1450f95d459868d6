"""Forecasts in a file of our own shape: to try a garden without a network, to replay a winter, to keep in the logbook.

The file is one JSON object::

    {"issued_utc": "2026-01-14T06:00:00Z",        when the forecast was made; null where unknown
     "start_utc": "2026-01-14T06:00:00Z",         the first hour mark, on the hour
     "air_c": [-3.1, -3.4, null, ...],            air at 2 m, °C, one value per hour; null is a missing hour
     "dew_point_c": [...], "wind_m_s": [...], "gust_m_s": [...],
     "cloud_fraction": [...], "sun_w_m2": [...],  each as long as air_c, or left out
     "precipitation_mm": [...],                   rain and melted snow of the hour before
     "new_snow_m": [...],                         depth of the snow that fell in it, in metres
     "sigma_c": [...], "members_air_c": [[...]],  the service's own spread, if any
     "credit": "...", "service": "...", "fetched_utc": "...", "doubts": [{"kind": ..., "subject": ..., "amount": ...}]}

Only start_utc and air_c must be there. The garden file may also name a folder of such files, each named by the time it
was issued (2026-01-14T0600Z.json): the newest one issued at or before now is used, so that a winter can be replayed
without looking ahead.
"""

import json
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from bot.forecasts.asking import Transport
from bot.forecasts.calls import Calls
from bot.forecasts.hour_marks import Layer, marks_from, number, on_marks, weather_of
from bot.forecasts.kept_answers import (
    Fetched,
    KeptAnswer,
    WeatherServiceError,
    document_of,
    objects,
    one_line,
    time_utc,
)
from rules.garden.doubt import Doubt, DoubtKind
from rules.garden.tree import Site
from rules.weather.hourly import FALLEN, Forecast, HourlyWeather, Hours

SERVICE: Final = "saved"
FILE_NAME: Final = "%Y-%m-%dT%H%MZ"
UNITS: Final = {
    "air_c": "degC",
    "dew_point_c": "degC",
    "wind_m_s": "m/s",
    "gust_m_s": "m/s",
    "cloud_fraction": "1",
    "sun_w_m2": "W/m²",
    "precipitation_mm": "mm",
    "new_snow_m": "m",
}
KEYS: Final = {
    *UNITS,
    *("issued_utc", "start_utc", "fetched_utc", "service", "credit", "sigma_c", "members_air_c", "doubts"),
}


def fetch_saved(site: Site, transport: Transport, now: datetime, kept: Mapping[str, KeptAnswer]) -> Fetched:  # noqa: ARG001 - one shape for all services
    """The text of the saved file, or of the newest in the folder that was issued at or before now."""
    if transport.saved_path is None:
        raise _unusable("The garden file names no file for {title}.")
    path = transport.saved_path
    try:
        path = _newest(path, now) if path.is_dir() else path
        body = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise _unusable(f"{{title}} in {path.name} cannot be read: {error.strerror or error}.") from error
    except UnicodeDecodeError as error:
        raise _unusable(f"{{title}} in {path.name} is no text.") from error
    issued_utc = _time(document_of(body, SERVICE), "issued_utc")
    if issued_utc is not None and issued_utc > now:
        raise _unusable(f"{{title}} in {path.name} was issued {issued_utc:%Y-%m-%d %H:%M} UTC, after now.")
    return Fetched(answers={SERVICE: KeptAnswer(service=SERVICE, body=body, fetched_utc=now)})


def _newest(folder: Path, now: datetime) -> Path:
    issued = {_issued_utc(path): path for path in sorted(folder.glob("*.json"))}
    before = [moment for moment in issued if moment <= now]
    if not before:
        raise _unusable(
            f"The folder {folder.name} holds no saved forecast issued by {now.astimezone(UTC):%Y-%m-%d %H:%M} UTC."
        )
    return issued[max(before)]


def _issued_utc(path: Path) -> datetime:
    try:
        return datetime.strptime(path.stem, FILE_NAME).replace(tzinfo=UTC)
    except ValueError as error:
        raise _unusable(
            f"The file {path.name} is not named by its time of issue, like 2026-01-14T0600Z.json."
        ) from error


def file_name(issued_utc: datetime) -> str:
    """The name of a saved forecast in a folder.

    >>> file_name(datetime(2026, 1, 14, 6, tzinfo=UTC))
    '2026-01-14T0600Z.json'
    """
    return f"{issued_utc.astimezone(UTC):{FILE_NAME}}.json"


def parse_saved(body: str, fetched_utc: datetime) -> Forecast:
    """The forecast in a saved text; the service, credit and time of fetching are those it was saved with, if any."""
    document = document_of(body, SERVICE)
    unknown = sorted(set(document) - KEYS)
    if unknown:
        raise _unusable(f"{{title}} has the unknown key '{one_line(unknown[0])}'.")
    start_utc, hours = _start_and_hours(document)
    layers = [_layer(field, document.get(field), start_utc, hours) for field in UNITS]
    weather, refused = weather_of(layers, SERVICE)
    return Forecast(
        service=str(document.get("service") or SERVICE),
        issued_utc=_time(document, "issued_utc"),
        fetched_utc=_time(document, "fetched_utc") or fetched_utc,
        weather=weather,
        members_air_c=_members_air_c(document.get("members_air_c"), weather),
        sigma_c=_sigma_c(document.get("sigma_c"), hours),
        credit=str(document.get("credit") or ""),
        doubts=(*_doubts(document.get("doubts")), *refused),
    )


def dump_forecast(forecast: Forecast) -> str:
    """A forecast as the text that `parse_saved` reads back to the same values.

    >>> from rules.weather.hourly import HourlyWeather
    >>> nan = np.full(2, np.nan)
    >>> weather = HourlyWeather(start_utc=datetime(2026, 1, 14, tzinfo=UTC), air_c=np.array([-3.1, np.nan]),
    ...     dew_point_c=nan, wind_m_s=nan, gust_m_s=nan, cloud_fraction=nan, sun_w_m2=nan)
    >>> text = dump_forecast(Forecast(service="saved", issued_utc=None, fetched_utc=weather.start_utc, weather=weather))
    >>> json.loads(text)["air_c"]
    [-3.1, None]
    """
    weather = forecast.weather
    document = {
        "service": forecast.service,
        "issued_utc": forecast.issued_utc and _text(forecast.issued_utc),
        "fetched_utc": _text(forecast.fetched_utc),
        "start_utc": _text(weather.start_utc),
        **{field: _plain(getattr(weather, field)) for field in UNITS if _is_told(field, weather)},
        "sigma_c": None if forecast.sigma_c is None else _plain(forecast.sigma_c),
        "members_air_c": None if forecast.members_air_c is None else [_plain(row) for row in forecast.members_air_c],
        "credit": forecast.credit,
        "doubts": [{"kind": d.kind.value, "subject": d.subject, "amount": d.amount} for d in forecast.doubts],
    }
    return json.dumps(document, allow_nan=False, ensure_ascii=False)


def _is_told(field: str, weather: HourlyWeather) -> bool:
    """Whether a field is worth a place: what nobody told of rain and snow is left out."""
    return field not in FALLEN or bool(np.isfinite(getattr(weather, field)).any())


def as_saved(forecast: Forecast) -> Forecast:
    """The forecast under the name the garden file asks for; its credit still says whose it is."""
    return replace(forecast, service=SERVICE)


def _unusable(sentence: str) -> WeatherServiceError:
    return WeatherServiceError(sentence, service=SERVICE, permanent=True)


def _text(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat().replace("+00:00", "Z")


def _plain(values: Hours) -> list[float | None]:
    return [float(value) if np.isfinite(value) else None for value in values]


def _time(document: Mapping[str, Any], key: str) -> datetime | None:
    return None if document.get(key) is None else time_utc(document[key], SERVICE)


def _start_and_hours(document: Mapping[str, Any]) -> tuple[datetime, int]:
    start_utc, air = _time(document, "start_utc"), document.get("air_c")
    if start_utc is None or not isinstance(air, list) or not air:
        raise _unusable("{title} must give start_utc and air_c.")
    return start_utc, len(air)


def _layer(field: str, values: object, start_utc: datetime, hours: int, unit_of: str = "") -> Layer:
    stated = [None] * hours if values is None else values
    if not isinstance(stated, list) or len(stated) != hours:
        given = len(stated) if isinstance(stated, list) else "no list of"
        raise _unusable(f"{{title}} gives {given} values of {unit_of or field}, but {hours} of air_c.")
    return Layer(field=field, unit=UNITS[field], values=dict(zip(marks_from(start_utc, hours), stated, strict=True)))


def _members_air_c(rows: object, weather: HourlyWeather) -> npt.NDArray[np.float64] | None:
    if rows is None:
        return None
    if not isinstance(rows, list) or len(rows) < 2:
        raise _unusable("{title} gives members_air_c that is no list of two or more members.")
    layers = [_layer("air_c", row, weather.start_utc, weather.hours, "a member") for row in rows]
    return np.stack([on_marks(layer, weather.start_utc, weather.hours, SERVICE)[0] for layer in layers])


def _sigma_c(values: object, hours: int) -> Hours | None:
    if values is None:
        return None
    if not isinstance(values, list):
        raise _unusable("{title} gives sigma_c that is no list of numbers.")
    sigma_c = np.array([number(value) for value in values], dtype=np.float64)
    if sigma_c.shape != (hours,) or not (np.isnan(sigma_c) | ((sigma_c >= 0) & (sigma_c < np.inf))).all():
        raise _unusable(f"{{title}} must give {hours} values of sigma_c, numbers from 0 up, like air_c.")
    return sigma_c


def _doubts(stated: object) -> tuple[Doubt, ...]:
    try:
        return tuple(
            Doubt(kind=DoubtKind(entry["kind"]), subject=entry.get("subject", ""), amount=entry.get("amount"))
            for entry in objects(stated)
        )
    except (KeyError, ValueError) as error:
        raise _unusable("{title} names a doubt we do not know.") from error


def _parse(answers: Mapping[str, KeptAnswer]) -> Forecast:
    return as_saved(parse_saved(answers[SERVICE].body, answers[SERVICE].fetched_utc))


CALLS: Final = Calls(fetch=fetch_saved, parse=_parse, place_deg=lambda _: None)  # a file is believed to be of here
