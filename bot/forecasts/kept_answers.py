"""What a weather service said, as text to keep, and the one exception of this room."""

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from bot.weather_services import SERVICES, service_of

REASON_LENGTH = 160  # a service's own words are cut here: a grower reads them on a phone


class WeatherServiceError(Exception):
    """No forecast from one service: one sentence a grower understands, the cause chained.

    Parameters
    ----------
    sentence
        What went wrong; "{title}" in it becomes the service's name.
    service
        Name of the service as in the garden file.
    permanent
        True where asking again will not help until somebody changes something.
    status
        HTTP status of the answer, None where there was none.
    """

    def __init__(self, sentence: str, *, service: str, permanent: bool = False, status: int | None = None) -> None:
        spoken = sentence.replace("{title}", SERVICES[service_of(service)].title)
        super().__init__(spoken[:1].upper() + spoken[1:])
        self.service = service_of(service)
        self.permanent = permanent
        self.status = status


@dataclass(frozen=True, kw_only=True)
class KeptAnswer:
    """One answer as it came, to be stored and read again.

    Parameters
    ----------
    service
        The service's name, or name/part where a service answers in several: "us-nws/point",
        "open-meteo/ensemble", "open-meteo/archive".
    body
        The text of the answer.
    fetched_utc
        When we got it, or when the service last said that it still holds.
    last_modified, etag
        The answer's own marks, sent back exactly; None where there were none.
    expires_utc
        Not to be asked for again before this; None is at any time.
    address
        The question; an answer to another question (the garden moved) is not used again. Empty is unknown.
    """

    service: str
    body: str
    fetched_utc: datetime
    last_modified: str | None = None
    expires_utc: datetime | None = None
    etag: str | None = None
    address: str = ""


@dataclass(frozen=True, kw_only=True)
class Fetched:
    """The answers of one service by name, and why a part that is not needed is missing."""

    answers: Mapping[str, KeptAnswer]
    tried: Sequence[tuple[str, str]] = field(default=())


def document_of(body: str, service: str) -> dict[str, Any]:
    """The JSON object in an answer; ForecastError where it is cut short or something else."""
    try:
        document = json.loads(body)
    except (ValueError, RecursionError) as error:
        raise WeatherServiceError("The answer of {title} broke off or is no data.", service=service) from error
    if not isinstance(document, dict):
        raise WeatherServiceError("The answer of {title} is not the object we expected.", service=service)
    return document


def inside(document: object, *path: str) -> Any:
    """What lies at `path` in nested objects, None where any step is missing.

    >>> inside({"a": {"b": 3}}, "a", "b"), inside({"a": None}, "a", "b")
    (3, None)
    """
    for step in path:
        document = document.get(step) if isinstance(document, dict) else None
    return document


def objects(listed: object) -> Iterator[dict[str, Any]]:
    """The objects in a list; nothing where it is no list."""
    return (entry for entry in listed if isinstance(entry, dict)) if isinstance(listed, list) else iter(())


def time_utc(text: object, service: str) -> datetime:
    """The instant in an ISO 8601 text with an offset.

    >>> time_utc("2026-01-14T02:41:12-07:00", "us-nws").isoformat()
    '2026-01-14T09:41:12+00:00'
    """
    try:
        moment = datetime.fromisoformat(str(text))
    except ValueError as error:
        raise WeatherServiceError(
            f"{{title}} states the time '{one_line(text)}', which we cannot read.", service=service
        ) from error
    if moment.tzinfo is None:
        raise WeatherServiceError(f"{{title}} states the time {text} without its offset from UTC.", service=service)
    return moment.astimezone(UTC)


def one_line(words: object) -> str:
    """Foreign words made fit for a message: one printable line, cut to length.

    >>> one_line("Grid\\nExpired\\x07")
    'Grid Expired'
    """
    line = " ".join(str(words).split())
    return "".join(c for c in line if c.isprintable())[:REASON_LENGTH]
