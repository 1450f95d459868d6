"""How long a reply keeps the logbook busy with three winters on record: `python tests/benchmarks/logbook_speed.py`."""

import json
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import sqlalchemy as sa

from bot import inbox, outbox
from bot import logbook as lb
from bot.messages import Incoming, IncomingKind, Outgoing
from rules.garden.cover import CoverState
from rules.garden.records import Deed, DeedKind, Reading
from rules.weather.hourly import HourlyWeather

GARDEN = "Larkmoor"
FIRST = datetime(2023, 9, 1, tzinfo=UTC)
DAYS = 3 * 365
NOW = FIRST + timedelta(days=DAYS)
SEASON = NOW - timedelta(days=120)
NUMBERS = json.dumps({f"tree {i}": [round(-8 + 0.1 * h, 2) for h in range(168)] for i in range(6)})


def fill(c: sa.Connection) -> None:
    """Three years: a round every three hours, a forecast every six, a deed and a reading a day, nudges all winter."""
    lb.note_person(c, GARDEN, 5, "Rowan", "owner")
    day_air = 5 + 8 * np.sin(np.arange(24) / 24 * 2 * np.pi)
    for day in range(DAYS):
        at = FIRST + timedelta(days=day)
        for hour in range(0, 24, 3):
            then = at + timedelta(hours=hour)
            if hour % 6 == 0:
                body = NUMBERS + str(day * 24 + hour)
                forecast = lb.note_forecast(c, GARDEN, body, "saved", then, then)
            lb.note_round(c, GARDEN, then, forecast, NUMBERS)
        series = dict.fromkeys(("dew_point_c", "wind_m_s", "gust_m_s", "cloud_fraction", "sun_w_m2"), np.full(24, 0.5))
        weather = HourlyWeather(start_utc=at, air_c=day_air + day * 1e-3, **series)
        lb.note_past_hours(c, GARDEN, weather, at + timedelta(days=1), at + timedelta(days=1))
        said = lb.Source(garden=GARDEN, person="Rowan", update_id=day, noted_utc=at)
        lb.note_entry(c, said, Deed(tree="Porch fig", kind=DeedKind.CLOSED, state=CoverState.CLOSED, at_utc=at))
        lb.note_entry(c, said, Reading(tree="Wall fig", air_c=-6.5, at_utc=at))
        message = Outgoing(
            key=f"nudge:{day}", chat_id=5, text="Close the cap by 16:50." * 8, due_utc=at, expires_utc=NOW
        )
        lb.enqueue(c, message, GARDEN, f"nudge:{day}")
    c.execute(sa.update(lb.database.tables.outbox).values(state="sent", finished_utc=FIRST))


def parse(raw: str) -> Incoming:
    number = json.loads(raw)
    return Incoming(update_id=number, chat_id=5, person="Rowan", kind=IncomingKind.TEXT, text="why", at_utc=NOW)


def answer(c: sa.Connection, incoming: Incoming) -> list[Outgoing]:
    """All that a reply may read of this season, and a deed and an answer written."""
    lb.garden_of_chat(c, 5)
    lb.read_records(c, GARDEN, SEASON)
    lb.past_weather(c, GARDEN, SEASON)
    lb.latest_forecast(c, GARDEN)
    lb.last_round(c, GARDEN)
    lb.open_nudges(c, GARDEN)
    said = lb.Source(garden=GARDEN, person="Rowan", update_id=incoming.update_id, noted_utc=NOW)
    lb.note_entry(c, said, Deed(tree="Porch fig", kind=DeedKind.CLOSED, state=CoverState.CLOSED, at_utc=NOW))
    key = f"reply:{incoming.update_id}:0"
    return [Outgoing(key=key, chat_id=5, text="Noted.", due_utc=NOW, expires_utc=NOW + timedelta(days=1))]


def milliseconds(act: Callable[[int], object], times: int) -> str:
    spent = []
    for i in range(times):
        began = time.perf_counter()
        act(i)
        spent.append(1000 * (time.perf_counter() - began))
    return f"p50 {np.percentile(spent, 50):.2f}  p99 {np.percentile(spent, 99):.2f} ms"


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        logbook = lb.open_logbook(Path(folder) / "larkmoor.logbook")
        with logbook.begin() as c:
            fill(c)

        def reply(number: int) -> None:
            with logbook.begin() as c:
                inbox.store(c, [inbox.RawUpdate(10**6 + number, str(10**6 + number), NOW, 5)])
            inbox.take(logbook, answer, parse, lambda: NOW)

        sent = outbox.SendOutcome(outcome=outbox.Outcome.SENT, message_id=1)

        def send(number: int) -> None:
            at = NOW + number * timedelta(seconds=2)
            assert outbox.deliver(logbook, lambda _claimed: sent, lambda: at, "bench", limit=1) == 1

        print("stored, answered, committed:", milliseconds(reply, 300))
        print("claimed and finished:       ", milliseconds(send, 300))
        with logbook.begin() as c:
            print("records of three years read:", milliseconds(lambda _: lb.read_records(c, GARDEN), 50))
        logbook.backup(Path(folder) / "copy.logbook")
        print(f"file after three years: {(Path(folder) / 'copy.logbook').stat().st_size / 1e6:.1f} MB, ", end="")
        with logbook.begin() as c:
            print(f"{lb.purge(c, NOW)} rows purged")
        logbook.close()


if __name__ == "__main__":
    main()
