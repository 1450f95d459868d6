"""The invented weather of the demo garden: past weather and ten saved forecasts around one hidden truth.

Run by hand from the top of the repository when the story is to change::

    python tests/bot/demo/make_demo_forecasts.py demo_config --seed 12

Everything is made up. The story, night by night (each night has the date of its evening):

- until 24 November an ordinary autumn: frosts from the end of October, no night that hurts;
- Thu 27 a front brings a gale through the night and the next noon; Fri 28 is clear, calm and far below what the wood
  can take; Sat 29 is nearly as cold;
- Sun 30 to Tue 2 December are mild, calm and sunny: closed covers get hot;
- for Wed 3 every forecast until Tuesday sees another hard freeze; on Wednesday morning it is gone.
"""

import argparse
import json
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import numpy.typing as npt

from rules.garden.tree import Site
from rules.site.sun import cloudy_sun_w_m2, elevation_sine

Floats = npt.NDArray[np.float64]

SITE = Site(latitude_deg=39, longitude_deg=-109, elevation_m=1620, time_zone="America/Denver")
CREDIT = "Invented weather of the Larkmoor demo"
FIRST_DAY = date(2025, 9, 6)  # local day of the first hour; the season of hardening begins on the 7th
LAST_DAY = date(2025, 12, 15)
STORY_BEGINS = date(2025, 11, 24)
UTC_OFFSET_H = -7  # the story lies in winter time; the autumn before it is an hour off its sun, which nobody sees
COLDEST_AUTUMN_NIGHT_C = -4.5  # the freeze of the story is the first that hurts
FORECAST_HOURS = 240
PAST_FILE_DAYS = 26
HOURS_SEEN_BEFORE_ISSUE = 24  # a service's series starts in the past

# Local day: highest air, lowest air of that morning [°C], cloud by day, cloud of the night before, wind [m/s].
STORY: dict[date, tuple[float, float, float, float, float]] = {
    date(2025, 11, 24): (9.0, -2.5, 0.3, 0.2, 1.8),
    date(2025, 11, 25): (10.0, -3.0, 0.2, 0.1, 1.5),
    date(2025, 11, 26): (9.0, -2.0, 0.5, 0.4, 2.0),
    date(2025, 11, 27): (7.0, -1.0, 0.8, 0.7, 3.0),
    date(2025, 11, 28): (-1.0, -4.0, 0.5, 0.9, 9.5),
    date(2025, 11, 29): (-0.5, -13.0, 0.05, 0.02, 1.0),
    date(2025, 11, 30): (6.0, -10.5, 0.05, 0.05, 1.0),
    date(2025, 12, 1): (11.5, -4.0, 0.02, 0.05, 1.0),
    date(2025, 12, 2): (13.0, -1.5, 0.02, 0.05, 1.2),
    date(2025, 12, 3): (8.0, 0.0, 0.7, 0.3, 2.0),
    date(2025, 12, 4): (6.0, -0.5, 0.9, 1.0, 2.5),
    date(2025, 12, 5): (7.0, -2.0, 0.5, 0.6, 1.8),
    date(2025, 12, 6): (8.0, -3.0, 0.3, 0.3, 1.5),
    date(2025, 12, 7): (8.0, -3.5, 0.2, 0.2, 1.5),
    date(2025, 12, 8): (7.0, -3.0, 0.4, 0.3, 2.0),
    date(2025, 12, 9): (5.0, -4.0, 0.6, 0.4, 2.5),
    date(2025, 12, 10): (4.0, -5.0, 0.4, 0.3, 2.0),
    date(2025, 12, 11): (4.0, -5.5, 0.3, 0.2, 1.5),
    date(2025, 12, 12): (5.0, -5.0, 0.3, 0.3, 1.5),
    date(2025, 12, 13): (6.0, -4.0, 0.4, 0.4, 2.0),
    date(2025, 12, 14): (6.0, -4.0, 0.4, 0.4, 2.0),
    date(2025, 12, 15): (6.0, -4.0, 0.4, 0.4, 2.0),
}
GALE = (datetime(2025, 11, 28, 0, tzinfo=UTC), datetime(2025, 11, 28, 20, tzinfo=UTC))  # Thu 17:00 to Fri 13:00 local
GALE_M_S, GALE_GUST_M_S = 11.0, 20.0
HARD_NIGHT = datetime(2025, 11, 29, 14, tzinfo=UTC)  # lowest hour of the freeze
FALSE_ALARM = datetime(2025, 12, 4, 14, tzinfo=UTC)  # lowest hour of the freeze that does not come
NIGHT_HALF_WIDTH_H = 9.0

# Issued (UTC; 11:00 is four in the morning there): how much too warm the freeze is seen, and how much too cold the
# night that stays mild [K].
ISSUES: dict[datetime, tuple[float, float]] = {
    datetime(2025, 11, 25, 11, tzinfo=UTC): (4.5, 0.0),
    datetime(2025, 11, 26, 11, tzinfo=UTC): (3.0, 0.0),
    datetime(2025, 11, 27, 11, tzinfo=UTC): (1.5, -3.0),
    datetime(2025, 11, 28, 11, tzinfo=UTC): (0.5, -5.0),
    datetime(2025, 11, 28, 23, tzinfo=UTC): (0.0, -6.0),
    datetime(2025, 11, 29, 11, tzinfo=UTC): (0.0, -8.0),
    datetime(2025, 11, 30, 11, tzinfo=UTC): (0.0, -10.0),
    datetime(2025, 12, 1, 11, tzinfo=UTC): (0.0, -11.0),
    datetime(2025, 12, 2, 11, tzinfo=UTC): (0.0, -11.5),
    datetime(2025, 12, 3, 11, tzinfo=UTC): (0.0, -1.0),
}
# Error of an ordinary hour [K]: this at once, plus this for each day of lead; assumed, a good service on flat land.
ERROR_NOW_K, ERROR_PER_DAY_K = 0.4, 0.25
ERROR_LASTS_H = 18.0
WET_CLOUD, MM_PER_CLOUD = 0.75, 3.0


def autumn_days(chance: np.random.Generator) -> dict[date, tuple[float, float, float, float, float]]:
    """The days before the story: an ordinary autumn cooling, with weather that lasts a few days."""
    days, spell = {}, 0.0
    count = (STORY_BEGINS - FIRST_DAY).days
    for i in range(count):
        spell = 0.7 * spell + chance.normal(0.0, 1.4)
        cloud = float(np.clip(0.35 + 0.3 * chance.normal() - 0.03 * spell, 0.0, 1.0))
        mean_c = 18.5 - 16.0 * i / count + spell
        range_c = 16.0 - 8.0 * cloud
        wind_m_s = float(np.clip(1.8 + 1.2 * cloud + 0.6 * chance.normal(), 0.6, 7.0))
        low_c = max(mean_c - range_c / 2, COLDEST_AUTUMN_NIGHT_C)
        days[FIRST_DAY + timedelta(days=i)] = (mean_c + range_c / 2, low_c, cloud, cloud, wind_m_s)
    return days


def truth(chance: np.random.Generator) -> tuple[datetime, dict[str, Floats]]:
    """What really happens, hour by hour, and the time of the first hour."""
    days = autumn_days(chance) | STORY
    start = datetime.combine(FIRST_DAY, datetime.min.time(), UTC) - timedelta(hours=UTC_OFFSET_H)
    hours = ((LAST_DAY - FIRST_DAY).days + 1) * 24 - 8  # up to the last afternoon
    rows = np.array(list(days.values()))
    day, hour = np.divmod(np.arange(hours), 24)
    air = np.array([_air_c(rows, d, h) for d, h in zip(day, hour, strict=True)]) + 0.2 * chance.normal(size=hours)
    is_night = (hour < 8) | (hour >= 17)
    coming = np.minimum(day + (hour >= 17), len(rows) - 1)  # the cloud of a night stands with the day it ends in
    cloud = np.where(is_night, rows[coming, 3], rows[day, 2])
    cloud = np.clip(cloud + 0.08 * chance.normal(size=hours), 0.0, 1.0)
    wind, gust = _winds_m_s(start, rows[day, 4], hour, chance)
    low = np.minimum(rows[day, 1], rows[coming, 1])
    dew = np.minimum(low - 2.0 + 0.25 * (air - low), air - 0.3)
    sun = sun_w_m2(start, cloud)
    series = {"air_c": air, "dew_point_c": dew, "wind_m_s": wind, "gust_m_s": gust, "cloud_fraction": cloud}
    return start, series | {"sun_w_m2": sun, "precipitation_mm": precipitation_mm(cloud)}


def _air_c(rows: Floats, day: int, hour: int) -> float:
    """Air at an hour of a day: lowest at 7, highest at 14:30, then falling ever more slowly to the next morning."""
    low, high = rows[day, 1], rows[day, 0]
    if hour < 7:
        high, since = rows[max(day - 1, 0), 0], (hour + 9.5) / 16.5
        return float(high - (high - low) * (1 - np.exp(-2.2 * since)) / (1 - np.exp(-2.2)))
    if hour <= 14:
        return float(low + (high - low) * np.sin(np.pi / 2 * (hour - 7) / 7.5))
    low, since = rows[min(day + 1, len(rows) - 1), 1], (hour - 14.5) / 16.5
    return float(high - (high - low) * (1 - np.exp(-2.2 * since)) / (1 - np.exp(-2.2)))


def _winds_m_s(start: datetime, mean: Floats, hour: Floats, chance: np.random.Generator) -> tuple[Floats, Floats]:
    """Mean wind, stronger in the afternoon, and gusts; the gale on top."""
    wind = mean * (0.75 + 0.5 * np.maximum(0.0, np.sin(np.pi * (hour - 8) / 12)))
    wind = np.maximum(0.2, wind + 0.25 * chance.normal(size=len(mean)))
    first, last = (int((moment - start).total_seconds() // 3600) for moment in GALE)
    wind[last + 1 : last + 12] = np.linspace(3.5, 0.8, 11)  # it dies away by dusk
    wind[first : last + 1] = GALE_M_S + chance.normal(0.0, 0.8, size=last + 1 - first)
    gust = 1.6 * wind + 0.5
    gust[first : last + 1] = GALE_GUST_M_S + chance.normal(0.0, 1.0, size=last + 1 - first)
    return wind, gust


def sun_w_m2(start: datetime, cloud: Floats) -> Floats:
    """Mean sun of the hour before each mark, taken at its middle."""
    middles = start.timestamp() - 1800.0 + 3600.0 * np.arange(len(cloud))
    return cloudy_sun_w_m2(elevation_sine(middles, SITE), cloud)


def precipitation_mm(cloud: Floats) -> Floats:
    """Rain or snow of the hour before each mark: some under thick cloud; a dry valley has little of it."""
    return MM_PER_CLOUD * np.maximum(0.0, cloud - WET_CLOUD)


def lasting(chance: np.random.Generator, hours: int) -> Floats:
    """Unit noise that keeps its sign for about `ERROR_LASTS_H` hours."""
    keep = np.exp(-1.0 / ERROR_LASTS_H)
    noise = np.empty(hours)
    value = chance.normal()
    for i in range(hours):
        value = keep * value + np.sqrt(1 - keep**2) * chance.normal()
        noise[i] = value
    return noise


def bell(times_h: Floats) -> Floats:
    """1 at the lowest hour of a night, 0 half a day away."""
    return np.exp(-0.5 * (times_h / (NIGHT_HALF_WIDTH_H / 1.5)) ** 2)


def forecast_of(
    issued: datetime, start: datetime, real: dict[str, Floats], shared: Floats, chance: np.random.Generator
) -> tuple[datetime, dict[str, Floats]]:
    """What the service says at one time: what was, then the truth with errors that grow with lead."""
    at = int((issued - start).total_seconds() // 3600)
    cut = slice(at - HOURS_SEEN_BEFORE_ISSUE, at + FORECAST_HOURS)
    said = {name: values[cut].copy() for name, values in real.items()}
    lead = np.arange(-HOURS_SEEN_BEFORE_ISSUE, FORECAST_HOURS)[: len(said["air_c"])]
    size = np.where(lead > 0, ERROR_NOW_K + ERROR_PER_DAY_K * lead / 24, 0.0)
    too_warm, too_cold = ISSUES[issued]
    hard, alarm = ((issued - when).total_seconds() / 3600 for when in (HARD_NIGHT, FALSE_ALARM))
    hours = lead.astype(np.float64)
    near_hard, near_alarm = bell(hours + hard), bell(hours + alarm)
    ordinary = 1 - np.maximum(near_hard, near_alarm)  # the two nights of the story are written, not left to chance
    error = size * ordinary * (0.8 * shared[cut] + 0.6 * lasting(chance, len(lead)))
    told = np.where(lead > 0, too_warm * near_hard + too_cold * near_alarm, 0.0)
    said["air_c"] += error + told
    said["dew_point_c"] = np.minimum(said["dew_point_c"] + error + told, said["air_c"] - 0.2)
    if too_cold < -2:  # a freeze is seen because a clear, calm night is
        said["cloud_fraction"] = said["cloud_fraction"] * (1 - 0.95 * near_alarm * (lead > 0))
        said["wind_m_s"] = said["wind_m_s"] * (1 - 0.6 * near_alarm * (lead > 0))
        said["gust_m_s"] = said["gust_m_s"] * (1 - 0.6 * near_alarm * (lead > 0))
    first = issued - timedelta(hours=HOURS_SEEN_BEFORE_ISSUE)
    said["sun_w_m2"] = sun_w_m2(first, said["cloud_fraction"])
    said["precipitation_mm"] = precipitation_mm(said["cloud_fraction"])
    return first, said


def written(issued: datetime, start: datetime, series: dict[str, Floats]) -> str:
    """One series as the text of a saved file."""
    digits = {"cloud_fraction": 2, "sun_w_m2": 0}
    plain = {name: [round(float(v), digits.get(name, 1)) + 0.0 for v in values] for name, values in series.items()}
    plain["sun_w_m2"] = [int(value) for value in plain["sun_w_m2"]]
    times = {"issued_utc": f"{issued:%Y-%m-%dT%H:%MZ}", "start_utc": f"{start:%Y-%m-%dT%H:%MZ}"}
    lines = [
        f" {json.dumps(name)}: {json.dumps(value, separators=(',', ':'))}" for name, value in (times | plain).items()
    ]
    return "{\n" + ",\n".join([*lines, f' "credit": {json.dumps(CREDIT)}']) + "\n}\n"


def write_past(folder: Path, start: datetime, real: dict[str, Floats]) -> None:
    """Hours gone by: long files up to the first forecast, then one a day, each named by when it was complete."""
    first_issue = min(ISSUES)
    begin = start
    while begin <= max(ISSUES):
        days = PAST_FILE_DAYS if begin < first_issue - timedelta(days=1) else 1
        end = min(begin + timedelta(days=days), first_issue) if begin < first_issue else begin + timedelta(days=days)
        cut = slice(*(int((moment - start).total_seconds() // 3600) for moment in (begin, end)))
        series = {name: values[cut] for name, values in real.items()}
        (folder / f"{end:%Y-%m-%dT%H%MZ}.json").write_text(written(end, begin, series), encoding="utf-8")
        begin = end


def main() -> None:
    """Write both folders below the one given."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--seed", type=int, default=12)
    arguments = parser.parse_args()
    chance = np.random.default_rng(arguments.seed)
    start, real = truth(chance)
    shared = lasting(chance, len(real["air_c"]))
    for name in ("forecasts", "past"):
        folder = arguments.folder / name
        folder.mkdir(parents=True, exist_ok=True)
        for old in folder.glob("*.json"):
            old.unlink()
    write_past(arguments.folder / "past", start, real)
    for issued in ISSUES:
        first, said = forecast_of(issued, start, real, shared, chance)
        path = arguments.folder / "forecasts" / f"{issued:%Y-%m-%dT%H%MZ}.json"
        path.write_text(written(issued, first, said), encoding="utf-8")


if __name__ == "__main__":
    main()
