"""A weather service on loopback that can be down, slow, stale, garbled or about another place."""

import json
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from enum import Enum
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qsl, urlsplit

import numpy as np

PAST_DAYS = 20
UNITS = {
    "temperature_2m": "°C",
    "dew_point_2m": "°C",
    "wind_speed_10m": "m/s",
    "wind_gusts_10m": "m/s",
    "cloud_cover": "%",
    "shortwave_radiation": "W/m²",
    "precipitation": "mm",
    "snowfall": "cm",
}
DAYS = 7


class Mood(Enum):
    """How the service behaves."""

    WELL = "well"
    DOWN = "down"  # 503
    SILENT = "silent"  # takes the question and never answers
    GARBAGE = "garbage"  # 200 with a web page
    TORN = "torn"  # 200 with half a document
    STALE = "stale"  # 200 with last week's hours
    ELSEWHERE = "elsewhere"  # 200 with another place's forecast


@dataclass
class WeatherService:
    """Open-Meteo as we ask it: a daily wave between `low_c` at 06:00 and `low_c` + 12 °C, the same day after day."""

    now: Callable[[], datetime]
    low_c: float = -9.0
    mood: Mood = Mood.WELL
    address: str = ""
    asked: list[dict[str, str]] = field(default_factory=list)
    stop: threading.Event = field(default_factory=threading.Event)

    def forecasts_asked(self) -> list[tuple[str, str]]:
        """The places a forecast was asked for, in order."""
        return [(q["latitude"], q["longitude"]) for q in self.asked if "forecast_days" in q and "models" not in q]

    def document(self, question: dict[str, str]) -> dict[str, Any]:
        old = timedelta(days=7 + DAYS) if self.mood is Mood.STALE else timedelta()
        start = (self.now() - old).replace(minute=0, second=0, microsecond=0) - timedelta(days=PAST_DAYS)
        hours = (PAST_DAYS + DAYS) * 24
        clock = (start.hour - 7 + np.arange(hours)) % 24  # mountain time, near enough
        air_c = self.low_c + 6.0 + 6.0 * np.cos(2 * np.pi * (clock - 18) / 24)
        light = np.where((clock > 7) & (clock < 17), np.sin(np.pi * (clock - 7) / 10), 0.0)
        away = 20.0 if self.mood is Mood.ELSEWHERE else 0.0
        series = {
            "temperature_2m": air_c, "dew_point_2m": air_c - 4, "wind_speed_10m": np.full(hours, 1.5),
            "wind_gusts_10m": np.full(hours, 3.0), "cloud_cover": np.full(hours, 10.0),
            "shortwave_radiation": 450.0 * light, "precipitation": np.zeros(hours), "snowfall": np.zeros(hours),
        }  # fmt: skip
        asked = set(question["hourly"].split(","))
        return {
            "latitude": float(question["latitude"]) + away,
            "longitude": float(question["longitude"]),
            "utc_offset_seconds": 0,
            "hourly_units": {"time": "iso8601", **{name: UNITS[name] for name in asked}},
            "hourly": {
                "time": [(start + timedelta(hours=i)).strftime("%Y-%m-%dT%H:%M") for i in range(hours)],
                **{name: np.round(values, 1).tolist() for name, values in series.items() if name in asked},
            },
        }


@contextmanager
def weather_service(now: Callable[[], datetime], host: str = "127.0.0.1") -> Iterator[WeatherService]:
    """The service on a free port of this machine."""
    service = WeatherService(now)

    class Answering(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            question = dict(parse_qsl(urlsplit(self.path).query))
            service.asked.append(question)
            if service.mood is Mood.DOWN or "models" in question or "archive" in self.path:
                return self.say(503, b"{}")
            if service.mood is Mood.SILENT:
                service.stop.wait(60)
                return None
            if service.mood is Mood.GARBAGE:
                return self.say(200, b"<html>Welcome</html>", "text/html")
            body = json.dumps(service.document(question)).encode()
            return self.say(200, body[: len(body) // 2] if service.mood is Mood.TORN else body)

        def say(self, status: int, body: bytes, kind: str = "application/json") -> None:
            self.send_response(status)
            self.send_header("Content-Type", kind)
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, format: str, *args: object) -> None:  # noqa: A002, ARG002 - the library's
            return

    class Quiet(ThreadingHTTPServer):
        daemon_threads = True

        def handle_error(self, request: Any, client_address: Any) -> None:
            if not isinstance(sys.exc_info()[1], ConnectionError):  # who has stopped waiting does not listen
                super().handle_error(request, client_address)

    server = Quiet((host, 0), Answering)
    service.address = f"http://{host}:{server.server_port}"
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01})
    thread.start()
    try:
        yield service
    finally:
        service.stop.set()
        server.shutdown()
        thread.join()
        server.server_close()
