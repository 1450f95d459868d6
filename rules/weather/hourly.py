"""Hourly weather in the open field: the series, its believable ranges, and what it says of each night."""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from rules.garden.doubt import Doubt, DoubtKind

Hours = npt.NDArray[np.float64]

# Believable ranges: beyond the records of the earth's surface (WMO: -89.2 and 56.7 °C, gust 113 m/s, from memory),
# narrowed to where fruit is grown. A Kelvin or Fahrenheit series dies here.
BELIEVABLE: dict[str, tuple[float, float, str]] = {
    "air_c": (-55.0, 58.0, "°C"),
    "dew_point_c": (-80.0, 40.0, "°C"),
    "wind_m_s": (0.0, 75.0, "m/s"),
    "gust_m_s": (0.0, 115.0, "m/s"),
    "cloud_fraction": (0.0, 1.0, ""),
    "sun_w_m2": (0.0, 1500.0, "W/m²"),
    "precipitation_mm": (0.0, 310.0, "mm"),  # most in one hour: 305 mm (Holt 1947, WMO, from memory)
    "new_snow_m": (0.0, 0.5, "m"),  # most in one hour about 0.3 m, from memory
}
FALLEN = ("precipitation_mm", "new_snow_m")  # what a service need not tell

NIGHT_OVER_H = 5  # local hour from which "tonight" is the coming night: nothing can be done for the other; no source


@dataclass(frozen=True, kw_only=True, eq=False)
class HourlyWeather:
    """Weather at hour marks, evenly spaced by one hour, in the open field.

    Parameters
    ----------
    start_utc
        Time of the first mark, aware; entry i is the instant start + i hours.
    air_c
        Air at 2 m [°C], shape (hours,), oldest first. NaN is a missing hour.
    dew_point_c, wind_m_s, gust_m_s, cloud_fraction, sun_w_m2
        Dew point over water [°C], mean wind at 10 m [m/s], gust of the hour before [m/s], cloud [0-1], mean global
        sun of the hour before [W/m²]; same shape; NaN where the service does not say.
    precipitation_mm, new_snow_m
        Rain and melted snow of the hour before [mm of water], and the depth of snow that fell in it [m]; left out, they
        are NaN throughout. Never 0 where nobody has told.

    Raises
    ------
    ValueError
        Naive start, unequal lengths, or a value outside its believable range; the sentence names it.
    """

    start_utc: datetime
    air_c: Hours
    dew_point_c: Hours
    wind_m_s: Hours
    gust_m_s: Hours
    cloud_fraction: Hours
    sun_w_m2: Hours
    precipitation_mm: Hours = field(default_factory=lambda: np.empty(0))
    new_snow_m: Hours = field(default_factory=lambda: np.empty(0))

    def __post_init__(self) -> None:
        if self.start_utc.tzinfo is None:
            raise ValueError(f"start_utc must be aware, got {self.start_utc}")
        for name in FALLEN:
            if getattr(self, name).size == 0:
                object.__setattr__(self, name, np.full(len(self.air_c), np.nan))
        for one in fields(self)[1:]:
            _refuse_unbelievable(one.name, getattr(self, one.name), len(self.air_c))

    @property
    def hours(self) -> int:
        """How many hour marks there are."""
        return len(self.air_c)

    @property
    def end_utc(self) -> datetime:
        """Time of the last mark."""
        return self.start_utc + timedelta(hours=self.hours - 1)

    def times_utc(self) -> list[datetime]:
        """The hour marks as aware datetimes in UTC."""
        return list(_marks_utc(self.start_utc, self.hours))

    def local_days(self, zone: ZoneInfo) -> list[date]:
        """The local calendar day of each hour mark."""
        return list(local_days(self.start_utc, self.hours, zone))

    def index_of(self, moment: datetime) -> int:
        """Index of the last mark at or before `moment` (may lie outside the series)."""
        return int((moment - self.start_utc).total_seconds() // 3600)


@lru_cache(maxsize=64)  # every tree of a garden asks for the same hours
def _marks_utc(first_utc: datetime, hours: int) -> tuple[datetime, ...]:
    return tuple(first_utc.astimezone(UTC) + timedelta(hours=i) for i in range(hours))


@lru_cache(maxsize=64)
def local_days(first_utc: datetime, hours: int, zone: ZoneInfo) -> tuple[date, ...]:
    """The local calendar day of each of so many hour marks."""
    return tuple(moment.astimezone(zone).date() for moment in _marks_utc(first_utc, hours))


def fallen_alone(weather: HourlyWeather) -> HourlyWeather:
    """The rain and snow of a weather, and of all else nothing."""
    unknown = np.full(weather.hours, np.nan)
    kept = {one.name: getattr(weather, one.name) if one.name in FALLEN else unknown for one in fields(weather)[1:]}
    return HourlyWeather(start_utc=weather.start_utc, **kept)


def _refuse_unbelievable(name: str, values: Hours, hours: int) -> None:
    if values.shape != (hours,):
        raise ValueError(f"{name} has shape {values.shape}, expected ({hours},) like air_c")
    low, high, unit = BELIEVABLE[name]
    wrong = (values < low) | (values > high)
    if wrong.any():
        at = int(np.argmax(wrong))
        raise ValueError(f"{name} of hour {at} is {values[at]:g} {unit}, believable is {low:g} to {high:g}".rstrip())


@dataclass(frozen=True, kw_only=True, eq=False)
class Forecast:
    """One answer of one weather service.

    Parameters
    ----------
    service
        Name of the service as in the garden file.
    issued_utc
        When the service made it; None where the answer does not say.
    fetched_utc
        When we got it.
    weather
        The hours, which may start in the past.
    members_air_c
        Air of the ensemble members [°C], shape (members, hours), on the same marks; None without an ensemble.
    sigma_c
        One standard deviation of the air as the service itself states it [°C], shape (hours,); None if it does not.
    credit
        The line the service's terms ask for.
    doubts
        What was found wanting while reading it: values refused as beyond belief, a late issue.
    """

    service: str
    issued_utc: datetime | None
    fetched_utc: datetime
    weather: HourlyWeather
    members_air_c: npt.NDArray[np.float64] | None = None
    sigma_c: Hours | None = None
    credit: str = ""
    doubts: tuple[Doubt, ...] = ()

    @property
    def known_since_utc(self) -> datetime:
        """The time its knowledge dates from: when issued, else when fetched."""
        return self.issued_utc or self.fetched_utc


def screened(series: Mapping[str, Hours]) -> tuple[dict[str, Hours], tuple[Doubt, ...]]:
    """Series with every unbelievable value made NaN, and a doubt per field saying how many were refused.

    For answers from outside; `HourlyWeather` itself refuses the whole series.

    Parameters
    ----------
    series
        Arrays of any shape by the name of their `HourlyWeather` field.

    Raises
    ------
    ValueError
        A name without a believable range.

    >>> screened({"wind_m_s": np.array([4.6, 468.7])})[0]["wind_m_s"].tolist()
    [4.6, nan]
    """
    clean: dict[str, Hours] = {}
    doubts: list[Doubt] = []
    for name, values in series.items():
        if name not in BELIEVABLE:
            raise ValueError(f"{name} has no believable range, known are {', '.join(BELIEVABLE)}")
        low, high, _ = BELIEVABLE[name]
        wrong = (values < low) | (values > high)
        clean[name] = np.where(wrong, np.nan, values)
        if wrong.any():
            doubts.append(Doubt(kind=DoubtKind.VALUE_REFUSED, subject=name, amount=float(wrong.sum())))
    return clean, tuple(doubts)


@dataclass(frozen=True, kw_only=True)
class NightMinimum:
    """The lowest air of one night, noon to noon by the local clock.

    Parameters
    ----------
    evening
        Local date on which the night begins.
    air_c, at_utc
        Lowest known air [°C] and the first mark that has it.
    hours
        Known hours of the night.
    complete
        Every hour from local midnight to 07:00 is known, and 18 hours or more in all.
    """

    evening: date
    air_c: float
    at_utc: datetime
    hours: int
    complete: bool


def evening_at(moment: datetime, zone: ZoneInfo) -> date:
    """The evening of the night a moment counts to, noon to noon by the local clock."""
    return (moment.astimezone(zone).replace(tzinfo=None) - timedelta(hours=12)).date()


def evening_of(moment: datetime, zone: ZoneInfo, *, is_minimum: bool = False) -> date:
    """Evening of the night a reading belongs to.

    A low told by the clock of one day is the low of the night that ended that morning, however late it is told; the
    coming night's cannot be known yet.
    """
    return moment.astimezone(zone).date() - timedelta(days=1) if is_minimum else evening_at(moment, zone)


def tonight(now: datetime, zone: ZoneInfo) -> date:
    """The evening of the night that people call tonight: until five in the morning it is still yesterday's."""
    return (now.astimezone(zone) - timedelta(hours=NIGHT_OVER_H)).date()


def night_hours(weather: HourlyWeather, zone: ZoneInfo) -> list[tuple[date, slice]]:
    """Evening date and hour marks of each night, noon to noon by the local clock, oldest first.

    23 or 25 hours long where the clocks change; the first and last night may be cut off by the ends of the series.
    """
    return list(_nights(weather.start_utc, weather.hours, zone))


@lru_cache(maxsize=64)
def _nights(start_utc: datetime, hours: int, zone: ZoneInfo) -> tuple[tuple[date, slice], ...]:
    evenings = [evening_at(t, zone) for t in _marks_utc(start_utc, hours)]
    starts = [i for i, evening in enumerate(evenings) if i == 0 or evening != evenings[i - 1]]
    return tuple((evenings[a], slice(a, b)) for a, b in zip(starts, [*starts[1:], len(evenings)], strict=True))


def night_minima(weather: HourlyWeather, zone: ZoneInfo, *, air_c: Hours | None = None) -> list[NightMinimum]:
    """Night minima, noon to noon local, oldest first; a night without one known hour is not listed.

    From hours, never from a calendar-day field, which sees the ends of two nights.

    Parameters
    ----------
    weather
        The hour marks, and the air unless given.
    zone
        The garden's time zone.
    air_c
        Other temperatures on the same marks [°C], shape (hours,): at a tree, inside a cover.

    Raises
    ------
    ValueError
        `air_c` of another length.
    """
    values = weather.air_c if air_c is None else np.asarray(air_c, dtype=np.float64)
    if values.shape != (weather.hours,):
        raise ValueError(f"air_c has shape {values.shape}, expected ({weather.hours},) like the hours of weather")
    times = weather.times_utc()
    minima = []
    for evening, hours in night_hours(weather, zone):
        known = ~np.isnan(values[hours])
        if known.any():
            lowest = hours.start + int(np.nanargmin(values[hours]))
            complete = bool(known.sum() >= 18) and _small_hours_known(evening, zone, times[hours], known)
            minima.append(
                NightMinimum(
                    evening=evening,
                    air_c=float(values[lowest]),
                    at_utc=times[lowest],
                    hours=int(known.sum()),
                    complete=complete,
                )
            )
    return minima


def _small_hours_known(evening: date, zone: ZoneInfo, times: list[datetime], known: npt.NDArray[np.bool_]) -> bool:
    """Whether each hour from local midnight to 07:00 has a known mark: six of them when the clocks spring forward."""
    midnight = datetime.combine(evening + timedelta(days=1), time(), tzinfo=zone).astimezone(UTC)
    seven = datetime.combine(evening + timedelta(days=1), time(7), tzinfo=zone).astimezone(UTC)
    in_them = sum(bool(k) for t, k in zip(times, known, strict=True) if midnight <= t < seven)
    return in_them >= (seven - midnight) // timedelta(hours=1)
