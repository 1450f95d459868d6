"""Several services heard at once, from two loopback services to the chat: each by itself, corrected, weighed, told."""

import json
import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from pytest_httpserver import HTTPServer
from werkzeug import Request, Response

from bot.forecasts import Transport, fetch_together
from bot.hosting.one_garden import Watch
from bot.rounds import RoundInputs, Setting, gather, inputs_of
from bot.weather_services import Service
from rules.garden.doubt import DoubtKind
from rules.weather.hourly import night_minima
from tests.bot.phone import Phone, larkmoor

MORNING = datetime(2026, 1, 12, 17, tzinfo=UTC)  # ten in the morning by the garden's clock
LOW_C = -9.0  # what each night brings at 06:00 UTC
MET_PATH = "/weatherapi/locationforecast/2.0/complete"
FULL_WAVE_C = 10.0


def wave_c(at: datetime, low_c: float) -> float:
    return float(low_c + FULL_WAVE_C / 2 * (1 - np.cos(2 * np.pi * (at.hour - 6) / 24)))


class Sky:
    """Two services: one tells nights 2 °C too warm and knows the hours gone by, the other tells them 3 °C too cold."""

    def __init__(self, server: HTTPServer) -> None:
        self.now = MORNING
        self.down: set[str] = set()
        server.expect_request("/v1/forecast").respond_with_handler(self.open_meteo)
        server.expect_request(MET_PATH).respond_with_handler(self.met_norway)

    def times(self, days_before: int) -> list[datetime]:
        start = self.now.astimezone(UTC).replace(minute=0, second=0, microsecond=0) - timedelta(days=days_before)
        return [start + timedelta(hours=i) for i in range(24 * (days_before + 6))]

    def open_meteo(self, _: Request) -> Response:
        times = self.times(3)
        air_c = [wave_c(at, LOW_C + (2.0 if at > self.now else 0.0)) for at in times]
        document = {
            "latitude": 39.0, "longitude": -109.0, "utc_offset_seconds": 0,
            "hourly_units": {"time": "iso8601", "temperature_2m": "°C"},
            "hourly": {"time": [f"{at:%Y-%m-%dT%H:%M}" for at in times], "temperature_2m": air_c},
        }  # fmt: skip
        return self._answer("open-meteo", document)

    def met_norway(self, _: Request) -> Response:
        details = [(at, {"air_temperature": wave_c(at, LOW_C - 3.0)}) for at in self.times(0)]
        series = [{"time": f"{at:%Y-%m-%dT%H:%M:%SZ}", "data": {"instant": {"details": one}}} for at, one in details]
        meta = {"updated_at": f"{self.now:%Y-%m-%dT%H:%M:%SZ}", "units": {"air_temperature": "celsius"}}
        document = {
            "geometry": {"coordinates": [-109.0, 39.0, 1600]},
            "properties": {"meta": meta, "timeseries": series},
        }
        return self._answer("met-norway", document)

    def _answer(self, service: str, document: dict[str, Any]) -> Response:
        if service in self.down:
            return Response("{}", status=503, content_type="application/json")
        return Response(json.dumps(document), content_type="application/json")


@pytest.fixture
def sky(httpserver: HTTPServer) -> Sky:
    return Sky(httpserver)


@pytest.fixture
def transport(httpserver: HTTPServer) -> Transport:
    base = httpserver.url_for("")
    names = ("open-meteo", "open-meteo/ensemble", "open-meteo/archive", "met-norway")
    return Transport(
        contact="grower@example.org", addresses=dict.fromkeys(names, base), pause=lambda _: None, retries=0
    )


@pytest.fixture
def phone(sky: Sky, transport: Transport) -> Iterator[Phone]:
    assert sky.now == MORNING
    garden = larkmoor("Wall fig")
    site = garden.site.model_copy(update={"latitude_deg": 39.0, "longitude_deg": -109.0})
    services = (Service.OPEN_METEO, Service.MET_NORWAY)
    changed = {"site": site, "services": services, "services_together": True, "contact": "grower@example.org"}
    phone = Phone(garden.model_copy(update={**changed, "saved_forecasts": None, "past_weather": None}), MORNING)
    phone.watch = Watch(Setting(garden=phone.garden, logbook=phone.logbook, transport=transport))
    yield phone
    phone.close()


def pass_days(phone: Phone, sky: Sky, days: int) -> None:
    """Days with a look at the services in the morning and before the night."""
    for _ in range(2 * days):
        sky.now = phone.now
        phone.watch.ask_services(phone.now)
        phone.now += timedelta(hours=12)
    sky.now = phone.now
    phone.watch.ask_services(phone.now)


def gathered(phone: Phone) -> RoundInputs:
    with phone.logbook.begin() as c:
        return gather(c, phone.garden, phone.now)


def lows_ahead(phone: Phone) -> list[float]:
    forecast = inputs_of(phone.garden, gathered(phone)).forecast
    assert forecast is not None
    nights = night_minima(forecast.weather, phone.garden.site.zone)
    return [low.air_c for low in nights if low.at_utc > phone.now][:3]


def test_each_service_is_asked_by_itself_and_the_first_goes_first(sky: Sky, transport: Transport, phone: Phone) -> None:
    found = fetch_together(phone.garden.services, phone.garden.site, transport, sky.now, {})
    assert found.forecast is not None
    assert [found.forecast.service, *(one.service for one in found.beside)] == ["open-meteo", "met-norway"]
    assert set(found.kept) == {"open-meteo", "met-norway"}


def test_one_that_fails_silences_no_other_and_is_named(sky: Sky, transport: Transport, phone: Phone) -> None:
    sky.down = {"open-meteo"}
    found = fetch_together(phone.garden.services, phone.garden.site, transport, sky.now, {})
    assert found.forecast is not None
    assert (found.forecast.service, found.beside) == ("met-norway", ())
    assert [name for name, _ in found.tried] == ["open-meteo"]
    phone.watch.ask_services(phone.now)
    told = gathered(phone)
    assert [(one.kind, one.subject) for one in told.doubts] == [(DoubtKind.SERVICE_SILENT, "Open-Meteo")]


def test_when_all_fail_there_is_no_forecast_and_both_say_why(sky: Sky, transport: Transport, phone: Phone) -> None:
    sky.down = {"open-meteo", "met-norway"}
    found = fetch_together(phone.garden.services, phone.garden.site, transport, sky.now, {})
    assert found.forecast is None
    assert {name for name, _ in found.tried} == {"open-meteo", "met-norway"}


def test_a_service_that_fell_silent_a_day_ago_counts_no_more(sky: Sky, phone: Phone) -> None:
    pass_days(phone, sky, 1)
    assert set(gathered(phone).shares) == {"open-meteo", "met-norway"}
    sky.down = {"met-norway"}
    pass_days(phone, sky, 2)
    told = gathered(phone)
    assert set(told.shares) == {"open-meteo"}
    assert [one.subject for one in told.doubts if one.kind is DoubtKind.SERVICE_SILENT] == ["MET Norway"]


def test_after_three_weeks_the_nights_told_are_those_that_come(sky: Sky, phone: Phone) -> None:
    sky.now = phone.now
    phone.watch.ask_services(phone.now)
    assert lows_ahead(phone)[0] == pytest.approx((LOW_C + 2 + LOW_C - 3) / 2, abs=0.2)  # two words of equal weight
    pass_days(phone, sky, 21)
    learned = gathered(phone).services
    assert learned.of("open-meteo").bias_c(24) == pytest.approx(2.0, abs=0.3)
    assert learned.of("met-norway").bias_c(24) == pytest.approx(-3.0, abs=0.3)
    assert lows_ahead(phone) == pytest.approx([LOW_C] * 3, abs=0.4)


def test_which_forecast_is_best_here_is_answered_with_figures(sky: Sky, phone: Phone) -> None:
    phone.watch.ask_services(phone.now)
    assert "I can't tell yet" in phone.say("which forecast is best here?")
    pass_days(phone, sky, 21)
    told = phone.say("which forecast is best here?")
    assert "are about as good here so far" in told  # once corrected they err alike
    assert re.search(r"Open-Meteo: lows off by 2.0 °C a day ahead, mostly (1.9|2.0) °C too warm; corrected ± \d", told)
    assert re.search(r"MET Norway: lows off by 3.0 °C a day ahead, mostly (2.9|3.0) °C too cold; corrected ± \d", told)
    assert re.search(r"from 2\d nights. Tonight it counts (4|5)\d %", told)
