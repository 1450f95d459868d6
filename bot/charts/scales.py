"""Scales of temperatures, days and hours, and places that keep their distance."""

import math
from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from bot.charts.theme import Paint
from bot.wording.formats import MINUS, Style
from rules.garden.units import f_from_c

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def in_scale(style: Style, celsius: npt.ArrayLike) -> Any:
    """Temperatures in the grower's scale."""
    values = np.asarray(celsius, dtype=np.float64)
    return values * 1.8 + f_from_c(0.0) if style.fahrenheit else values


def degree_axis(axes: "Axes", style: Style, paint: Paint, low_c: float, high_c: float) -> None:
    """A scale of temperatures with few, round marks, a true minus sign, and the unit at the topmost."""
    low, high = float(in_scale(style, low_c)), float(in_scale(style, high_c))
    axes.set_ylim(low, high)
    step = next(step for step in (1, 2, 5, 10, 20, 50, 100) if (high - low) / step <= 7)
    marks = np.arange(math.ceil(low / step) * step, high + 1e-9, step)
    unit = "°F" if style.fahrenheit else "°C"
    labels = [f"{mark:.0f}".replace("-", MINUS) for mark in marks]
    labels[-1:] = [f"{labels[-1]} {unit}"] if labels else []
    axes.set_yticks(marks, labels)
    axes.grid(axis="y", color=paint.rule, linewidth=0.8)
    freezing = float(in_scale(style, 0.0))
    if low < freezing < high:
        axes.axhline(freezing, color=paint.faint, linewidth=1.2, zorder=1)


LAST_LABEL = 0.93  # of the scale: a date further right would be cut by the edge


def day_axis(axes: "Axes", paint: Paint, first: date, days: int, style: Style) -> None:
    """A scale of days from `first`, marked on the first of months, on Mondays where there are few days."""
    all_days = [first + timedelta(days=day) for day in range(days + 1)]
    marks = [day for day in all_days if (day.day == 1 if days > 45 else day.weekday() == 0 and days > 6)] or [first]
    marks = [day for day in marks[:: -(-len(marks) // 6)] if (day - first).days <= LAST_LABEL * days] or [first]
    axes.set_xlim(0, max(1, days))
    axes.set_xticks([(day - first).days for day in marks], [style.short_date(day) for day in marks])
    axes.grid(axis="x", color=paint.rule, linewidth=0.8)


def midnight(day: date, style: Style) -> datetime:
    """The local midnight with which a day begins."""
    return datetime(day.year, day.month, day.day, tzinfo=style.zone)


def hours_between(start: datetime, moment: datetime) -> float:
    """Hours from one aware moment to another, by the sun and not by the clock."""
    return (moment.timestamp() - start.timestamp()) / 3600


def spread(wanted: Sequence[float], apart: float, first: float, last: float) -> list[float]:
    """Places as near to the wanted ones as can be, in their order, at least `apart` and not beyond the ends.

    >>> spread([0.0, 1.0, 50.0], 10.0, 0.0, 55.0)
    [0.0, 10.0, 50.0]
    """
    places = list(wanted)
    apart = min(apart, (last - first) / max(1, len(places) - 1))
    for i, place in enumerate(places):
        places[i] = max(place, first if i == 0 else places[i - 1] + apart)
    for i in reversed(range(len(places))):
        places[i] = min(places[i], last if i == len(places) - 1 else places[i + 1] - apart)
    return places
