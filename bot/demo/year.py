"""A whole invented year on a simulated clock: weather made as it goes, and a grower who answers as people do."""

import heapq
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Final, TextIO

import numpy as np
from tqdm import tqdm

from bot.demo.freeze_week import CONFIG, Dated, SimulatedClock, read_script
from bot.demo.grower import InventedGrower, Line
from bot.demo.weather import PAST_H, invented_forecast, invented_truth, invented_winters
from bot.forecasts import Transport, dump_forecast, file_name
from bot.hosting.one_garden import Watch
from bot.logbook import TERMINAL_CHAT, Logbook, note_person, nudges_since, open_logbook
from bot.rounds import Setting
from bot.settings import Garden, read_garden
from bot.terminal_chat import Terminal
from rules.weather.hourly import HourlyWeather

SEED: Final = 1
LEAD_IN_DAYS, LEAD_OUT_DAYS = 60, 14  # hours gone by before the year, and forecasts beyond its end
WINTERS: Final = 20
ISSUED_AT: Final = time(4)
# Breakfast, noon for the year's jobs, last calls before a winter's dusk. The first and the last look ahead.
COLD_LOOKS: Final = (time(7, 30), time(12), time(16))
WARM_LOOKS: Final = (time(9), time(18))
WARM_DAYS: Final = (2, 5)  # Wednesday and Saturday
WARM_MONTHS: Final = (6, 7, 8, 9)
NIGHTS_LOOKED_INTO: Final = timedelta(days=2)


class Counted:
    """Messages sent unasked, by month and stage."""

    def __init__(self, garden: Garden, logbook: Logbook) -> None:
        self._garden = garden
        self._logbook = logbook
        self._counted: set[str] = set()
        self.by_month: Counter[tuple[str, str]] = Counter()

    def look(self, now: datetime) -> None:
        """Count what was sent since the last look."""
        with self._logbook.begin() as c:
            fresh = nudges_since(c, self._garden.name, now - NIGHTS_LOOKED_INTO)
        for nudge in fresh:
            if nudge.key not in self._counted:
                self._counted.add(nudge.key)
                month = nudge.opened_utc.astimezone(self._garden.site.zone)
                self.by_month[f"{month:%Y-%m}", nudge.stage] += 1

    def table(self) -> str:
        """Messages per month, one column a stage."""
        stages = sorted({stage for _, stage in self.by_month})
        months = sorted({month for month, _ in self.by_month})
        rows = [["month", *stages, "all"]]
        for month in months:
            counts = [self.by_month[month, stage] for stage in stages]
            rows.append([month, *map(str, counts), str(sum(counts))])
        rows.append(
            ["all", *(str(sum(self.by_month[m, s] for m in months)) for s in stages), str(self.by_month.total())]
        )
        wide = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
        return "\n".join("  ".join(f"{cell:>{width}}" for cell, width in zip(row, wide, strict=True)) for row in rows)


class InventedService:
    """A folder that holds the forecast of this morning, and nothing else."""

    def __init__(self, folder: Path, truth: HourlyWeather, garden: Garden) -> None:
        self._folder, self._truth, self._garden = folder, truth, garden
        self._issued_utc: datetime | None = None

    def issue(self, now: datetime) -> None:
        """Lay out what the service says this morning, if it is not there yet."""
        zone = self._garden.site.zone
        issued = datetime.combine(now.astimezone(zone).date(), ISSUED_AT, zone).astimezone(UTC)
        if issued == self._issued_utc:
            return
        past_h = PAST_H if self._issued_utc else 24 * LEAD_IN_DAYS
        said = dump_forecast(invented_forecast(self._truth, issued, self._garden.site, SEED, past_h))
        for old in self._folder.glob("*.json"):
            old.unlink()
        (self._folder / file_name(issued)).write_text(said, encoding="utf-8")
        self._issued_utc = issued


def run_year(out: TextIO = sys.stdout, config: Path = CONFIG, days: int | None = None) -> int:
    """Play the demo year, or its first `days`, and count its messages at the end."""
    garden = read_garden(config / "larkmoor.toml")
    start, end, lines = read_script(config / "year.toml", garden)
    end = min(end, start + timedelta(days=days)) if days else end
    with tempfile.TemporaryDirectory(prefix="bedstraw-year-") as folder:
        _play(out, Path(folder), garden, (start, end), [Line(at=at, text=text) for at, text in lines])
    return 0


def _play(out: TextIO, folder: Path, garden: Garden, span: tuple[datetime, datetime], lines: list[Line]) -> None:
    start, end = span
    garden, service = _with_weather(folder, garden, start.date(), (end - start).days)
    clock = SimulatedClock(start)
    logbook = open_logbook(folder / "year.logbook")
    person = garden.people[0].name
    with logbook.begin() as c:
        note_person(c, garden.name, TERMINAL_CHAT, person, "owner")
    watch = Watch(Setting(garden=garden, logbook=logbook, transport=Transport(saved_path=garden.saved_forecasts)))
    dated = Dated(out, clock, garden)
    terminal = Terminal(watch, dated, clock, person=person)
    grower, counted = InventedGrower(garden, logbook, np.random.default_rng(SEED)), Counted(garden, logbook)
    print(_heading(garden, start, end), file=out)
    waiting = [line for line in lines if line.at <= end]
    heapq.heapify(waiting)
    looks = list(_looks(start, end, garden))
    for moment in tqdm(looks, desc="the year", unit="look", file=sys.stderr):
        while waiting and waiting[0].at <= moment:
            line = heapq.heappop(waiting)
            clock.at = max(clock.at, line.at)
            print(f"{person}: {line.text}", file=dated)
            terminal.hear(line.text)
        clock.at = moment
        service.issue(moment)
        terminal.tick()
        counted.look(moment)
        for line in grower.lines(moment):
            heapq.heappush(waiting, line)
    print(f"\nMessages sent unasked, by month:\n{counted.table()}", file=out)
    logbook.close()


def _with_weather(folder: Path, garden: Garden, first: date, days: int) -> tuple[Garden, InventedService]:
    chance = np.random.default_rng(SEED)
    truth = invented_truth(
        garden.site, first - timedelta(days=LEAD_IN_DAYS), LEAD_IN_DAYS + days + LEAD_OUT_DAYS, chance
    )
    forecasts, winters = folder / "forecasts", folder / "minima.csv"
    forecasts.mkdir()
    years_ago = date(first.year - WINTERS, 1, 1)
    winters.write_text(invented_winters(years_ago, (first - years_ago).days, chance), encoding="utf-8")
    changed = {"saved_forecasts": forecasts, "past_weather": None, "past_winters": winters}
    garden = garden.model_copy(update=changed)
    return garden, InventedService(forecasts, truth, garden)


def _looks(start: datetime, end: datetime, garden: Garden) -> Iterator[datetime]:
    """Three times a day in the cold half of the year, on two days a week in the warm."""
    for i in range((end.date() - start.date()).days + 1):
        day = start.date() + timedelta(days=i)
        is_warm = day.month in WARM_MONTHS
        if is_warm and day.weekday() not in WARM_DAYS:
            continue
        for at in WARM_LOOKS if is_warm else COLD_LOOKS:
            moment = datetime.combine(day, at, garden.site.zone)
            if start <= moment <= end:
                yield moment


def _heading(garden: Garden, start: datetime, end: datetime) -> str:
    first, last = (moment.astimezone(garden.site.zone) for moment in (start, end))
    return (
        f"An invented year in the invented garden {garden.name}, "
        f"{first.day} {first:%B %Y} to {last.day} {last:%B %Y}.\n"
        f"No network, a simulated clock, weather from a seed; #n is a message of the bot, the rest is "
        f"{garden.people[0].name}."
    )
