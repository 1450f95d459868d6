"""Gaps in hourly weather: closed where a straight line is honest, left open and said where it is not."""

from dataclasses import replace
from datetime import timedelta
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.doubt import Doubt, DoubtKind
from rules.weather.hourly import HourlyWeather, Hours

SHORT_GAP_STEP_H: Final = 4  # three hours missing between two known ones; assumed, no source
COARSE_STEP_H: Final = 6  # step of the services' far days; a straight line over more would skip a whole night


def filled(weather: HourlyWeather) -> tuple[HourlyWeather, tuple[Doubt, ...]]:
    """Weather with gaps between known hours closed by straight lines, and what that leaves in doubt.

    Up to three hours missing in a row are a gap, four or five a coarse step: both are filled. Longer gaps and both
    ends stay NaN. Gusts, sun, rain and snow are left alone: no line leads from one gust, or one hour's sun, to another.

    Returns
    -------
    HourlyWeather
        The same marks.
    tuple of Doubt
        MISSING_HOURS counts the hours of air in gaps, filled or left open, and names
        the first and last; COARSE_STEPS the longest step [h] that was
        filled, whose night minimum may have fallen between its ends. Other fields are counted where they are used.
    """
    whole = replace(
        weather,
        air_c=_line_through(weather.air_c),
        dew_point_c=_line_through(weather.dew_point_c),
        wind_m_s=_line_through(weather.wind_m_s),
        cloud_fraction=_line_through(weather.cloud_fraction),
    )
    steps = _steps_h(weather.air_c)
    coarse = steps[(steps > SHORT_GAP_STEP_H) & (steps <= COARSE_STEP_H)]
    missing = int(np.isnan(weather.air_c).sum()) - int((coarse - 1).sum())
    doubts = []
    if missing:
        first, last = (
            weather.start_utc + timedelta(hours=int(at)) for at in np.flatnonzero(np.isnan(weather.air_c))[[0, -1]]
        )
        doubts.append(
            Doubt(kind=DoubtKind.MISSING_HOURS, subject="air_c", amount=float(missing), first_utc=first, last_utc=last)
        )
    if len(coarse):
        doubts.append(Doubt(kind=DoubtKind.COARSE_STEPS, subject="air_c", amount=float(coarse.max())))
    return whole, tuple(doubts)


def _steps_h(values: Hours) -> npt.NDArray[np.int_]:
    """Hours from each known mark to the next known one."""
    return np.diff(np.flatnonzero(~np.isnan(values)))


def _line_through(values: Hours) -> Hours:
    known = np.flatnonzero(~np.isnan(values))
    if len(known) < 2:
        return values
    marks = np.arange(len(values))
    line = np.interp(marks, known, values[known], left=np.nan, right=np.nan)
    step = np.diff(known)[np.clip(np.searchsorted(known, marks, side="right") - 1, 0, len(known) - 2)]
    return np.where(np.isnan(values) & (step > COARSE_STEP_H), np.nan, line)
