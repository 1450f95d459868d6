"""The services in the grower's order or all at once, and the last good copy of what fails.

One answer is used whole: hours of two services are never joined.
"""

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np

from bot.forecasts.asking import Transport
from bot.forecasts.calls import calls_of
from bot.forecasts.hour_marks import refuse_other_place
from bot.forecasts.kept_answers import Fetched, KeptAnswer, WeatherServiceError
from bot.weather_services import Service
from rules.garden.doubt import Doubt, DoubtKind
from rules.garden.tree import Site
from rules.weather.hourly import Forecast, HourlyWeather

# An answer can be old though its status is 200 (88 h: weather-gov/api issue 71): from LATE_H we say so, from TOO_LATE_H
# another service is better; both bounds are common practice, no source.
LATE_H: Final = 12.0
TOO_LATE_H: Final = 24.0
AHEAD_OF_US: Final = timedelta(hours=2)  # clocks differ by minutes, not by hours; no source
LONGEST_STEP: Final = timedelta(hours=6)  # MET Norway's later steps
NIGHT_ENDS: Final = 7  # local hour by which the coldest hours are over


@dataclass(frozen=True, kw_only=True)
class Gathered:
    """What a round got to look at.

    Parameters
    ----------
    forecast
        One service's forecast; None where nobody has one that reaches the coming night.
    doubts
        What was refused in it, its age where that matters, or that there is none.
    tried
        The services, or parts of one, that failed before, each with one sentence why.
    kept
        Answers by name, new or renewed, to be stored in place of the old ones.
    beside
        The forecasts of the other services, where several are heard together.
    """

    forecast: Forecast | None
    doubts: tuple[Doubt, ...] = ()
    tried: tuple[tuple[str, str], ...] = ()
    kept: Mapping[str, KeptAnswer] = field(default_factory=dict)
    beside: tuple[Forecast, ...] = ()


def fetch_first_good(
    services: Sequence[str], site: Site, transport: Transport, now: datetime, kept: Mapping[str, KeptAnswer]
) -> Gathered:
    """The forecast of the first service in the list that has a good one, else the last good copy, else none."""
    tried: list[tuple[str, str]] = []
    for service in services:
        try:
            forecast, fetched = _fetch_checked(service, site, transport, now, kept)
        except WeatherServiceError as failure:
            tried.append((service, str(failure)))
            continue
        return Gathered(
            forecast=forecast,
            doubts=(*forecast.doubts, *_late(forecast, now)),
            tried=(*tried, *fetched.tried),
            kept=fetched.answers,
        )
    return _last_good(services, site, now, kept, tried)


def fetch_together(
    services: Sequence[str], site: Site, transport: Transport, now: datetime, kept: Mapping[str, KeptAnswer]
) -> Gathered:
    """The forecasts of all services, each asked by itself within its own time, so that none waits for another.

    One that fails lends its last good copy; the first in the list with a fresh forecast goes first.
    """
    with ThreadPoolExecutor(max_workers=len(services), thread_name_prefix="services") as asking:
        each = list(asking.map(lambda one: fetch_first_good([one], site, transport, now, kept), services))
    tried = tuple(failure for one in each for failure in one.tried)
    heard = sorted((one for one in each if one.forecast is not None), key=lambda one: _is_old(one.forecast, now))
    if not heard:
        return Gathered(forecast=None, doubts=(Doubt(kind=DoubtKind.NO_FORECAST),), tried=tried)
    return Gathered(
        forecast=heard[0].forecast,
        doubts=heard[0].doubts,
        tried=tried,
        kept={name: answer for one in each for name, answer in one.kept.items()},
        beside=tuple(one.forecast for one in heard[1:] if one.forecast is not None),
    )


def _is_old(forecast: Forecast | None, now: datetime) -> bool:
    return forecast is None or _age_h(forecast, now) > TOO_LATE_H


def parse_kept(service: str, answers: Mapping[str, KeptAnswer]) -> Forecast:
    """The forecast in kept answers; KeyError where the service's own is not among them."""
    return calls_of(service).parse(answers)


def coming_night_end_utc(now: datetime, zone: ZoneInfo) -> datetime:
    """The next 07:00 on the garden's clock.

    >>> coming_night_end_utc(datetime(2026, 1, 14, 20, tzinfo=UTC), ZoneInfo("America/Denver")).isoformat()
    '2026-01-15T14:00:00+00:00'
    """
    local = now.astimezone(zone)
    day = local.date() + timedelta(days=1 if local.hour >= NIGHT_ENDS else 0)
    return datetime(day.year, day.month, day.day, NIGHT_ENDS, tzinfo=zone).astimezone(UTC)


def reaches_coming_night(weather: HourlyWeather, now: datetime, zone: ZoneInfo) -> bool:
    """Whether air is known from now to the end of the coming night, in steps of at most six hours."""
    end_utc = coming_night_end_utc(now, zone)
    known = [t for t, air_c in zip(weather.times_utc(), weather.air_c, strict=True) if np.isfinite(air_c)]
    ahead = [now, *(t for t in known if t > now)]
    if ahead[-1] < end_utc or (known and known[0] > now + LONGEST_STEP):
        return False
    return all(after - before <= LONGEST_STEP for before, after in pairwise(ahead) if before < end_utc)


def _fetch_checked(
    service: str, site: Site, transport: Transport, now: datetime, kept: Mapping[str, KeptAnswer]
) -> tuple[Forecast, Fetched]:
    fetched = calls_of(service).fetch(site, transport.begun(), now, kept)
    forecast = _checked(service, fetched.answers, site, now)
    age_h = _age_h(forecast, now)
    if age_h > TOO_LATE_H and service != Service.SAVED:
        raise WeatherServiceError(f"The forecast of {{title}} is {age_h:.0f} hours old.", service=service)
    return forecast, fetched


def _checked(service: str, answers: Mapping[str, KeptAnswer], site: Site, now: datetime) -> Forecast:
    """The forecast in answers: for this place, from the past, and for the coming night."""
    forecast = parse_kept(service, answers)
    refuse_other_place(calls_of(service).place_deg(answers[service].body), site, service)
    if forecast.known_since_utc > now + AHEAD_OF_US:
        raise WeatherServiceError(
            f"{{title}} issued its forecast at {forecast.known_since_utc:%Y-%m-%d %H:%M} UTC, "
            f"but the clock here says {now.astimezone(UTC):%Y-%m-%d %H:%M}.",
            service=service,
        )
    if not reaches_coming_night(forecast.weather, now, site.zone):
        raise WeatherServiceError("The forecast of {title} does not reach through the coming night.", service=service)
    return forecast


def _last_good(
    services: Sequence[str], site: Site, now: datetime, kept: Mapping[str, KeptAnswer], tried: list[tuple[str, str]]
) -> Gathered:
    """The youngest kept forecast that still reaches through the coming night."""
    found: list[Forecast] = []
    for service in services:
        if service in kept:
            try:
                found.append(_checked(service, kept, site, now))
            except WeatherServiceError as failure:
                tried.append((service, f"Last good copy: {failure}"))
    if not found:
        return Gathered(forecast=None, doubts=(Doubt(kind=DoubtKind.NO_FORECAST),), tried=tuple(tried))
    forecast = max(found, key=lambda copy: copy.known_since_utc)
    stale = Doubt(kind=DoubtKind.STALE_FORECAST, subject=forecast.service, amount=_age_h(forecast, now))
    return Gathered(forecast=forecast, doubts=(*forecast.doubts, stale), tried=tuple(tried))


def _late(forecast: Forecast, now: datetime) -> tuple[Doubt, ...]:
    age_h = _age_h(forecast, now)
    stale = Doubt(kind=DoubtKind.STALE_FORECAST, subject=forecast.service, amount=age_h)
    return (stale,) if age_h > LATE_H else ()


def _age_h(forecast: Forecast, now: datetime) -> float:
    return (now - forecast.known_since_utc).total_seconds() / 3600
