"""One question to one weather service over HTTP: how long we wait, when we ask again, what its answer is worth."""

import json
import logging
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from typing import Final
from zlib import crc32

import requests

from bot.forecasts.answers import KeptAnswer, WeatherServiceError, one_line
from bot.forecasts.asking import Question, Transport
from bot.weather_services import SERVICES, service_of

BUSY: Final = {429, 500, 502, 503, 504}  # worth another try
SPREAD_S: Final = 600  # MET Norway asks for random minutes after Expires: ours are fixed per address, so rounds replay
CLOCK_SLACK: Final = timedelta(minutes=5)  # clocks differ by seconds where they are set by the network; no source
LARGEST_BYTES: Final = 20_000_000  # an ensemble of sixteen days takes a twentieth of it; no source
CHUNK_BYTES: Final = 65_536
FIRST_PAUSE_S: Final = 2.0  # a block lasts only the few seconds of excess (weather-gov/api issue 85)

_log = logging.getLogger(__name__)


class _PassingError(WeatherServiceError):
    """A failure that may pass within seconds; `wait_s` is what the service asks for."""

    wait_s: float | None = None


def fetch_answer(question: Question, transport: Transport, now: datetime, last: KeptAnswer | None = None) -> KeptAnswer:
    """The service's answer: the last one while it holds, else asked for, conditionally where that is possible.

    Raises
    ------
    ForecastError
        After bounded tries, at once where another try cannot help, or where a contact is needed and missing.
    """
    if question.needs_contact and not transport.contact:
        raise WeatherServiceError(
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
        title = SERVICES[service_of(question.name)].title
        _log.warning("%s calls this version of its service deprecated or a trial (203)", title)
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
        raise WeatherServiceError("{title} could not be asked.", service=question.name) from error


def _read_whole(response: requests.Response, question: Question, transport: Transport) -> None:
    """The body read within its time and size; the library bounds only the silence between two bytes."""
    until_s, body = transport.seconds() + transport.longest_s, bytearray()
    for chunk in response.iter_content(CHUNK_BYTES):
        body += chunk
        if transport.seconds() > until_s:
            raise WeatherServiceError(f"{{title}} took longer than {transport.longest_s:g} s.", service=question.name)
        if len(body) > LARGEST_BYTES:
            raise WeatherServiceError("{title} sent far more than a forecast.", service=question.name)
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


def _failure(question: Question, response: requests.Response, now: datetime) -> WeatherServiceError:
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
    return WeatherServiceError(sentence, service=question.name, permanent=status not in BUSY, status=status)


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
