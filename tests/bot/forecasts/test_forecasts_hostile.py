"""A weather service that means harm: every exchange ends within its time, its bytes and its host."""

import gzip
import subprocess
import sys
import time
from datetime import UTC, datetime
from pathlib import Path

import pytest
from pytest_httpserver import HTTPServer
from werkzeug import Response

from bot.forecasts import Transport, WeatherServiceError, fetch_first_good
from bot.forecasts.asking import Question
from bot.forecasts.bounded_http import LARGEST_BYTES
from bot.forecasts.fetching import fetch_answer
from tests.bot.hostile_weather import DRIPS, Malice, hostile_weather
from tests.bot.invented_gardens import garden
from tests.bot.weather_service import weather_service

NOW = datetime(2026, 1, 14, 10, 5, tzinfo=UTC)
BOUND_S = 0.5
HANGS_S = 30.0  # a call that is not bounded drips for ever; what goes beyond the bound is the machine's
MOST_KB = 200_000
SWELLS = [malice for malice in Malice if malice not in DRIPS]


def asked(address: str, **how: object) -> Exception:
    given: dict[str, object] = {"longest_s": BOUND_S, "timeout_s": 5.0, "pause": lambda _: None, **how}
    with pytest.raises(WeatherServiceError) as failure:
        fetch_answer(
            Question(name="open-meteo", address=f"{address}/v1/forecast"),
            Transport(**given),  # type: ignore[arg-type]  # keywords vary by test
            NOW,
        )
    return failure.value


@pytest.mark.parametrize("malice", DRIPS, ids=lambda one: one.value)
def test_whatever_drips_ends_within_its_time(malice: Malice) -> None:
    with hostile_weather(malice) as service:
        began_s = time.monotonic()
        assert "took longer than 0.5 s" in str(asked(service.address))
        assert time.monotonic() - began_s < HANGS_S
        assert service.calls == 1  # another try would take as long


def test_one_time_holds_for_all_tries_and_pauses(httpserver: HTTPServer) -> None:
    httpserver.expect_request("/v1/forecast").respond_with_response(Response("{}", 503))
    waited: list[float] = []
    asked(httpserver.url_for("").rstrip("/"), longest_s=5.0, pause=waited.append)
    assert waited == [2.0, 4.0]
    asked(httpserver.url_for("").rstrip("/"), longest_s=3.0, pause=waited.append)
    assert waited == [2.0, 4.0, 2.0]  # the second pause would be longer than the time that is left


def test_the_next_service_is_asked_after_one_that_drips() -> None:
    one = garden("Larkmoor", "Porch fig")
    with hostile_weather(Malice.DRIPPING_TRAILER) as hostile, weather_service(lambda: NOW) as good:
        addresses = {
            "met-norway": hostile.address,
            **dict.fromkeys(("open-meteo", "open-meteo/ensemble"), good.address),
        }
        how = Transport(contact="a@example.org", addresses=addresses, longest_s=BOUND_S, pause=lambda _: None)
        found = fetch_first_good(("met-norway", "open-meteo"), one.site, how, NOW, {})
    assert found.forecast is not None
    assert found.forecast.service == "open-meteo"
    assert found.tried[0] == ("met-norway", "MET Norway took longer than 0.5 s.")


def test_no_body_and_no_redirect_fills_the_memory() -> None:
    """In a process of its own, since the peak of this one is that of all tests before."""
    words = [sys.executable, "-m", "tests.bot.forecasts.test_forecasts_hostile"]
    done = subprocess.run(words, capture_output=True, text=True, check=False, cwd=Path(__file__).parents[3], timeout=60)
    assert done.returncode == 0, done.stderr
    peaks = [line.split() for line in done.stdout.splitlines()]
    assert [name for name, *_ in peaks] == [one.name for one in SWELLS]
    assert [name for name, peak_kb, led_to in peaks if int(peak_kb) >= MOST_KB or led_to != "0"] == []


def test_a_redirect_leads_to_no_other_host_and_not_round_and_round() -> None:
    with hostile_weather(Malice.ELSEWHERE) as service:
        assert str(asked(service.address)) == "Open-Meteo sends us elsewhere, where we do not go."
        assert service.led_to == 0
    for circle in (Malice.ROUND_AND_ROUND, Malice.DRIPPING_REDIRECT):  # whose body nobody reads
        with hostile_weather(circle) as service:
            assert "elsewhere" in str(asked(service.address))
            assert service.calls == 4


@pytest.mark.parametrize(("blanks", "fits"), [(LARGEST_BYTES - 2, True), (LARGEST_BYTES - 1, False)])
def test_a_zipped_answer_is_measured_as_it_is_unpacked(httpserver: HTTPServer, blanks: int, fits: bool) -> None:
    body = gzip.compress(b"{}" + b" " * blanks)
    answer = Response(body, content_type="application/json", headers={"Content-Encoding": "gzip"})
    httpserver.expect_request("/v1/forecast").respond_with_response(answer)
    question = Question(name="open-meteo", address=httpserver.url_for("/v1/forecast"))
    if fits:
        assert fetch_answer(question, Transport(), NOW).body.strip() == "{}"
    else:
        assert "far more than a forecast" in str(asked(httpserver.url_for("").rstrip("/")))


def test_a_zipped_answer_that_stops_in_the_middle_is_broken_off(httpserver: HTTPServer) -> None:
    answer = Response(
        gzip.compress(b'{"good": true}')[:-9], content_type="application/json", headers={"Content-Encoding": "gzip"}
    )
    httpserver.expect_request("/v1/forecast").respond_with_response(answer)
    assert "broke off" in str(asked(httpserver.url_for("").rstrip("/")))


def _own_peak_kb() -> int:
    """Peak of this program alone (proc(5), VmHWM); what getrusage tells includes the memory of whoever started it."""
    status = Path("/proc/self/status").read_text(encoding="ascii")
    return int(next(line.split()[1] for line in status.splitlines() if line.startswith("VmHWM")))


def peak(malice: Malice) -> str:
    """The peak of this process so far, and how often the other host was asked, after a question to such a service."""
    with hostile_weather(malice) as service:
        asked(service.address, longest_s=20.0)
        return f"{malice.name} {_own_peak_kb()} {service.led_to}\n"


if __name__ == "__main__":
    sys.stdout.writelines(peak(one) for one in SWELLS)
