"""One question to one weather service over HTTP: who we are, how long we wait, when we ask again."""

import json
import logging
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from decimal import ROUND_DOWN, ROUND_HALF_EVEN, Decimal
from email.utils import parsedate_to_datetime
from pathlib import Path
from typing import Final
from urllib.parse import urlencode
from zlib import crc32

import requests

from bot.forecasts.answers import TITLES, ForecastError, KeptAnswer, one_line, service_of

ADDRESSES: Final = {
    "us-nws": "https://api.weather.gov",
    "open-meteo": "https://api.open-meteo.com",
    "open-meteo/ensemble": "https://ensemble-api.open-meteo.com",
    "open-meteo/archive": "https://archive-api.open-meteo.com",
    "met-norway": "https://api.met.no",
}
BUSY: Final = {429, 500, 502, 503, 504}  # worth another try
SPREAD_S: Final = 600  # MET Norway asks for random minutes after Expires: ours are fixed per address, so rounds replay
CLOCK_SLACK: Final = timedelta(minutes=5)  # clocks differ by seconds where they are set by the network; no source
LARGEST_BYTES: Final = 20_000_000  # an ensemble of sixteen days takes a twentieth of it; no source
CHUNK_BYTES: Final = 65_536
FIRST_PAUSE_S: Final = 2.0  # a block lasts only the few seconds of excess (weather-gov/api issue 85)

_log = logging.getLogger(__name__)


@dataclass(frozen=True, kw_only=True)
class Transport:
    """How we reach the services.

    Parameters
    ----------
    contact
        The grower's e-mail or web address, sent to the services that demand one.
    program
        Name and version, the first half of the User-Agent.
    addresses
        Base addresses that replace the public ones, by the names in ADDRESSES.
    saved_path
        File or folder of the service "saved".
    timeout_s
        Longest silence on the line [s].
    longest_s
        Longest time one answer may take as a whole [s]: a line that drips is never silent.
    retries
        How often a question is asked again.
    longest_pause_s
        A service that wants a longer pause than this [s] is left alone until the next round.
    past_days
        Days of past hours asked of Open-Meteo (0-92), so that the wood has a history.
    pause
        The only sleep: called with seconds.
    seconds
        Seconds since any moment, by which the time of an answer is measured.
    """

    contact: str = ""
    program: str = "bedstraw/0.1"
    addresses: Mapping[str, str] = field(default_factory=dict)
    saved_path: Path | None = None
    timeout_s: float = 20.0
    longest_s: float = 60.0
    retries: int = 2
    longest_pause_s: float = 60.0
    past_days: int = 60
    pause: Callable[[float], None] = time.sleep
    seconds: Callable[[], float] = time.monotonic

    def __post_init__(self) -> None:
        if not (self.contact.isascii() and self.contact.isprintable()):
            raise ValueError(f"contact must be plain ASCII, it is sent in a header, got {self.contact!r}")
        if not 0 <= self.past_days <= 92:
            raise ValueError(f"past_days must be 0 to 92, got {self.past_days}")

    @property
    def user_agent(self) -> str:
        """Who we say we are."""
        return f"{self.program} ({self.contact})" if self.contact else self.program

    def base(self, name: str) -> str:
        """Base address of a service or of a part of it, without a slash at the end."""
        return self.addresses.get(name, ADDRESSES[name]).rstrip("/")


@dataclass(frozen=True, kw_only=True)
class Question:
    """What is asked.

    `name` is that of the answer. The answer is kept for at least `keep_h` and, whatever the service states, at most
    `keep_at_most_h` hours. Where the body of an error holds one of `hopeless`, asking again at once is in vain;
    `web_page_is_busy` reads an HTML error as a passing block.
    """

    name: str
    address: str
    parameters: Mapping[str, str] = field(default_factory=dict)
    keep_h: float = 1.0
    keep_at_most_h: float = 24.0
    contact_needed: bool = False
    hopeless: tuple[str, ...] = ()
    web_page_is_busy: bool = False

    @property
    def url(self) -> str:
        """The whole address."""
        return f"{self.address}?{urlencode(self.parameters, safe=',/')}" if self.parameters else self.address


class _PassingError(ForecastError):
    """A failure that may pass within seconds; `wait_s` is what the service asks for."""

    wait_s: float | None = None


def fetch_answer(question: Question, transport: Transport, now: datetime, last: KeptAnswer | None = None) -> KeptAnswer:
    """The service's answer: the last one while it holds, else asked for, conditionally where that is possible.

    Raises
    ------
    ForecastError
        After bounded tries, at once where another try cannot help, or where a contact is needed and missing.
    """
    if question.contact_needed and not transport.contact:
        raise ForecastError(
            "{title} needs a contact e-mail: set `contact` in the garden file.", service=question.name, permanent=True
        )
    last = last if last and last.address in ("", question.url) else None
    if last and last.fetched_utc > now + CLOCK_SLACK:  # the clock was set back: what it said then holds no longer
        last = None
    if last and last.expires_utc and now < last.expires_utc:
        return last
    with requests.Session() as session:
        session.headers.update({"User-Agent": transport.user_agent, "Accept": "application/geo+json, application/json"})
        return _asked(session, question, transport, now, last)


def _asked(
    session: requests.Session, question: Question, transport: Transport, now: datetime, last: KeptAnswer | None
) -> KeptAnswer:
    tries = 0
    while True:
        try:
            return _asked_once(session, question, transport, now, last)
        except _PassingError as failure:
            wait_s = FIRST_PAUSE_S * 2**tries if failure.wait_s is None else failure.wait_s
            if tries >= transport.retries or wait_s > transport.longest_pause_s:
                raise
            tries += 1
            transport.pause(wait_s)


def _asked_once(
    session: requests.Session, question: Question, transport: Transport, now: datetime, last: KeptAnswer | None
) -> KeptAnswer:
    response = _response(session, question, transport, last)
    if response.status_code == 304 and last is not None:
        return replace(last, fetched_utc=now, expires_utc=_expires_utc(question, response, now), address=question.url)
    if response.status_code not in (200, 203):
        raise _failure(question, response, now)
    if response.status_code == 203:
        _log.warning(
            "%s calls this version of its service deprecated or a trial (203)", TITLES[service_of(question.name)]
        )
    return KeptAnswer(
        service=question.name,
        body=_data(question, response),
        fetched_utc=now,
        last_modified=response.headers.get("Last-Modified"),
        expires_utc=_expires_utc(question, response, now),
        etag=response.headers.get("ETag"),
        address=question.url,
    )


def _response(
    session: requests.Session, question: Question, transport: Transport, last: KeptAnswer | None
) -> requests.Response:
    marks = {"If-Modified-Since": last.last_modified, "If-None-Match": last.etag} if last else {}
    try:
        given = {name: mark for name, mark in marks.items() if mark}
        with session.get(question.url, headers=given, timeout=transport.timeout_s, stream=True) as response:
            _read_whole(response, question, transport)
            return response
    except requests.Timeout as error:
        raise _PassingError(f"{{title}} was silent for {transport.timeout_s:g} s.", service=question.name) from error
    except (requests.exceptions.ChunkedEncodingError, requests.exceptions.ContentDecodingError) as error:
        raise _PassingError("The answer of {title} broke off.", service=question.name) from error
    except requests.ConnectionError as error:
        raise _PassingError("{title} could not be reached.", service=question.name) from error
    except requests.RequestException as error:
        raise ForecastError("{title} could not be asked.", service=question.name) from error


def _read_whole(response: requests.Response, question: Question, transport: Transport) -> None:
    """The body read within its time and size; the library bounds only the silence between two bytes."""
    until_s, body = transport.seconds() + transport.longest_s, bytearray()
    for chunk in response.iter_content(CHUNK_BYTES):
        body += chunk
        if transport.seconds() > until_s:
            raise ForecastError(f"{{title}} took longer than {transport.longest_s:g} s.", service=question.name)
        if len(body) > LARGEST_BYTES:
            raise ForecastError("{title} sent far more than a forecast.", service=question.name)
    response._content = bytes(body)  # where the library keeps what it has read


def _data(question: Question, response: requests.Response) -> str:
    """The body of a good answer: JSON, whole, in UTF-8."""
    if not _is_json(response):
        raise _PassingError(
            "{title} sent a web page where data was due.", service=question.name, status=response.status_code
        )
    try:
        body = response.content.decode("utf-8")
        json.loads(body)
    except (ValueError, RecursionError) as error:  # UnicodeDecodeError is a ValueError
        raise _PassingError("The answer of {title} broke off or is no data.", service=question.name) from error
    return body


def _failure(question: Question, response: requests.Response, now: datetime) -> ForecastError:
    """The error for a status that is not good; a _PassingError where it may pass."""
    status = response.status_code
    sentence = _sentence(status, _stated_reason(response))
    blocked = question.web_page_is_busy and not _is_json(response)
    if blocked:
        sentence = f"{{title}} sent a web page ({status}) where data was due: too many questions, or a poor `contact`."
    if blocked or (status in BUSY and not any(word in response.text for word in question.hopeless)):
        passing = _PassingError(sentence, service=question.name, status=status)
        passing.wait_s = _retry_after_s(response, now)
        return passing
    return ForecastError(sentence, service=question.name, permanent=status not in BUSY, status=status)


def _sentence(status: int, reason: str) -> str:
    told = f": {reason.rstrip('.')}" if reason else ""
    match status:
        case 401 | 403:
            return f"{{title}} refused us ({status}); is `contact` in the garden file a real address?"
        case 404 | 422:
            return f"{{title}} has no forecast for this place ({status}){told}."
        case 429:
            return f"{{title}} was asked too often (429){told}."
        case _ if status in BUSY:
            return f"{{title}} is out of order ({status}){told}."
        case _:
            return f"{{title}} did not take our question ({status}){told}."


def _stated_reason(response: requests.Response) -> str:
    """The service's own words: `title` and `detail` of problem JSON, or `reason`."""
    try:
        told = response.json() if _is_json(response) else {}
    except (ValueError, RecursionError):
        return ""
    if not isinstance(told, dict):
        return ""
    return one_line(told.get("reason") or told.get("detail") or told.get("title") or "")


def _is_json(response: requests.Response) -> bool:
    return "json" in response.headers.get("Content-Type", "").lower()


def _retry_after_s(response: requests.Response, now: datetime) -> float | None:
    """Seconds of a Retry-After header, given as seconds or as a date; None without one."""
    stated = response.headers.get("Retry-After", "").strip()
    if stated.isdecimal():
        return float(stated)
    moment = _http_date(stated)
    return None if moment is None else max(0.0, (moment - now).total_seconds())


def _expires_utc(question: Question, response: requests.Response, now: datetime) -> datetime:
    earliest, latest = now + timedelta(hours=question.keep_h), now + timedelta(hours=question.keep_at_most_h)
    stated = _http_date(response.headers.get("Expires", "")) or earliest
    spread = timedelta(seconds=crc32(question.url.encode()) % SPREAD_S)
    return min(max(stated, earliest), max(latest, earliest)) + spread


def _http_date(text: str) -> datetime | None:
    """The instant of an HTTP date, None where it is none ("0", "-1", empty)."""
    try:
        moment = parsedate_to_datetime(text)
    except ValueError:
        return None
    return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)


def coordinate(value_deg: float, *, cut: bool = False) -> str:
    """A coordinate with at most four decimals (11 m), rounded or, where a service asks for it, cut.

    >>> coordinate(46.870049), coordinate(-113.99999, cut=True), coordinate(47.0)
    ('46.87', '-113.9999', '47')
    """
    near = Decimal(repr(value_deg)).quantize(Decimal("0.0001"), ROUND_DOWN if cut else ROUND_HALF_EVEN)
    return format(near.normalize() + 0, "f")
