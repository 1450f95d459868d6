"""Ten years of use simulated: how large the file grows, how long a tick and a reply take, year by year.

    python tests/benchmarks/ten_years.py [YEARS]

One garden of one fig on SQLite. Each day: 24 hours of forecast noted (every hour a new one, as a real service gives),
four rounds kept with the document of a real outlook, a sensor's reading each hour, two deeds told, a nudge opened and
settled. Only one day a year is really looked at, since a look takes a second whatever the logbook holds; its document
is kept for the other days. Times are of real calls: a round with its look ahead, a tick with nothing new, and a reply
from inbox to outbox. They are seconds of work on the processor, which a busy machine does not lengthen; the last
column is a clock's.
"""

import sys
import tempfile
import time
import zlib
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import sqlalchemy as sa

from bot import logbook as lb
from bot.forecasts import Transport, dump_forecast
from bot.hosting.one_garden import Watch
from bot.logbook import Logbook, open_logbook
from bot.logbook.database.tables import forecasts, records
from bot.logbook.weather import SERIES
from bot.messages import Outgoing
from bot.outbox import Outcome, SendOutcome, claim, finish
from bot.rounds import Setting
from bot.settings import Service
from bot.upkeep.housekeeping import keep_house
from rules.garden.cover import CoverState
from rules.garden.records import Deed, DeedKind
from rules.weather.hourly import HourlyWeather
from tests.bot.invented_gardens import Clock, cold_forecast, garden, said
from tests.bot.talk import keep, read_said

NAME, CHAT = "Larkmoor", 11
START = datetime(2026, 12, 1, 6, tzinfo=UTC)
SAYS = ("closed porch", "vented porch", "-6.5 at the porch", "undo", "why")


def one_day(logbook: Logbook, day: datetime, number: int, body: str, document: str) -> None:
    """What a day leaves behind, without the looking ahead."""
    forecast = cold_forecast(day)
    past = replace(forecast, weather=last_days(forecast.weather, day))
    with logbook.begin() as c:
        lb.note_past_hours(c, NAME, past.weather, day, day)
        forecast_id = lb.note_forecast(c, NAME, body, "saved", day, day)
        c.execute(sa.insert(forecasts), [told_at(day + timedelta(hours=hour), body, number) for hour in range(1, 24)])
        for hour in range(0, 24, 6):
            lb.note_round(c, NAME, day + timedelta(hours=hour), forecast_id, document)
    with logbook.begin() as c:
        key, at = f"{NAME}/closed:{day.date()}", day + timedelta(hours=15)
        nudge = lb.Nudge(
            key=key, garden=NAME, stage="today", ask="closed", trees=("Porch fig",), night=day.date(), opened_utc=at,
            expires_utc=at + timedelta(hours=2), round_id=None,
        )  # fmt: skip
        lb.open_nudge(c, nudge)
        out = Outgoing(key=f"n:{key}", chat_id=CHAT, text="x" * 300, due_utc=at, expires_utc=at + timedelta(hours=2))
        lb.enqueue(c, out, NAME, key)
        source = lb.Source(garden=NAME, person="Rowan", update_id=None, noted_utc=at)
        c.execute(sa.insert(records), [read_at(day + timedelta(hours=hour)) for hour in range(24)])
        for kind, state in ((DeedKind.CLOSED, CoverState.CLOSED), (DeedKind.VENTED, CoverState.VENTED)):
            lb.note_entry(c, source, Deed(tree="Porch fig", kind=kind, state=state, at_utc=at))
        lb.settle_nudge(c, key, lb.NudgeState.ANSWERED, "Rowan", at)
    for claimed in claim(logbook, at, 10, "door"):
        finish(logbook, claimed, SendOutcome(outcome=Outcome.SENT, message_id=number), at)
    keep_house(logbook, day)


def told_at(at: datetime, body: str, number: int) -> dict[str, object]:
    """A row as `note_forecast` writes it, since every hour says something else."""
    packed = zlib.compress(body.replace("-9.", f"-{9 + (number + at.hour) % 3}.").encode())
    times = dict.fromkeys(("issued_utc", "fetched_utc", "seen_utc"), at)
    return {"garden": NAME, "service": "saved", **times, "digest": f"{at}", "body": packed}


def read_at(at: datetime) -> dict[str, object]:
    """A row as `note_entry` writes it."""
    told = {"kind": "reading", "tree": "Porch fig", "what": "air", "air_c": -3.0, "is_minimum": False}
    return {"garden": NAME, **told, "person": "sensor", "at_utc": at, "noted_utc": at}


def last_days(weather: HourlyWeather, until: datetime) -> HourlyWeather:
    """The two days before `until`: what a day adds to the past."""
    end = weather.index_of(until) + 1
    cut = {name: getattr(weather, name)[end - 48 : end] for name in SERIES}
    return HourlyWeather(start_utc=weather.start_utc + timedelta(hours=end - 48), **cut)


def replies_s(watch: Watch, logbook: Logbook, clock: Clock, number: int) -> tuple[list[float], list[float]]:
    """Of each reply its work and how long it took."""
    work, took = [], []
    for each in range(100):
        number += 1
        incoming = said(number, CHAT, SAYS[each % len(SAYS)], clock())
        keep(logbook, incoming, clock())
        began, began_work = time.perf_counter(), time.process_time()
        watch.take_pending(read_said, clock)
        work.append(time.process_time() - began_work)
        took.append(time.perf_counter() - began)
        clock.pass_(timedelta(seconds=20))
    return work, took


def main() -> None:
    years = int(sys.argv[1]) if len(sys.argv) > 1 else 10
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        path = folder / "larkmoor.logbook"
        logbook, clock = open_logbook(path), Clock(START)
        saved = folder / "forecast.json"
        one = garden(NAME, "Porch fig").model_copy(update={"services": (Service.SAVED,)})
        setting = Setting(garden=one, logbook=logbook, transport=Transport(saved_path=saved))
        with logbook.begin() as c:
            lb.note_person(c, NAME, CHAT, "Rowan", "owner")
        numbers = 0
        print("year  file MB  round s  idle tick ms  reply p50 ms  reply p99 ms  p99 by the clock ms")
        for year in range(years + 1):
            clock.at = START + timedelta(days=365 * year)
            saved.write_text(dump_forecast(replace(cold_forecast(clock()))))
            watch = Watch(setting)
            began = time.process_time()
            watch.tick(clock())
            look_s = time.process_time() - began
            clock.pass_(timedelta(minutes=1))
            ticks = []
            for _ in range(10):
                began = time.process_time()
                watch.tick(clock())
                ticks.append(time.process_time() - began)
            replies, by_the_clock = replies_s(watch, logbook, clock, numbers)
            numbers += len(replies)
            size = sum(p.stat().st_size for p in folder.glob("larkmoor.logbook*")) / 1e6
            with logbook.begin() as c:
                kept = lb.last_round(c, NAME)
            p50, p99 = np.percentile(np.array(replies) * 1000, [50, 99])
            clock_p99 = 1000 * np.percentile(by_the_clock, 99)
            times = f"{look_s:8.2f} {np.median(ticks) * 1000:13.1f} {p50:13.1f} {p99:13.1f} {clock_p99:20.1f}"
            print(f"{year:4d} {size:8.1f} {times}", flush=True)
            assert kept is not None
            if year < years:
                body = dump_forecast(cold_forecast(clock()))
                for day in range(1, 365):
                    numbers += 1
                    one_day(logbook, START + timedelta(days=365 * year + day), numbers, body, kept.numbers)
        logbook.close()


if __name__ == "__main__":
    main()
