"""What a round of one garden costs, cold, quiet and mild, with nothing, three winters and ten years on record.

    nice python -m tests.benchmarks.round_speed [REPEATS] [PART OF A NAME]

Gardens of figs in cages on SQLite, told two deeds a day of each tree and two readings of the first from October to
April. The weather is known since the first of September before. For each garden: a first round by a new program; looks
an hour apart as forecasts come that tell something new; looks where the hour's forecast tells what the last one told;
and a tick with nothing new. Milliseconds of work on the processor, the median of the repeats.
"""

import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import NamedTuple

import numpy as np

from bot import logbook as lb
from bot.forecasts import Transport, dump_forecast
from bot.hosting.one_garden import Watch
from bot.logbook import Logbook, open_logbook
from bot.logbook.weather import SERIES
from bot.rounds import Setting
from bot.settings import Service
from rules.garden.cover import CoverState
from rules.garden.records import Deed, DeedKind, Reading
from rules.weather.hourly import Forecast, HourlyWeather
from tests.bot.invented_gardens import garden

NAME, HOUR = "Larkmoor", timedelta(hours=1)
COVERED_MONTHS = (10, 11, 12, 1, 2, 3, 4)
DAYS_AHEAD = 10
SEPTEMBER_C = 20.0
DECEMBER, JULY = datetime(2026, 12, 2, 19, tzinfo=UTC), datetime(2026, 7, 15, 19, tzinfo=UTC)
SECOND = timedelta(seconds=1)


class Case(NamedTuple):
    """A garden to be measured: so many trees, winters on record, when, the mean and half the day's range [°C]."""

    name: str
    trees: int
    winters: int
    now: datetime
    mean_c: float
    swing_c: float


CASES = (
    Case("cold, 6 trees, no log", 6, 0, DECEMBER, -3, 6),
    Case("cold, 6 trees, 3 winters", 6, 3, DECEMBER, -3, 6),
    Case("cold, 6 trees, 10 winters", 6, 10, DECEMBER, -3, 6),
    Case("cold, 2 trees, 3 winters", 2, 3, DECEMBER, -3, 6),
    Case("cold, 8 trees, 3 winters", 8, 3, DECEMBER, -3, 6),
    Case("cold, 16 trees, 3 winters", 16, 3, DECEMBER, -3, 6),
    Case("mild, 6 trees vented, 3 winters", 6, 3, DECEMBER, 9, 4),
    Case("July, 6 trees bare, no log", 6, 0, JULY, 22, 7),
    Case("July, 6 trees bare, 3 winters", 6, 3, JULY, 22, 7),
    Case("July, 6 trees bare, 10 winters", 6, 10, JULY, 22, 7),
)


def weather(case: Case) -> HourlyWeather:
    """From the first of September to the end of the forecast: each day its own, toward the mean of the case."""
    start = datetime(case.now.year - (case.now.month < 9), 9, 1, tzinfo=UTC)
    until_h = (case.now - start) / HOUR
    hours = np.arange(int(until_h) + 24 * (DAYS_AHEAD + 3))
    clock, days = (hours - 7) % 24, np.random.default_rng(1).normal(0, 1, len(hours) // 24 + 2)
    mean_c = np.interp(hours, [0, until_h], [SEPTEMBER_C, case.mean_c]) + np.interp(hours / 24, range(len(days)), days)
    air_c = mean_c + case.swing_c * np.cos((clock - 15) * np.pi / 12)
    light = np.where((clock > 7) & (clock < 17), np.sin(np.pi * (clock - 7) / 10), 0.0)
    same = {name: np.full(len(hours), np.nan) for name in SERIES}
    told = {"air_c": air_c, "dew_point_c": air_c - 4, "sun_w_m2": 450 * light, "wind_m_s": np.full(len(hours), 1.5)}
    return HourlyWeather(start_utc=start, **{**same, **told, "cloud_fraction": np.full(len(hours), 0.1)})


def forecast(whole: HourlyWeather, at: datetime, off_c: float) -> Forecast:
    """What the service tells at a moment: whole days, two gone by and ten to come, the hours to come so much off."""
    first = 24 * ((at - whole.start_utc).days - 2)
    cut = {name: getattr(whole, name)[first : first + 24 * (DAYS_AHEAD + 2)] for name in SERIES}
    ahead = np.arange(len(cut["air_c"])) > (at - whole.start_utc) / HOUR - first
    told = HourlyWeather(
        start_utc=whole.start_utc + HOUR * first, **{**cut, "air_c": cut["air_c"] + np.where(ahead, off_c, 0.0)}
    )
    return Forecast(service="saved", issued_utc=at, fetched_utc=at, weather=told)


def tell(logbook: Logbook, case: Case, whole: HourlyWeather, trees: list[str]) -> None:
    """All that is on record: deeds and readings of the winters, and the weather so far."""
    with logbook.begin() as c:
        lb.note_person(c, NAME, 11, "Rowan", "owner")
        lb.note_past_hours(c, NAME, whole, case.now, case.now)
        for day in range(case.winters * 365):
            at = case.now - timedelta(days=day + 1)
            if at.month in COVERED_MONTHS:
                for tree in trees:
                    tell_day(c, tree, at, whole if tree == trees[0] else None)
        if case.winters and case.now.month not in COVERED_MONTHS:
            at = case.now - timedelta(days=60)
            for tree in trees:
                deed = Deed(tree=tree, kind=DeedKind.STRIPPED, state=CoverState.BARE, at_utc=at)
                lb.note_entry(c, source(at), deed)


def tell_day(c: lb.Connection, tree: str, at: datetime, read: HourlyWeather | None) -> None:
    for hours, kind, state in ((-7, DeedKind.CLOSED, CoverState.CLOSED), (0, DeedKind.VENTED, CoverState.VENTED)):
        then = at + HOUR * hours
        lb.note_entry(c, source(then), Deed(tree=tree, kind=kind, state=state, at_utc=then))
        if read is not None:
            air_c = float(read.air_c[max(0, read.index_of(then))]) - 0.5
            lb.note_entry(c, source(then), Reading(tree=tree, air_c=air_c, at_utc=then))


def source(at: datetime) -> lb.Source:
    return lb.Source(garden=NAME, person="Rowan", update_id=None, noted_utc=at)


def measured(case: Case, folder: Path, repeats: int) -> dict[str, float]:
    """Milliseconds of work by what was measured."""
    logbook, saved, whole = open_logbook(folder / "bench.logbook"), folder / "forecast.json", weather(case)
    one = garden(NAME, "Fig", trees=case.trees).model_copy(update={"services": (Service.SAVED,)})
    tell(logbook, case, whole, [tree.name for tree in one.trees])
    setting = Setting(garden=one, logbook=logbook, transport=Transport(saved_path=saved))
    watches: list[Watch] = []

    def hear(hour: int, off_c: float) -> datetime:
        at = case.now + HOUR * hour
        saved.write_text(dump_forecast(forecast(whole, at, off_c)))
        return at

    def first(at: datetime) -> None:
        watches[:] = [Watch(setting)]
        watches[0].tick(at)

    def later(at: datetime) -> None:
        watches[0].tick(at)

    hour = iter(range(4 * repeats + 4))
    work_ms(first, hear(next(hour), 0.0))  # imports and tables, once a program
    firsts = [work_ms(first, hear(0, 0.1 * one)) for one in range(repeats)]
    news = [work_ms(later, hear(next(hour), 0.2 * (one % 2))) for one in range(repeats)]
    same = [work_ms(later, hear(next(hour), 0.0)) for _ in range(repeats + 1)][1:]
    last = case.now + HOUR * next(hour)
    later(last)
    idle = [work_ms(later, last + SECOND * one) for one in range(1, repeats + 1)]
    logbook.close()
    return {
        name: float(np.median(values))
        for name, values in (("first", firsts), ("new word", news), ("same word", same), ("idle tick", idle))
    }


def work_ms(what: Callable[[datetime], None], at: datetime) -> float:
    began = time.process_time()
    what(at)
    return 1000 * (time.process_time() - began)


def chosen(part: str) -> Iterator[Case]:
    return (case for case in CASES if part in case.name)


def main() -> None:
    repeats = int(sys.argv[1]) if len(sys.argv) > 1 else 7
    for case in chosen(sys.argv[2] if len(sys.argv) > 2 else ""):
        with tempfile.TemporaryDirectory() as folder:
            found = measured(case, Path(folder), repeats)
        print(f"{case.name:32}" + "".join(f"  {name} {ms:6.1f} ms" for name, ms in found.items()), flush=True)


if __name__ == "__main__":
    main()
