"""What the wood was in, day by day: the air hardiness is driven by, and what in it is not believed."""

from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import lru_cache
from typing import Final, Self
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from rules.weather.hourly import HourlyWeather, Hours

Floats = npt.NDArray[np.float64]

COLDEST_C: Final = -50.0  # assumed: no fruit garden of this trade is colder, nor is any wood asked about it
WARMEST_C: Final = 60.0  # a closed cover in the sun
JUMP_C: Final = 35.0  # assumed: furthest a day's minimum lies from the median of the week about it
# Share of daylight inside, by state: 0.2-0.8 open, 0-0.2 shut; assumed, opaque.
LIGHT: Final = np.array([1.0, 0.5, 0.1])
KNOWN_HOURS_OF_A_DAY: Final = 18  # fewer make a day unknown to the wood's calendar; no source
HALF_A_DAY: Final = timedelta(hours=12)
WEEK: Final = 3  # days on either side
ROUNDING_C: Final = 0.5  # a mean may lie outside its extremes by this, as services round


@dataclass(frozen=True, kw_only=True, eq=False)
class WoodDays:
    """Daily temperatures of the air at the tree, inside its cover where one is on, by local calendar day.

    The air and not the stem: the daily model was made on air, and a stem in the sun of March is many degrees warmer.

    Parameters
    ----------
    first
        The day of entry 0.
    mean_c, min_c, max_c
        Mean, lowest and highest temperature of each day [°C], shape (days,). NaN is a day nobody knows.
    light
        Share of daylight that reached the leaves each day [0-1], shape (days,); None where all of it did.
    night_c
        Lowest temperature from the noon of each day to the next noon [°C], shape (days,), which a calendar day does not
        tell: it sees the ends of two nights. None where only days are known; then the next day's lowest stands in.

    Raises
    ------
    ValueError
        Unequal shapes; a day with its minimum above its maximum, or its mean outside them. The sentence names it.
    """

    first: date
    mean_c: Floats
    min_c: Floats
    max_c: Floats
    light: Floats | None = None
    night_c: Floats | None = None

    def __post_init__(self) -> None:
        if not (self.mean_c.ndim == 1 and self.mean_c.shape == self.min_c.shape == self.max_c.shape):
            shapes = f"{self.mean_c.shape}, {self.min_c.shape}, {self.max_c.shape}"
            raise ValueError(f"mean_c, min_c and max_c must have one shape (days,), got {shapes}")
        for day in np.flatnonzero(self.min_c > self.max_c):
            pair = f"{self.min_c[day]:.1f} °C is above its maximum {self.max_c[day]:.1f} °C"
            raise ValueError(f"{self.day(int(day))}: the minimum {pair}; were they swapped?")
        outside = (self.mean_c < self.min_c - ROUNDING_C) | (self.mean_c > self.max_c + ROUNDING_C)
        for day in np.flatnonzero(outside):
            bounds = f"{self.min_c[day]:.1f} to {self.max_c[day]:.1f} °C"
            raise ValueError(f"{self.day(int(day))}: the mean {self.mean_c[day]:.1f} °C is outside {bounds}")

    @property
    def days(self) -> int:
        """How many days there are."""
        return len(self.mean_c)

    def day(self, index: int) -> date:
        """The calendar day of an entry."""
        return self.first + timedelta(days=index)

    @classmethod
    def nothing(cls, first: date) -> Self:
        """A series without a single day: no past weather is known."""
        empty = np.empty(0)
        return cls(first=first, mean_c=empty, min_c=empty, max_c=empty)

    def believed(self) -> tuple[Self, int]:
        """The series with unbelievable days made unknown, and how many they were.

        A day falls that is beyond what a garden or a cover can be, or whose minimum stands far from the week about it:
        -72 °F typed for -7.2 °C is -57.8 °C in a week of -10.
        """
        wrong = np.zeros(self.days, dtype=bool)
        for values in (self.mean_c, self.min_c, self.max_c):
            wrong |= (values < COLDEST_C) | (values > WARMEST_C)
        lows = np.where(wrong, np.nan, self.min_c)
        wrong |= np.abs(lows - _week_median(lows)) > JUMP_C
        mean, low, high = (np.where(wrong, np.nan, values) for values in (self.mean_c, self.min_c, self.max_c))
        either = wrong | np.append(wrong[1:], False)
        night = None if self.night_c is None else np.where(either, np.nan, self.night_c)
        return replace(self, mean_c=mean, min_c=low, max_c=high, night_c=night), int(wrong.sum())

    def cut(self, part: slice) -> Self:
        """The days of a slice alone."""
        light, night = (None if values is None else values[part] for values in (self.light, self.night_c))
        return type(self)(
            first=self.day(part.start),
            mean_c=self.mean_c[part],
            min_c=self.min_c[part],
            max_c=self.max_c[part],
            light=light,
            night_c=night,
        )

    def means_from(self, start: date, days: int) -> Floats:
        """Daily means [°C] of `days` days from `start`; NaN where unknown; midway where only the extremes are known."""
        mean = np.where(np.isnan(self.mean_c), (self.min_c + self.max_c) / 2, self.mean_c)
        return self._from(mean, start, days)

    def minima_from(self, start: date, days: int) -> Floats:
        """Daily minima [°C] of `days` days from `start`; NaN where unknown."""
        return self._from(self.min_c, start, days)

    def nights_from(self, start: date, days: int) -> Floats:
        """Lowest of the nights that begin on `days` days from `start` [°C]; NaN where unknown."""
        if self.night_c is None:
            return self.minima_from(start + timedelta(days=1), days)
        return self._from(self.night_c, start, days)

    def maxima_from(self, start: date, days: int) -> Floats:
        """Daily maxima [°C] of `days` days from `start`; NaN where unknown."""
        return self._from(self.max_c, start, days)

    def light_from(self, start: date, days: int) -> Floats:
        """Share of daylight on `days` days from `start` [0-1]; all of it where nobody knows."""
        light = np.ones(self.days) if self.light is None else self.light
        found = self._from(light, start, days)
        return np.where(np.isnan(found), 1.0, found)

    def _from(self, values: Floats, start: date, days: int) -> Floats:
        found = np.full(days, np.nan)
        shift = (self.first - start).days
        low, high = max(shift, 0), min(shift + self.days, days)
        if low < high:
            found[low:high] = values[low - shift : high - shift]
        return found


def _week_median(values: Floats) -> Floats:
    """Median of each day and its neighbours three days either way; NaN where none of them is known."""
    if not len(values):
        return values
    padded = np.concatenate([np.full(WEEK, np.nan), values, np.full(WEEK, np.nan)])
    weeks = np.lib.stride_tricks.sliding_window_view(padded, 2 * WEEK + 1)
    ranked, known = np.sort(weeks, axis=1), (~np.isnan(weeks)).sum(axis=1)  # what nobody knows is ranked last
    day = np.arange(len(values))
    return np.asarray((ranked[day, np.maximum(known - 1, 0) // 2] + ranked[day, known // 2]) / 2)


def wood_days_from(
    weather: HourlyWeather,
    air_c: Hours,
    known: npt.NDArray[np.bool_],
    zone: ZoneInfo,
    states: npt.NDArray[np.int64] | None = None,
    daylight: Floats = LIGHT,
) -> WoodDays:
    """Daily mean, lowest and highest of the air the wood was in, and the light on its leaves, by local calendar day.

    Parameters
    ----------
    weather
        Its hour marks.
    air_c
        Air at the tree, inside its cover where one is on [°C], shape (hours,).
    known
        Which hours rest on weather that was told, shape (hours,); a day with fewer than 18 of them is unknown.
    zone
        The garden's zone.
    states
        State index of the cover at each hour mark, shape (hours,); None is a tree that was bare throughout.
    daylight
        Share of daylight inside by state, shape (states,); that of an opaque cover unless given.
    """
    lit = np.ones(weather.hours) if states is None else daylight[states]
    first, begins = _day_starts(weather.start_utc, weather.hours, zone)
    counts = np.diff(np.append(begins, weather.hours))
    told = np.add.reduceat(known.astype(np.int64), begins) >= KNOWN_HOURS_OF_A_DAY
    mean_c, lit_share = (np.add.reduceat(values, begins) / counts for values in (air_c, lit))
    min_c, max_c = np.minimum.reduceat(air_c, begins), np.maximum.reduceat(air_c, begins)
    mean_c = np.clip(mean_c, min_c, max_c)  # a sum of equal hours may round out of them
    evening, noons = _day_starts(weather.start_utc - HALF_A_DAY, weather.hours, zone)
    lows = np.fmin.reduceat(np.where(known, air_c, np.nan), noons)[(first - evening).days :]
    night_c = np.append(lows, np.full(max(0, len(begins) - len(lows)), np.nan))[: len(begins)]
    mean_c, min_c, max_c, lit_share = (np.where(told, one, np.nan) for one in (mean_c, min_c, max_c, lit_share))
    return WoodDays(first=first, mean_c=mean_c, min_c=min_c, max_c=max_c, light=lit_share, night_c=night_c)


@lru_cache(maxsize=64)  # every tree of a garden asks for the same hours
def _day_starts(first_utc: datetime, hours: int, zone: ZoneInfo) -> tuple[date, npt.NDArray[np.int64]]:
    """The first local day of so many hour marks, and the mark with which each day begins, shape (days,)."""
    first, last = (at.astimezone(zone).date() for at in (first_utc, first_utc + timedelta(hours=hours - 1)))
    days = [first + timedelta(days=day) for day in range(1, (last - first).days + 1)]
    midnights_s = [datetime(day.year, day.month, day.day, tzinfo=zone).timestamp() for day in days]
    begins = np.ceil((np.array(midnights_s) - first_utc.timestamp()) / 3600).astype(np.int64)
    return first, np.array([0, *sorted(set(begins.tolist()))])
