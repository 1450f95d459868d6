"""The course of a day from its two extremes, for days with no hourly record: three published curves.

How good they are (computed for Newark 2013 and two other hourly series, November to March): wrong by about 2 °C at a
given hour and by 5 % in the count of frost hours. Hourly values are better whenever there are any.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Booleans = npt.NDArray[np.bool_]


class Curve(StrEnum):
    """The published curves."""

    PARTON_LOGAN = "Parton & Logan 1981"  # with the night stretched to reach the next minimum
    LINVILL = "Linvill 1990"
    SQUARE_ROOT_NIGHT = "Cesaraccio et al. 2001"


@dataclass(frozen=True, kw_only=True)
class Lags:
    """Parton & Logan's three numbers for one place.

    Parameters
    ----------
    maximum_h
        How long after noon the day is warmest [h], their alpha.
    minimum_h
        How long after sunrise it is coldest [h], their beta.
    night_decay
        How fast the night falls, their gamma.
    """

    maximum_h: float
    minimum_h: float
    night_decay: float


DENVER_AIR_150_CM: Final = Lags(maximum_h=1.86, minimum_h=-0.17, night_decay=2.20)  # Parton & Logan 1981
DENVER_AIR_10_CM: Final = Lags(maximum_h=1.52, minimum_h=-0.18, night_decay=2.00)  # the same
NORTH_CAROLINA: Final = Lags(maximum_h=2.59, minimum_h=1.55, night_decay=2.20)  # Wann 1985, five sites


@dataclass(frozen=True, kw_only=True, eq=False)
class DayShape:
    """What a curve needs of one day; numbers or arrays that broadcast with the hours asked for.

    Parameters
    ----------
    min_c, max_c, next_min_c
        The morning's minimum, the day's maximum, the next morning's minimum [°C].
    sunrise_h, sunset_h
        Hours after the day's midnight [h], sunrise before sunset; both on the clock the hours are asked on.

    Raises
    ------
    ValueError
        Sunrise not before sunset, or day length not within 24 hours; the sentence gives the pair.
    """

    min_c: npt.ArrayLike
    max_c: npt.ArrayLike
    next_min_c: npt.ArrayLike
    sunrise_h: npt.ArrayLike
    sunset_h: npt.ArrayLike

    def __post_init__(self) -> None:
        rise, down = np.broadcast_arrays(np.asarray(self.sunrise_h, float), np.asarray(self.sunset_h, float))
        wrong = ~((rise < down) & (down - rise < 24))
        if wrong.any():
            at = int(np.argmax(wrong))
            raise ValueError(f"sunrise {rise.flat[at]:g} h and sunset {down.flat[at]:g} h make no day and night")

    def numbers(self) -> tuple[Floats, Floats, Floats, Floats, Floats]:
        """The five values as arrays, in the order of the parameters."""
        low, high, after = (np.asarray(v, float) for v in (self.min_c, self.max_c, self.next_min_c))
        return low, high, after, np.asarray(self.sunrise_h, float), np.asarray(self.sunset_h, float)


def parton_logan(hour: npt.ArrayLike, day: DayShape, lags: Lags = DENVER_AIR_150_CM) -> Floats:
    """Air by the original curve of Parton & Logan 1981: sine by day, exponential by night [°C].

    The night tends to the day's own minimum and does not reach it.

    Parameters
    ----------
    hour
        Hours after the day's midnight [h]; hours before the minimum are read as the night that follows (plus 24).
    day
        The day; its `next_min_c` is not used.
    lags
        The place's numbers.
    """
    low, _, _, rise, down = day.numbers()
    hour_on = _on_from(hour, rise + lags.minimum_h)
    at_sunset = _parton_logan_day(down, day, lags)
    fall = np.exp(-lags.night_decay * (hour_on - down) / (24.0 - (down - rise) + lags.minimum_h))
    return np.where(hour_on < down, _parton_logan_day(hour_on, day, lags), low + (at_sunset - low) * fall)


def parton_logan_normalised(hour: npt.ArrayLike, day: DayShape, lags: Lags = DENVER_AIR_150_CM) -> Floats:
    """Air by Parton & Logan 1981 with the night stretched so that it reaches the next minimum [°C].

    The stretching is ours (computed); parameters as `parton_logan`.
    """
    _, _, after, rise, down = day.numbers()
    hour_on = _on_from(hour, rise + lags.minimum_h)
    at_sunset = _parton_logan_day(down, day, lags)
    rest = np.exp(-lags.night_decay)
    fall = np.exp(-lags.night_decay * (hour_on - down) / (24.0 - (down - rise) + lags.minimum_h))
    night = (after - at_sunset * rest + (at_sunset - after) * fall) / (1.0 - rest)
    return np.where(hour_on < down, _parton_logan_day(hour_on, day, lags), night)


def _parton_logan_day(hour: Floats, day: DayShape, lags: Lags) -> Floats:
    low, high, _, rise, down = day.numbers()
    stretch = down - rise + 2.0 * (lags.maximum_h - lags.minimum_h)
    return np.asarray(low + (high - low) * np.sin(np.pi * (hour - rise - lags.minimum_h) / stretch), float)


def linvill(hour: npt.ArrayLike, day: DayShape, *, plus_one: bool = True) -> Floats:
    """Air by Linvill 1990, from memory: sine by day, logarithm by night [°C].

    Parameters
    ----------
    hour
        Hours after the day's midnight [h]; hours before sunrise are read as the night that follows (plus 24).
    day
        The day.
    plus_one
        Add 1 inside both logarithms, which joins the night to the day at sunset. Without it the curve is only good
        from one hour after sunset, and holds the sunset value till then.
    """
    low, high, after, rise, down = day.numbers()
    length, shift = down - rise, 1.0 if plus_one else 0.0
    hour_on = _on_from(hour, rise)
    by_day = low + (high - low) * np.sin(np.pi * (hour_on - rise) / (length + 4.0))
    at_sunset = low + (high - low) * np.sin(np.pi * length / (length + 4.0))
    since = np.log(np.maximum(hour_on - down + shift, 1.0))
    by_night = at_sunset - (at_sunset - after) / np.log(24.0 - length + shift) * since
    return np.where(hour_on < down, by_day, by_night)


def square_root_night(hour: npt.ArrayLike, day: DayShape) -> Floats:
    """Air by Cesaraccio et al. 2001 (also Snyder & de Melo-Abreu 2005): two sines by day, square root by night [°C].

    Parameters as `linvill`. Warmest four hours before sunset.

    Raises
    ------
    ValueError
        A day of four hours or less, which has no such maximum.
    """
    low, high, after, rise, down = day.numbers()
    if np.any(down - rise <= 4.0):
        raise ValueError(f"the square-root night needs a day of more than 4 h, got {np.min(down - rise):g} h")
    warmest = down - 4.0
    hour_on = _on_from(hour, rise)
    at_sunset = high - 0.39 * (high - after)
    morning = low + (high - low) * np.sin(np.pi / 2 * (hour_on - rise) / (warmest - rise))
    evening = at_sunset + (high - at_sunset) * np.sin(np.pi / 2 * (1.0 + (hour_on - warmest) / 4.0))
    fall = (after - at_sunset) / np.sqrt(rise + 24.0 - down)
    night = at_sunset + fall * np.sqrt(np.maximum(hour_on - down, 0.0))
    return np.where(hour_on <= warmest, morning, np.where(hour_on < down, evening, night))


def hourly_from_daily(
    min_c: npt.ArrayLike,
    max_c: npt.ArrayLike,
    sunrise_h: npt.ArrayLike,
    sunset_h: npt.ArrayLike,
    *,
    curve: Curve = Curve.PARTON_LOGAN,
    next_min_c: float | None = None,
    lags: Lags = DENVER_AIR_150_CM,
) -> Floats:
    """Air at each hour 0 to 23 of each day, from the days' extremes.

    The hours before a day's minimum belong to the night that the day before began. The first day's small hours come
    from a day before like it; the last night ends at `next_min_c`, or at the last day's own minimum.

    Parameters
    ----------
    min_c, max_c
        Extremes of consecutive days [°C], shape (days,). NaN is a missing day and spreads to the hours it shapes.
    sunrise_h, sunset_h
        Hours after each day's midnight [h], shape (days,) or one number.
    curve
        Which curve.
    next_min_c
        Minimum of the morning after the last day [°C]; None where unknown.
    lags
        Parton & Logan's numbers; the other curves do not use them.

    Returns
    -------
    Floats
        Air [°C], shape (days, 24).

    Raises
    ------
    ValueError
        Shapes that differ, a minimum above its maximum, or a sun that makes no day and night.
    """
    low, high = np.asarray(min_c, float), np.asarray(max_c, float)
    if low.ndim != 1 or low.shape != high.shape or not low.size:
        raise ValueError(f"min_c and max_c must be days of one length, got shapes {low.shape} and {high.shape}")
    if (low > high).any():
        at = int(np.argmax(low > high))
        raise ValueError(f"min_c {low[at]:g} °C of day {at} lies above max_c {high[at]:g} °C")
    rise, down = np.broadcast_to(sunrise_h, low.shape), np.broadcast_to(sunset_h, low.shape)
    after = np.append(low[1:], low[-1] if next_min_c is None else next_min_c)
    hour = np.arange(24.0)
    own = hour >= (rise + (lags.minimum_h if curve is Curve.PARTON_LOGAN else 0.0))[:, None]
    return np.where(
        own,
        _course(curve, hour, DayShape(**_columns(low, high, after, rise, down)), lags),
        _course(curve, hour + 24.0, DayShape(**_day_before(low, high, rise, down)), lags),
    )


def _columns(low: Floats, high: Floats, after: Floats, rise: Floats, down: Floats) -> dict[str, Floats]:
    """The days as columns, so that they broadcast against a row of hours."""
    names = ("min_c", "max_c", "next_min_c", "sunrise_h", "sunset_h")
    return {name: values[:, None] for name, values in zip(names, (low, high, after, rise, down), strict=True)}


def _day_before(low: Floats, high: Floats, rise: Floats, down: Floats) -> dict[str, Floats]:
    """For each day the one before it, whose night ends at this day's minimum."""
    before = np.maximum(np.arange(low.size) - 1, 0)
    return _columns(low[before], high[before], low, rise[before], down[before])


def _course(curve: Curve, hour: Floats, day: DayShape, lags: Lags) -> Floats:
    match curve:
        case Curve.PARTON_LOGAN:
            return parton_logan_normalised(hour, day, lags)
        case Curve.LINVILL:
            return linvill(hour, day)
        case Curve.SQUARE_ROOT_NIGHT:
            return square_root_night(hour, day)


def _on_from(hour: npt.ArrayLike, coldest_h: Floats) -> Floats:
    """Hours on the line from this day's minimum to the next: what comes earlier belongs to the night after."""
    asked = np.asarray(hour, float)
    return np.where(asked < coldest_h, asked + 24.0, asked)
