"""Hourly weather in the open field: the series, its believable ranges, and what it says of each night."""

from dataclasses import dataclass, fields
from datetime import UTC, datetime, timedelta

import numpy as np
import numpy.typing as npt

from rules.doubt import Doubt

Hours = npt.NDArray[np.float64]

# Believable ranges: beyond the records of the earth's surface (WMO: -89.2 and 56.7 °C, gust 113 m/s, from memory),
# narrowed to where fruit is grown. A Kelvin or Fahrenheit series dies here.
BELIEVABLE: dict[str, tuple[float, float, str]] = {
    "air_c": (-60.0, 58.0, "°C"),
    "dew_point_c": (-80.0, 40.0, "°C"),
    "wind_m_s": (0.0, 75.0, "m/s"),
    "gust_m_s": (0.0, 115.0, "m/s"),
    "cloud_fraction": (0.0, 1.0, ""),
    "sun_w_m2": (0.0, 1500.0, "W/m²"),
}


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

    def __post_init__(self) -> None:
        if self.start_utc.tzinfo is None:
            raise ValueError(f"start_utc must be aware, got {self.start_utc}")
        for field in fields(self)[1:]:
            _refuse_unbelievable(field.name, getattr(self, field.name), len(self.air_c))

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
        first = self.start_utc.astimezone(UTC)
        return [first + timedelta(hours=i) for i in range(self.hours)]

    def index_of(self, moment: datetime) -> int:
        """Index of the last mark at or before `moment` (may lie outside the series)."""
        return int((moment - self.start_utc).total_seconds() // 3600)


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
