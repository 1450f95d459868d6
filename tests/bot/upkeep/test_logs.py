"""The log: one line an event, quiet, without secrets and without anybody's place."""

import io
import json
import logging
import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from bot.hosting.many_gardens import Gardens
from bot.hosting.one_garden import Watch
from bot.logbook import open_logbook
from bot.upkeep.logs import TALKATIVE, RedactingFormatter
from tests.bot.invented_gardens import Clock, garden, setting
from tests.bot.weather_service import Mood, weather_service

NOON = datetime(2026, 12, 2, 19, tzinfo=UTC)
PLACES = ("-109", "39.0", "1620")  # of the invented garden
TOKEN = "12345678:AAinvented_for_this_test_only"  # noqa: S105 - invented


def logged(message: str, *args: object, error: Exception | None = None) -> str:
    record = logging.LogRecord("bot.rounds", logging.WARNING, "x.py", 1, message, args, None)
    if error is not None:
        record.exc_info = (type(error), error, None)
    return RedactingFormatter().format(record)


def test_an_event_is_one_line_of_named_fields_whatever_is_in_its_words() -> None:
    forged = 'x"\nat=2026-01-01 level=info room=bot says="all is well'
    line = logged("could not be taken: %s", forged)
    assert "\n" not in line
    found = re.fullmatch(r"at=(\S+) level=(\S+) room=(\S+) says=(.*)", line)
    assert found is not None
    assert found.group(2, 3) == ("warning", "bot.rounds")
    assert datetime.fromisoformat(found[1]).tzinfo is not None
    assert json.loads(found[4]) == f"could not be taken: {forged}"


@pytest.mark.parametrize(
    "words",
    [
        "GET /v1/forecast?latitude=39&longitude=-109&elevation=1500",
        "GET /weatherapi/locationforecast/2.0/compact?lat=39&lon=-109",
        "GET /points/39,-109",
        "cell 39.00, -109.00",
    ],
)
def test_where_a_garden_lies_is_blotted_out_also_in_a_traceback(words: str) -> None:
    for line in (logged("%s failed", words), logged("failed", error=RuntimeError(words))):
        assert "<place>" in line
        assert "-109" not in line


def test_a_token_in_an_error_is_blotted_out() -> None:
    assert TOKEN not in logged("failed", error=RuntimeError(f"POST /bot{TOKEN}/sendMessage"))


@pytest.fixture
def log() -> Iterator[io.StringIO]:
    """All that would be written at info level by the whole program, without our redaction."""
    stream, root, before = io.StringIO(), logging.getLogger(), logging.getLogger().level
    handler, levels = logging.StreamHandler(stream), {name: logging.getLogger(name).level for name in TALKATIVE}
    for name in TALKATIVE:
        logging.getLogger(name).setLevel(logging.WARNING)
    root.addHandler(handler)
    root.setLevel(logging.INFO)
    yield stream
    root.removeHandler(handler)
    root.setLevel(before)
    for name, level in levels.items():
        logging.getLogger(name).setLevel(level)


def test_a_day_of_one_garden_is_a_few_lines_and_none_says_where_it_is(log: io.StringIO, tmp_path: Path) -> None:
    clock, logbook = Clock(NOON), open_logbook(tmp_path / "larkmoor.logbook")
    with weather_service(clock) as weather:
        one = setting(garden("Larkmoor", "Porch fig"), logbook, weather.address)
        watch = Watch(one)
        for mood in Mood:
            weather.mood = mood if mood is not Mood.SILENT else Mood.WELL  # silence takes its time
            for _ in range(4):
                watch.tick(clock())
                clock.pass_(timedelta(hours=1))
    logbook.close()
    written = log.getvalue()
    assert len(written.splitlines()) < 24
    assert not [place for place in PLACES if place in written]


class Stumbling(Watch):
    """A watch whose round fails with words that say where the garden lies."""

    def write(self, now: datetime) -> None:
        raise ValueError(f"no hours for /points/39,-109 at {now}")


def test_a_garden_whose_rounds_fail_is_told_in_the_log_without_its_place(tmp_path: Path) -> None:
    stream, logbook = io.StringIO(), open_logbook(tmp_path / "larkmoor.logbook")
    handler = logging.StreamHandler(stream)
    handler.setFormatter(RedactingFormatter())
    logging.getLogger("bot").addHandler(handler)
    one = setting(garden("Larkmoor", "Porch fig"), logbook, "http://127.0.0.1:1", retries=0)
    gardens = Gardens(logbook, {"Larkmoor": one})
    gardens._watches["Larkmoor"] = Stumbling(one)
    gardens.enrol(NOON)
    gardens.tick(NOON)
    logging.getLogger("bot").removeHandler(handler)
    logbook.close()
    assert "the round of Larkmoor failed: ValueError" in stream.getvalue()
    assert not [place for place in PLACES if place in stream.getvalue()]
