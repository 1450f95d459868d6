"""One question to one weather service over HTTP: how long we wait, when we ask again, what its answer is worth."""

import json
import logging
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from threading import Lock
from typing import Final
from zlib import crc32

import requests

from bot.forecasts.asking import Question, Transport
from bot.forecasts.bounded_http import Answered, BrokenOffError, LedAwayError, TooLargeError, TooLateError, exchanged
from bot.forecasts.kept_answers import KeptAnswer, WeatherServiceError, one_line
from bot.weather_services import SERVICES, service_of

BUSY: Final = {429, 500, 502, 503, 504}  # worth another try
SPREAD_S: Final = 600  # MET Norway asks for random minutes after Expires: ours are fixed per address, so rounds replay
LONGEST_REASON_BYTES: Final = 65_536  # a refusal longer than this gives no reason; no source
CLOCK_SLACK: Final = timedelta(minutes=5)  # clocks differ by seconds where they are set by the network; no source
MOST_LISTS: Final = 200_000  # in one document: each takes twenty times its letters of memory; no source
FIRST_PAUSE_S: Final = 2.0  # a block lasts only the few seconds of excess (weather-gov/api issue 85)

_READING: Final = Lock()  # one document at a time: for a moment each takes many times its letters of memory

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
    return _asked(question, transport.begun(), now, last)


def _asked(question: Question, transport: Transport, now: datetime, last: KeptAnswer | None) -> KeptAnswer:
    tries = 0
    while True:
        try:
            return _asked_once(question, transport, now, last)
        except _PassingError as failure:
            wait_s = FIRST_PAUSE_S * 2**tries if failure.wait_s is None else failure.wait_s
            if tries >= transport.retries or wait_s > min(transport.longest_pause_s, transport.left_s):
                raise
            tries += 1
            transport.pause(wait_s)


def _asked_once(question: Question, transport: Transport, now: datetime, last: KeptAnswer | None) -> KeptAnswer:
    answered = _answered(question, transport, last)
    if answered.status == 304 and last is not None:
        return replace(last, fetched_utc=now, expires_utc=_expires_utc(question, answered, now), address=question.url)
    if answered.status not in (200, 203):
        raise _failure(question, answered, now)
    if answered.status == 203:
        title = SERVICES[service_of(question.name)].title
        _log.warning("%s calls this version of its service deprecated or a trial (203)", title)
    return KeptAnswer(
        service=question.name,
        body=_data(question, answered),
        fetched_utc=now,
        last_modified=answered.headers.get("Last-Modified"),
        expires_utc=_expires_utc(question, answered, now),
        etag=answered.headers.get("ETag"),
        address=question.url,
    )


def _answered(question: Question, transport: Transport, last: KeptAnswer | None) -> Answered:
    marks = {"If-Modified-Since": last.last_modified, "If-None-Match": last.etag} if last else {}
    given = {name: mark for name, mark in marks.items() if mark}
    own = {"User-Agent": transport.user_agent, "Accept": "application/geo+json, application/json", **given}
    try:
        return exchanged(question.url, own, transport.timeout_s, transport.left_s)
    except TooLateError as error:  # another try would take as long
        raise WeatherServiceError(
            f"{{title}} took longer than {transport.longest_s:g} s.", service=question.name
        ) from error
    except TooLargeError as error:
        raise WeatherServiceError("{title} sent far more than a forecast.", service=question.name) from error
    except LedAwayError as error:
        raise WeatherServiceError("{title} sends us elsewhere, where we do not go.", service=question.name) from error
    except requests.Timeout as error:
        raise _PassingError(f"{{title}} was silent for {transport.timeout_s:g} s.", service=question.name) from error
    except (BrokenOffError, requests.exceptions.ChunkedEncodingError) as error:
        raise _PassingError("The answer of {title} broke off.", service=question.name) from error
    except requests.ConnectionError as error:
        raise _PassingError("{title} could not be reached.", service=question.name) from error
    except requests.RequestException as error:
        raise WeatherServiceError("{title} could not be asked.", service=question.name) from error


def _data(question: Question, answered: Answered) -> str:
    """The body of a good answer: JSON, whole, in UTF-8."""
    if not _is_json(answered):
        raise _PassingError(
            "{title} sent a web page where data was due.", service=question.name, status=answered.status
        )
    if answered.body.count(b"[") + answered.body.count(b"{") > MOST_LISTS:
        raise WeatherServiceError("{title} sent far more than a forecast.", service=question.name)
    try:
        with _READING:
            body = answered.body.decode("utf-8")
            json.loads(body)
    except (ValueError, RecursionError) as error:  # UnicodeDecodeError is a ValueError
        raise _PassingError("The answer of {title} broke off or is no data.", service=question.name) from error
    return body


def _failure(question: Question, answered: Answered, now: datetime) -> WeatherServiceError:
    """The error for a status that is not good; a _PassingError where it may pass."""
    status = answered.status
    sentence = _sentence(status, _stated_reason(answered))
    blocked = question.web_page_is_busy and not _is_json(answered)
    if blocked:
        sentence = f"{{title}} sent a web page ({status}) where data was due: too many questions, or a poor `contact`."
    if blocked or (status in BUSY and not any(word.encode() in answered.body for word in question.hopeless)):
        passing = _PassingError(sentence, service=question.name, status=status)
        passing.wait_s = _retry_after_s(answered, now)
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


def _stated_reason(answered: Answered) -> str:
    """The service's own words: `title` and `detail` of problem JSON, or `reason`."""
    try:
        told = json.loads(answered.body) if _is_json(answered) and _is_short(answered.body) else {}
    except (ValueError, RecursionError):
        return ""
    if not isinstance(told, dict):
        return ""
    return one_line(told.get("reason") or told.get("detail") or told.get("title") or "")


def _is_short(body: bytes) -> bool:
    return len(body) <= LONGEST_REASON_BYTES


def _is_json(answered: Answered) -> bool:
    return "json" in answered.headers.get("Content-Type", "").lower()


def _retry_after_s(answered: Answered, now: datetime) -> float | None:
    """Seconds of a Retry-After header, given as seconds or as a date; None without one."""
    stated = answered.headers.get("Retry-After", "").strip()
    if stated.isdecimal():
        return float(stated)
    moment = _http_date(stated)
    return None if moment is None else max(0.0, (moment - now).total_seconds())


def _expires_utc(question: Question, answered: Answered, now: datetime) -> datetime:
    earliest, latest = now + timedelta(hours=question.keep_h), now + timedelta(hours=question.keep_at_most_h)
    stated = _http_date(answered.headers.get("Expires", "")) or earliest
    spread = timedelta(seconds=crc32(question.url.encode()) % SPREAD_S)
    return min(max(stated, earliest), max(latest, earliest)) + spread


def _http_date(text: str) -> datetime | None:
    """The instant of an HTTP date, None where it is none ("0", "-1", empty)."""
    try:
        moment = parsedate_to_datetime(text)
    except ValueError:
        return None
    return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)
