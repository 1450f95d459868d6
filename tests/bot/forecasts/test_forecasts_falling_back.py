"""Whole services over a loopback server: the order, the last good copy, what is refused."""

import json
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from pytest_httpserver import HTTPServer
from werkzeug import Response

from bot.forecasts import (
    KeptAnswer,
    Transport,
    WeatherServiceError,
    fetch_elevation_m,
    fetch_first_good,
    fetch_past_days,
    parse_kept,
    parse_past_days,
)
from bot.forecasts.falling_back import coming_night_end_utc, reaches_coming_night
from bot.weather_services import SERVICES, Service, public_address
from rules.garden.doubt import Doubt, DoubtKind
from rules.garden.tree import Site
from rules.weather.hourly import Forecast
from tests.hourly import hours_of

ROOT = Path(__file__).parents[3]
HOSTED = {name: one for name, one in SERVICES.items() if one.address}
NAMES = sorted(part for name, one in HOSTED.items() for part in (str(name), *(f"{name}/{of}" for of in one.parts)))
DATA = Path(__file__).parents[2] / "data" / "weather_json"
SITE = Site(latitude_deg=39, longitude_deg=-109, elevation_m=978, time_zone="America/Denver")
NOW = datetime(2026, 1, 14, 20, 5, tzinfo=UTC)  # 13:05 on the garden's clock; the night ends 2026-01-15T14:00Z
START = NOW.replace(minute=0)
POINT_PATH, GRID_PATH = "/points/39,-109", "/gridpoints/KBX/86,105"
MET_PATH = "/weatherapi/locationforecast/2.0/complete"


@pytest.fixture
def transport(httpserver: HTTPServer) -> Transport:
    base = httpserver.url_for("")
    names = ("us-nws", "open-meteo", "open-meteo/ensemble", "open-meteo/archive", "met-norway")
    return Transport(contact="grower@example.org", addresses=dict.fromkeys(names, base), pause=lambda _: None)


def fetched(service: str, transport: Transport, site: Site = SITE) -> Forecast:
    """The forecast that one service alone gives."""
    gathered = fetch_first_good([service], site, transport, NOW, {})
    assert gathered.forecast is not None, gathered.tried
    return gathered.forecast


def why_not(service: str, transport: Transport, *kept: KeptAnswer) -> str:
    """Why one service gives no forecast."""
    gathered = fetch_first_good([service], SITE, transport, NOW, {one.service: one for one in kept})
    assert gathered.forecast is None
    return dict(gathered.tried)[service]


def open_meteo(air_c: float = -5.0, *, hours: int = 48, latitude_deg: float = 39.0, **series: float) -> dict[str, Any]:
    times = [(START + timedelta(hours=i)).strftime("%Y-%m-%dT%H:%M") for i in range(hours)]
    levels = {"temperature_2m": air_c, **series}
    return {
        "latitude": latitude_deg,
        "longitude": -109.0,
        "utc_offset_seconds": 0,
        "hourly_units": {"time": "iso8601", **dict.fromkeys(levels, "°C")},
        "hourly": {"time": times, **{name: [level] * hours for name, level in levels.items()}},
    }


def met_norway(air_c: float = -6.0, *, updated: datetime = START, hours: int = 48) -> dict[str, Any]:
    document: dict[str, Any] = json.loads((DATA / "met_complete.json").read_text(encoding="utf-8"))
    document["properties"]["meta"]["updated_at"] = updated.isoformat()
    document["properties"]["timeseries"] = [
        {
            "time": (START + timedelta(hours=i)).isoformat(),
            "data": {"instant": {"details": {"air_temperature": air_c}}},
        }
        for i in range(hours)
    ]
    return document


def nws_grid(air_c: float = -7.0, *, updated: datetime = START) -> dict[str, Any]:
    document: dict[str, Any] = json.loads((DATA / "nws_grid.json").read_text(encoding="utf-8"))
    period = f"{(START - timedelta(hours=9)).isoformat()}/P2DT12H"
    document["properties"]["updateTime"] = updated.isoformat()
    document["properties"]["temperature"]["values"] = [{"validTime": period, "value": air_c}]
    for extreme in ("minTemperature", "maxTemperature"):
        document["properties"][extreme]["values"] = []
    return document


def nws_point(grid: str = GRID_PATH) -> dict[str, Any]:
    document: dict[str, Any] = json.loads((DATA / "nws_point.json").read_text(encoding="utf-8"))
    document["properties"]["forecastGridData"] = f"https://api.weather.gov{grid}"
    return document


def serves(server: HTTPServer, path: str, document: object, **headers: str) -> None:
    stated = {name.replace("_", "-"): value for name, value in headers.items()}
    server.expect_request(path).respond_with_json(document, headers=stated)


def fails(server: HTTPServer, path: str, status: int, title: str = "") -> None:
    body = json.dumps({"title": title, "type": f"https://api.weather.gov/problems/{title}", "status": status})
    server.expect_request(path).respond_with_response(Response(body, status=status, content_type="application/json"))


def paths(server: HTTPServer) -> list[str]:
    return [request.path for request, _ in server.log]


def kept_open_meteo(age: timedelta, **changes: Any) -> dict[str, KeptAnswer]:
    body = json.dumps(open_meteo(**changes))
    return {"open-meteo": KeptAnswer(service="open-meteo", body=body, fetched_utc=NOW - age)}


def test_the_first_service_that_answers_is_used_whole_and_the_others_are_not_asked(
    httpserver: HTTPServer, transport: Transport
) -> None:
    serves(httpserver, MET_PATH, met_norway())
    gathered = fetch_first_good(["met-norway", "open-meteo"], SITE, transport, NOW, {})
    assert gathered.forecast is not None
    assert (gathered.forecast.service, set(gathered.forecast.weather.air_c)) == ("met-norway", {-6.0})
    assert (gathered.tried, gathered.doubts, list(gathered.kept)) == ((), (), ["met-norway"])
    assert paths(httpserver) == [MET_PATH]


def test_a_failing_service_gives_way_to_the_next_and_says_why(httpserver: HTTPServer, transport: Transport) -> None:
    fails(httpserver, "/v1/forecast", 503)
    fails(httpserver, POINT_PATH, 404)
    serves(httpserver, MET_PATH, met_norway())
    gathered = fetch_first_good(["open-meteo", "us-nws", "met-norway"], SITE, transport, NOW, {})
    assert gathered.forecast is not None
    assert gathered.forecast.service == "met-norway"
    assert [service for service, _ in gathered.tried] == ["open-meteo", "us-nws"]
    assert "out of order (503)" in gathered.tried[0][1]
    assert gathered.tried[1][1].startswith("The US National Weather Service has no forecast for this place")
    assert set(gathered.forecast.weather.air_c) == {-6.0}  # not one hour of another service


def test_when_all_fail_the_last_good_copy_is_used_with_its_age(httpserver: HTTPServer, transport: Transport) -> None:
    fails(httpserver, "/v1/forecast", 500)
    gathered = fetch_first_good(["open-meteo"], SITE, transport, NOW, kept_open_meteo(timedelta(hours=30)))
    assert gathered.forecast is not None
    assert gathered.doubts == (Doubt(kind=DoubtKind.STALE_FORECAST, subject="open-meteo", amount=30.0),)
    assert len(gathered.tried) == 1
    assert gathered.kept == {}  # what is stored stays


def test_of_two_copies_the_younger_is_used(httpserver: HTTPServer, transport: Transport) -> None:
    fails(httpserver, "/v1/forecast", 500)
    fails(httpserver, MET_PATH, 500)
    kept = kept_open_meteo(timedelta(hours=20))
    issued = NOW - timedelta(hours=5)
    body = json.dumps(met_norway(updated=issued))
    kept["met-norway"] = KeptAnswer(service="met-norway", body=body, fetched_utc=issued)
    gathered = fetch_first_good(["open-meteo", "met-norway"], SITE, transport, NOW, kept)
    assert gathered.forecast is not None
    assert gathered.forecast.service == "met-norway"


def test_a_copy_that_ends_before_the_coming_night_does_is_no_forecast(
    httpserver: HTTPServer, transport: Transport
) -> None:
    fails(httpserver, "/v1/forecast", 500)
    kept = kept_open_meteo(timedelta(hours=30), hours=12)  # to 07:00Z, midnight on the garden's clock
    gathered = fetch_first_good(["open-meteo"], SITE, transport, NOW, kept)
    assert gathered.forecast is None
    assert gathered.doubts == (Doubt(kind=DoubtKind.NO_FORECAST),)
    assert "Last good copy: The forecast of Open-Meteo does not reach" in gathered.tried[1][1]


def test_with_nothing_at_all_there_is_no_forecast(transport: Transport) -> None:
    bare = replace(transport, contact="")
    gathered = fetch_first_good(["met-norway", "us-nws"], SITE, bare, NOW, {})
    assert gathered.forecast is None
    assert [sentence for _, sentence in gathered.tried] == [
        "MET Norway needs a contact e-mail: set `contact` in the garden file.",
        "The US National Weather Service needs a contact e-mail: set `contact` in the garden file.",
    ]


def test_status_200_with_data_88_hours_old_is_passed_over(httpserver: HTTPServer, transport: Transport) -> None:
    serves(httpserver, POINT_PATH, nws_point())
    serves(httpserver, GRID_PATH, nws_grid(updated=NOW - timedelta(hours=88)))
    serves(httpserver, MET_PATH, met_norway())
    gathered = fetch_first_good(["us-nws", "met-norway"], SITE, transport, NOW, {})
    assert gathered.forecast is not None
    assert gathered.forecast.service == "met-norway"
    assert gathered.tried == (("us-nws", "The forecast of the US National Weather Service is 88 hours old."),)


@pytest.mark.parametrize(("age_h", "said"), [(11, False), (13, True)])
def test_from_twelve_hours_the_age_is_said(
    httpserver: HTTPServer, transport: Transport, age_h: float, said: bool
) -> None:
    serves(httpserver, MET_PATH, met_norway(updated=NOW - timedelta(hours=age_h)))
    gathered = fetch_first_good(["met-norway"], SITE, transport, NOW, {})
    stale = Doubt(kind=DoubtKind.STALE_FORECAST, subject="met-norway", amount=float(age_h))
    assert gathered.doubts == ((stale,) if said else ())


def test_a_forecast_from_the_future_blames_the_clocks(httpserver: HTTPServer, transport: Transport) -> None:
    serves(httpserver, MET_PATH, met_norway(updated=NOW + timedelta(days=2)))
    assert "but the clock here says 2026-01-14 20:05" in why_not("met-norway", transport)


def test_an_answer_for_another_place_is_refused(httpserver: HTTPServer, transport: Transport) -> None:
    serves(httpserver, "/v1/forecast", open_meteo(latitude_deg=40.0))
    assert "is for 40.00, -109.00, not for the garden's 39.00, -109.00" in why_not("open-meteo", transport)


def test_places_on_both_sides_of_the_date_line_are_near(httpserver: HTTPServer, transport: Transport) -> None:
    document = met_norway()
    document["geometry"]["coordinates"] = [-179.99, 39.0, 3]
    serves(httpserver, MET_PATH, document)
    site = Site(latitude_deg=39, longitude_deg=179.99, elevation_m=3, time_zone="UTC")
    assert fetched("met-norway", transport, site).service == "met-norway"


def test_an_unknown_service_is_named(transport: Transport) -> None:
    with pytest.raises(ValueError, match="no weather service 'met-sweden'; there are open-meteo, met-norway"):
        fetch_first_good(["met-sweden"], SITE, transport, NOW, {})


def test_open_meteo_is_asked_for_utc_si_wind_and_no_height_correction(
    httpserver: HTTPServer, transport: Transport
) -> None:
    serves(httpserver, "/v1/forecast", open_meteo())
    serves(httpserver, "/v1/ensemble", open_meteo(temperature_2m_member01=-6.0))
    forecast = fetched("open-meteo", transport)
    query = httpserver.log[0][0].args
    assert (query["timezone"], query["wind_speed_unit"], query["timeformat"]) == ("UTC", "ms", "iso8601")
    assert (query["elevation"], query["past_days"]) == ("nan", "60")
    assert query["hourly"].split(",")[0] == "temperature_2m"
    assert forecast.members_air_c is not None
    np.testing.assert_array_equal(forecast.members_air_c[:, 0], [-5.0, -6.0])


@pytest.mark.parametrize(
    "spoil",
    [
        lambda s: fails(s, "/v1/ensemble", 503),
        lambda s: serves(s, "/v1/ensemble", open_meteo(temperature_2m_member01=267.0)),  # Kelvin
        lambda s: serves(s, "/v1/ensemble", open_meteo(latitude_deg=10.0, temperature_2m_member01=-6.0)),
        lambda s: serves(s, "/v1/ensemble", open_meteo()),  # no members
    ],
)
def test_without_a_good_ensemble_the_forecast_still_counts(
    httpserver: HTTPServer, transport: Transport, spoil: Callable[[HTTPServer], None]
) -> None:
    serves(httpserver, "/v1/forecast", open_meteo())
    spoil(httpserver)
    gathered = fetch_first_good(["open-meteo"], SITE, transport, NOW, {})
    assert gathered.forecast is not None
    assert gathered.forecast.members_air_c is None
    assert [name for name, _ in gathered.tried] == ["open-meteo/ensemble"]
    assert list(gathered.kept) == ["open-meteo"]


def test_members_of_an_older_run_are_not_set_beside_a_newer_forecast() -> None:
    kept = kept_open_meteo(timedelta(0))
    body = json.dumps(open_meteo(temperature_2m_member01=-6.0))
    ensemble = KeptAnswer(service="open-meteo/ensemble", body=body, fetched_utc=NOW - timedelta(hours=13))
    assert parse_kept("open-meteo", {**kept, ensemble.service: ensemble}).members_air_c is None
    fresh = replace(ensemble, fetched_utc=NOW - timedelta(hours=3))
    assert parse_kept("open-meteo", {**kept, ensemble.service: fresh}).members_air_c is not None


def test_met_norway_is_asked_with_cut_coordinates_and_not_before_it_expires(
    httpserver: HTTPServer, transport: Transport
) -> None:
    serves(httpserver, MET_PATH, met_norway(), Expires="Wed, 14 Jan 2026 20:40:00 GMT", Last_Modified="once")
    site = SITE.model_copy(update={"latitude_deg": 39.000096, "longitude_deg": -109.000096})
    first = fetch_first_good(["met-norway"], site, transport, NOW, {})
    assert httpserver.log[0][0].args.to_dict() == {"lat": "39", "lon": "-109", "altitude": "978"}
    again = fetch_first_good(["met-norway"], site, transport, NOW + timedelta(minutes=30), first.kept)
    assert again.forecast is not None
    assert len(httpserver.log) == 1
    fetch_first_good(["met-norway"], site, transport, NOW + timedelta(hours=1), again.kept)
    assert httpserver.log[1][0].headers["If-Modified-Since"] == "once"


@pytest.mark.parametrize("status", [403, 422])
def test_a_refusal_of_met_norway_is_for_the_grower_to_mend(
    httpserver: HTTPServer, transport: Transport, status: int
) -> None:
    httpserver.expect_request(MET_PATH).respond_with_data("<html>no</html>", status=status, content_type="text/html")
    assert str(status) in why_not("met-norway", transport)
    assert len(httpserver.log) == 1  # asked again it would say the same


def test_the_point_is_asked_once_and_the_grid_each_hour(httpserver: HTTPServer, transport: Transport) -> None:
    serves(httpserver, POINT_PATH, nws_point())
    serves(httpserver, GRID_PATH, nws_grid())
    first = fetch_first_good(["us-nws"], SITE, transport, NOW, {})
    later = NOW + timedelta(hours=2)
    fetch_first_good(["us-nws"], SITE, transport, later, first.kept)
    assert paths(httpserver) == [POINT_PATH, GRID_PATH, GRID_PATH]
    assert first.forecast is not None
    assert first.forecast.weather.start_utc == START - timedelta(hours=9)  # the series begins in the past
    assert first.forecast.weather.air_c[first.forecast.weather.index_of(NOW)] == -7.0


@pytest.mark.parametrize("status", [404, 503])
def test_a_grid_that_is_gone_is_looked_up_anew(httpserver: HTTPServer, transport: Transport, status: int) -> None:
    known = KeptAnswer(
        service="us-nws/point",
        body=json.dumps(nws_point("/gridpoints/KBX/1,1")),
        fetched_utc=NOW,
        expires_utc=NOW + timedelta(days=7),
    )
    fails(httpserver, "/gridpoints/KBX/1,1", status, "MarineForecastNotSupported")
    serves(httpserver, POINT_PATH, nws_point())
    serves(httpserver, GRID_PATH, nws_grid())
    gathered = fetch_first_good(["us-nws"], SITE, transport, NOW, {known.service: known})
    assert gathered.forecast is not None
    assert paths(httpserver)[-2:] == [POINT_PATH, GRID_PATH]
    assert GRID_PATH in gathered.kept["us-nws/point"].body


def test_an_expired_grid_at_the_same_address_is_left_for_the_next_service(
    httpserver: HTTPServer, transport: Transport
) -> None:
    body = json.dumps(nws_point())
    known = KeptAnswer(service="us-nws/point", body=body, fetched_utc=NOW, expires_utc=NOW + timedelta(days=7))
    fails(httpserver, GRID_PATH, 503, "ForecastGridExpired")
    serves(httpserver, POINT_PATH, nws_point())
    assert "out of order (503)" in why_not("us-nws", transport, known)
    assert paths(httpserver) == [GRID_PATH, POINT_PATH]


def test_a_saved_file_goes_the_same_way(transport: Transport, tmp_path: Path) -> None:
    path = tmp_path / "week.json"
    issued = NOW - timedelta(hours=40)
    saved = {"issued_utc": issued.isoformat(), "start_utc": START.isoformat(), "air_c": [-8.0] * 30}
    path.write_text(json.dumps(saved), encoding="utf-8")
    gathered = fetch_first_good(["saved"], SITE, replace(transport, saved_path=path), NOW, {})
    assert gathered.forecast is not None
    assert (gathered.forecast.service, gathered.forecast.issued_utc) == ("saved", issued)
    # Chosen by the grower, so it is used whatever its age, but the age is said.
    assert gathered.doubts == (Doubt(kind=DoubtKind.STALE_FORECAST, subject="saved", amount=40.0),)


def test_every_service_of_the_garden_file_is_known() -> None:
    for service in Service:
        with pytest.raises(KeyError):
            parse_kept(service, {})


@pytest.mark.parametrize(
    ("now", "end"),
    [
        ("2026-01-14T06:59-07:00", "2026-01-14T07:00-07:00"),  # the night is not over yet
        ("2026-01-14T07:00-07:00", "2026-01-15T07:00-07:00"),
        ("2026-03-07T20:00-07:00", "2026-03-08T07:00-06:00"),  # the clocks spring forward in this night
        ("2025-11-01T20:00-06:00", "2025-11-02T07:00-07:00"),  # and fall back in this one
    ],
)
def test_the_coming_night_ends_at_seven_on_the_gardens_clock(now: str, end: str) -> None:
    zone = ZoneInfo("America/Denver")
    assert coming_night_end_utc(datetime.fromisoformat(now), zone) == datetime.fromisoformat(end)


@pytest.mark.parametrize(
    ("known", "reaches"),
    [
        (range(24), True),
        (range(0, 24, 6), True),  # steps of six hours; hour 18 is 07:00 on the garden clock
        (range(18), False),
        ([*range(8), *range(15, 24)], False),  # seven hours missing in the night
        ([], False),
    ],
)
def test_a_night_is_seen_without_holes_or_not_at_all(known: list[int], reaches: bool) -> None:
    weather = hours_of(START, [-1.0 if hour in known else np.nan for hour in range(24)])
    assert reaches_coming_night(weather, NOW, ZoneInfo("America/Denver")) is reaches


def test_past_days_are_fetched_once_with_one_model_pinned(httpserver: HTTPServer, transport: Transport) -> None:
    names = ("temperature_2m_min", "temperature_2m_max", "temperature_2m_mean")
    document = {
        "latitude": 39.0,
        "longitude": -109.0,
        "daily_units": dict.fromkeys(names, "°C"),
        "daily": {"time": ["2026-01-06", "2026-01-07"], **{name: [-8.0, -9.0] for name in names}},
    }
    serves(httpserver, "/v1/archive", document)
    kept = fetch_past_days(SITE, transport, NOW)
    query = httpserver.log[0][0].args
    assert (query["models"], query["timezone"]) == ("era5_land", "America/Denver")
    assert (query["start_date"], query["end_date"]) == ("1996-07-01", "2026-01-07")
    assert parse_past_days(kept.body).min_c.tolist() == [-8.0, -9.0]
    assert fetch_past_days(SITE, transport, NOW + timedelta(days=400), last=kept) is kept
    assert len(httpserver.log) == 1


@pytest.mark.parametrize(("stated", "height_m"), [([978.0], 978.0), ([None], None), ([], None), ([99999], None)])
def test_the_height_of_a_place_is_asked_or_unknown(
    httpserver: HTTPServer, transport: Transport, stated: list[float], height_m: float | None
) -> None:
    serves(httpserver, "/v1/elevation", {"elevation": stated})
    if height_m is None:
        with pytest.raises(WeatherServiceError, match="height"):
            fetch_elevation_m(39.0, -109.0, transport, NOW)
    else:
        assert fetch_elevation_m(39.0, -109.0, transport, NOW) == height_m


@pytest.mark.parametrize("name", NAMES)
def test_the_address_of_a_service_replaces_every_host_of_it(name: str) -> None:
    """Or the members and past winters of a garden behind a proxy would still be asked of the public hosts."""
    service = name.partition("/")[0]
    assert Transport(addresses={service: "http://127.0.0.1:9/"}).base(name) == "http://127.0.0.1:9"
    both = {service: "http://127.0.0.1:9", name: "http://127.0.0.1:8"}
    assert Transport(addresses=both).base(name) == "http://127.0.0.1:8"
    assert Transport().base(name) == public_address(name)


def test_no_address_of_a_service_stands_anywhere_but_in_the_one_table() -> None:
    hosts = re.compile(r"https?://[\w.-]*(?:open-meteo|met\.no|weather\.gov)[\w.-]*")
    named = {path.name for path in (ROOT / "bot").rglob("*.py") if hosts.search(path.read_text(encoding="utf-8"))}
    assert named == {"weather_services.py"}
