"""One question over a real socket: statuses, marks, pauses, broken lines."""

import socket
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from pytest_httpserver import HTTPServer
from werkzeug import Request, Response

from bot.forecasts.asking import Question, Transport, coordinate
from bot.forecasts.fetching import SPREAD_S, fetch_answer
from bot.forecasts.kept_answers import KeptAnswer, WeatherServiceError

DATA = Path(__file__).parents[2] / "data" / "weather_json"
NOW = datetime(2026, 1, 14, 10, 5, tzinfo=UTC)
SPREAD = timedelta(seconds=SPREAD_S)
GOOD = '{"good": true}'


class Pauses(list[float]):
    """A clock's sleep that only writes down how long."""

    def __call__(self, seconds: float) -> None:
        self.append(seconds)


@pytest.fixture
def pauses() -> Pauses:
    return Pauses()


@pytest.fixture
def transport(pauses: Pauses) -> Transport:
    return Transport(contact="grower@example.org", pause=pauses, timeout_s=5)


def question(server: HTTPServer, **changes: object) -> Question:
    return Question(name="us-nws", address=server.url_for("/grid"), **changes)  # type: ignore[arg-type]  # test's own keys


def problem(name: str) -> Response:
    return Response((DATA / name).read_text(encoding="utf-8"), status=503, content_type="application/problem+json")


def answer(status: int, body: str = "{}", kind: str = "application/json", **headers: str) -> Response:
    return Response(
        body, status=status, content_type=kind, headers={k.replace("_", "-"): v for k, v in headers.items()}
    )


def asked(server: HTTPServer) -> int:
    return len(server.log)


def in_turn(server: HTTPServer, *responses: Response) -> None:
    for response in responses:
        server.expect_ordered_request("/grid").respond_with_response(response)


def test_the_service_learns_who_asks(httpserver: HTTPServer, transport: Transport) -> None:
    httpserver.expect_request("/grid", query_string="a=1,2&b=3").respond_with_response(answer(200, GOOD))
    kept = fetch_answer(question(httpserver, parameters={"a": "1,2", "b": "3"}), transport, NOW)
    agent = httpserver.log[0][0].headers["User-Agent"]
    assert agent == "bedstraw/0.1 (grower@example.org)"
    assert (kept.body, kept.fetched_utc, kept.address) == (GOOD, NOW, httpserver.url_for("/grid") + "?a=1,2&b=3")


def test_without_a_contact_a_service_that_wants_one_is_not_asked(httpserver: HTTPServer, pauses: Pauses) -> None:
    with pytest.raises(
        WeatherServiceError, match="needs a contact e-mail: set `contact` in the garden file"
    ) as failure:
        fetch_answer(question(httpserver), Transport(pause=pauses), NOW)
    assert failure.value.permanent
    assert asked(httpserver) == 0


@pytest.mark.parametrize(
    ("contact", "sent"),
    [
        ("rené@example.org", "ren%C3%A9@example.org"),
        ("grower@example.org\r\nX: y", "grower@example.org%0D%0AX: y"),  # no header of its own
        ("Rowan, https://example.org/~rowan?a=1", "Rowan, https://example.org/~rowan?a=1"),
    ],
)
def test_any_contact_can_be_sent(httpserver: HTTPServer, pauses: Pauses, contact: str, sent: str) -> None:
    in_turn(httpserver, answer(200, GOOD))
    fetch_answer(question(httpserver), Transport(contact=contact, pause=pauses), NOW)
    assert httpserver.log[0][0].headers["User-Agent"] == f"bedstraw/0.1 ({sent})"
    assert "X" not in httpserver.log[0][0].headers


def test_more_past_days_than_the_service_has_are_refused() -> None:
    with pytest.raises(ValueError, match="past_days must be 0 to 92, got 93"):
        Transport(past_days=93)


def test_nothing_is_asked_before_the_last_answer_expires(httpserver: HTTPServer, transport: Transport) -> None:
    last = KeptAnswer(service="us-nws", body=GOOD, fetched_utc=NOW, expires_utc=NOW + timedelta(minutes=1))
    assert fetch_answer(question(httpserver), transport, NOW, last) is last
    assert asked(httpserver) == 0


def test_after_that_the_stored_marks_go_back_exactly_and_304_renews_the_answer(
    httpserver: HTTPServer, transport: Transport
) -> None:
    mark, tag = "Wed, 14 Jan 2026 09:31:02 GMT", '"a7"'
    in_turn(httpserver, answer(304, "", Expires="Wed, 14 Jan 2026 12:35:00 GMT"))
    before = NOW - timedelta(hours=2)
    last = KeptAnswer(
        service="us-nws", body=GOOD, fetched_utc=before, expires_utc=NOW, last_modified=mark, etag=tag, address=""
    )
    renewed = fetch_answer(question(httpserver), transport, NOW, last)
    headers = httpserver.log[0][0].headers
    assert (headers["If-Modified-Since"], headers["If-None-Match"]) == (mark, tag)
    assert (renewed.body, renewed.fetched_utc, renewed.last_modified) == (GOOD, NOW, mark)
    assert renewed.expires_utc is not None
    assert renewed.expires_utc >= datetime(2026, 1, 14, 12, 35, tzinfo=UTC)


def test_the_answer_to_another_question_is_not_used_again(httpserver: HTTPServer, transport: Transport) -> None:
    in_turn(httpserver, answer(200, GOOD))
    moved = KeptAnswer(
        service="us-nws",
        body="{}",
        fetched_utc=NOW,
        expires_utc=NOW + timedelta(hours=1),
        last_modified="x",
        address="y",
    )
    assert fetch_answer(question(httpserver), transport, NOW, moved).body == GOOD
    assert "If-Modified-Since" not in httpserver.log[0][0].headers


@pytest.mark.parametrize(
    ("expires", "least", "most"),
    [
        ("Wed, 14 Jan 2026 12:05:00 GMT", timedelta(hours=2), timedelta(hours=2) + SPREAD),
        ("Wed, 14 Jan 2026 10:06:00 GMT", timedelta(hours=1), timedelta(hours=1) + SPREAD),  # our own pace is slower
        ("Wed, 14 Jan 2037 10:05:00 GMT", timedelta(hours=24), timedelta(hours=24) + SPREAD),  # a slip of the service
        ("0", timedelta(hours=1), timedelta(hours=1) + SPREAD),
        ("tomorrow", timedelta(hours=1), timedelta(hours=1) + SPREAD),
    ],
)
def test_expiry_is_the_services_within_bounds(
    httpserver: HTTPServer, transport: Transport, expires: str, least: timedelta, most: timedelta
) -> None:
    in_turn(httpserver, answer(200, GOOD, Expires=expires))
    kept = fetch_answer(question(httpserver), transport, NOW)
    assert kept.expires_utc is not None
    assert least <= kept.expires_utc - NOW <= most


@pytest.mark.parametrize("status", [429, 500, 502, 503, 504])
def test_a_busy_service_is_asked_again_after_growing_pauses(
    httpserver: HTTPServer, transport: Transport, pauses: Pauses, status: int
) -> None:
    in_turn(httpserver, answer(status), answer(status), answer(200, GOOD))
    assert fetch_answer(question(httpserver), transport, NOW).body == GOOD
    assert pauses == [2.0, 4.0]


def test_the_tries_are_bounded(httpserver: HTTPServer, transport: Transport, pauses: Pauses) -> None:
    httpserver.expect_request("/grid").respond_with_response(answer(500, '{"detail": "An unexpected problem."}'))
    with pytest.raises(WeatherServiceError, match=r"is out of order \(500\): An unexpected problem\.$") as failure:
        fetch_answer(question(httpserver), transport, NOW)
    assert (asked(httpserver), len(pauses), failure.value.permanent, failure.value.status) == (3, 2, False, 500)


@pytest.mark.parametrize(
    ("stated", "waited"), [("7", [7.0]), ("Wed, 14 Jan 2026 10:05:09 GMT", [9.0]), ("soon", [2.0])]
)
def test_a_stated_pause_is_kept(
    httpserver: HTTPServer, transport: Transport, pauses: Pauses, stated: str, waited: list[float]
) -> None:
    in_turn(httpserver, answer(429, Retry_After=stated), answer(200, GOOD))
    fetch_answer(question(httpserver), transport, NOW)
    assert pauses == waited


def test_a_service_that_wants_a_long_pause_is_left_alone(
    httpserver: HTTPServer, transport: Transport, pauses: Pauses
) -> None:
    in_turn(httpserver, answer(429, Retry_After="3600"))
    with pytest.raises(WeatherServiceError, match="asked too often") as failure:
        fetch_answer(question(httpserver), transport, NOW)
    assert (asked(httpserver), pauses, failure.value.permanent) == (1, [], False)


def test_an_expired_grid_is_not_asked_for_again(httpserver: HTTPServer, transport: Transport, pauses: Pauses) -> None:
    in_turn(httpserver, problem("nws_problem.json"))
    with pytest.raises(WeatherServiceError, match=r"issued 2026-01-12T02:50:40.* has expired") as failure:
        fetch_answer(question(httpserver, hopeless=("ForecastGridExpired",)), transport, NOW)
    assert (failure.value.status, failure.value.permanent, pauses) == (503, False, [])


@pytest.mark.parametrize(
    ("status", "told"),
    [
        (400, r"did not take our question \(400\): Cannot initialize"),
        (401, "refused us"),
        (403, "is `contact` in the garden file a real address"),
        (404, "no forecast for this place"),
        (418, "did not take our question"),
        (422, "no forecast for this place"),
    ],
)
def test_a_refusal_is_final(
    httpserver: HTTPServer, transport: Transport, pauses: Pauses, status: int, told: str
) -> None:
    in_turn(httpserver, answer(status, '{"error": true, "reason": "Cannot initialize WeatherVariable"}'))
    with pytest.raises(WeatherServiceError, match=told) as failure:
        fetch_answer(question(httpserver), transport, NOW)
    assert (asked(httpserver), pauses, failure.value.permanent) == (1, [], True)


def test_a_services_own_words_reach_the_grower_as_one_short_line(httpserver: HTTPServer, transport: Transport) -> None:
    in_turn(httpserver, answer(400, '{"reason": "' + "bad\\n\\u0007 " * 200 + '"}'))
    with pytest.raises(WeatherServiceError) as failure:
        fetch_answer(question(httpserver), transport, NOW)
    assert len(str(failure.value)) < 250
    assert str(failure.value).isprintable()


@pytest.mark.parametrize("status", [200, 403, 429, 503])
def test_a_web_page_where_data_was_due_is_a_passing_block(
    httpserver: HTTPServer, transport: Transport, pauses: Pauses, status: int
) -> None:
    page = answer(status, "<html>Access Denied</html>", "text/html")
    in_turn(httpserver, page, answer(200, GOOD))
    assert fetch_answer(question(httpserver, web_page_is_busy=True), transport, NOW).body == GOOD
    assert pauses == [2.0]


def test_a_refusal_in_a_web_page_is_final_where_blocks_do_not_pass(
    httpserver: HTTPServer, transport: Transport
) -> None:
    in_turn(httpserver, answer(403, "<html>Forbidden</html>", "text/html"))
    with pytest.raises(WeatherServiceError, match="refused us"):
        fetch_answer(question(httpserver), transport, NOW)
    assert asked(httpserver) == 1


def test_a_deprecated_version_still_answers_and_is_logged(
    httpserver: HTTPServer, transport: Transport, caplog: pytest.LogCaptureFixture
) -> None:
    in_turn(httpserver, answer(203, GOOD))
    assert fetch_answer(question(httpserver), transport, NOW).body == GOOD
    assert "deprecated" in caplog.text


@pytest.mark.parametrize("body", ['{"hourly": {"time": ["2026-01', "", "\ufffd"])
def test_a_body_cut_in_the_middle_is_asked_for_again(httpserver: HTTPServer, transport: Transport, body: str) -> None:
    in_turn(httpserver, answer(200, body), answer(200, GOOD))
    assert fetch_answer(question(httpserver), transport, NOW).body == GOOD


def test_a_body_in_another_encoding_is_no_data(httpserver: HTTPServer, transport: Transport) -> None:
    httpserver.expect_request("/grid").respond_with_response(
        Response('{"place": "Ö"}'.encode("latin-1"), content_type="application/json")
    )
    with pytest.raises(WeatherServiceError, match="broke off or is no data"):
        fetch_answer(question(httpserver), transport, NOW)


def test_a_redirect_to_the_shorter_address_is_followed(httpserver: HTTPServer, transport: Transport) -> None:
    moved = answer(301, "{}", "application/problem+json", Location="/shorter")
    httpserver.expect_request("/grid").respond_with_response(moved)
    httpserver.expect_request("/shorter").respond_with_response(answer(200, GOOD))
    assert fetch_answer(question(httpserver), transport, NOW).body == GOOD
    assert "grower@example.org" in httpserver.log[1][0].headers["User-Agent"]


def test_a_zipped_answer_that_is_not_zipped_is_broken(httpserver: HTTPServer, transport: Transport) -> None:
    httpserver.expect_request("/grid").respond_with_response(answer(200, GOOD, Content_Encoding="gzip"))
    with pytest.raises(WeatherServiceError, match="broke off"):
        fetch_answer(question(httpserver), transport, NOW)


@pytest.fixture
def deaf() -> Iterator[int]:
    """A port that takes connections and never says a word."""
    with socket.create_server(("127.0.0.1", 0)) as listener:
        yield listener.getsockname()[1]


def test_a_silent_service_is_given_up(deaf: int, pauses: Pauses) -> None:
    silent = Question(name="open-meteo", address=f"http://127.0.0.1:{deaf}/v1/forecast")
    with pytest.raises(WeatherServiceError, match=r"Open-Meteo was silent for 0\.05 s") as failure:
        fetch_answer(silent, Transport(timeout_s=0.05, pause=pauses), NOW)
    assert (len(pauses), failure.value.permanent) == (2, False)
    assert failure.value.__cause__ is not None


def test_a_service_that_is_not_there_is_said_so(pauses: Pauses) -> None:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        port = listener.getsockname()[1]
    gone = Question(name="met-norway", address=f"http://127.0.0.1:{port}/")
    with pytest.raises(WeatherServiceError, match="MET Norway could not be reached"):
        fetch_answer(gone, Transport(contact="grower@example.org", pause=pauses), NOW)


def test_a_line_that_breaks_off_is_tried_again(httpserver: HTTPServer, transport: Transport) -> None:
    def cut(_: Request) -> Response:
        response = Response(GOOD[:5], content_type="application/json")
        response.automatically_set_content_length = False
        response.headers["Content-Length"] = str(len(GOOD))  # promised, never sent
        return response

    httpserver.expect_ordered_request("/grid").respond_with_handler(cut)
    httpserver.expect_ordered_request("/grid").respond_with_response(answer(200, GOOD))
    assert fetch_answer(question(httpserver), transport, NOW).body == GOOD


@pytest.mark.parametrize(
    ("value_deg", "rounded", "cut"),
    [
        (12.25, "12.25", "12.25"),
        (-45.99996, "-46", "-45.9999"),
        (12.12345678, "12.1235", "12.1234"),
        (0.00001, "0", "0"),
        (-0.00001, "0", "0"),
        (100.0, "100", "100"),
        (1e-7, "0", "0"),
    ],
)
def test_coordinates_have_at_most_four_decimals(value_deg: float, rounded: str, cut: str) -> None:
    assert (coordinate(value_deg), coordinate(value_deg, cut=True)) == (rounded, cut)
