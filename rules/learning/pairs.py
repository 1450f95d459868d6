"""Readings at a tree, each matched to its hour or its night in the open field."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from enum import StrEnum
from functools import cached_property
from typing import Final, NamedTuple
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from rules.garden.records import Place, Reading
from rules.garden.tree import Site
from rules.site.microclimate import STILL_LIMIT_M_S, dark_share, radiation_factor
from rules.weather.hourly import HourlyWeather, NightMinimum, evening_of, night_minima
from rules.weather.members import lead_sigma_c

Floats = npt.NDArray[np.float64]

THERMOMETER_SD_C: Final = 0.5  # household thermometer, half a degree of reading and half of calibration; assumed
FIELD_SD_C: Final = float(lead_sigma_c(0.0))  # the field's own hours are at best a service's newest run
UNKNOWN_SKY_SD_C: Final = 0.6  # what not knowing cloud or wind adds: 0.3 of a radiation term of 2 °C; assumed
HALF_CLOUD: Final = 0.5
A_NIGHT: Final = 3  # present readings of one night that are reckoned with; assumed: they share the night's error
MOST_COUNTED: Final = 160  # readings of one tree; more nights than one winter has clear ones, assumed
HOURLY: Final = 8  # hours from 22 to 8 o'clock with a reading, from which on their lowest is the night's low; assumed
BEFORE_MINIMUM_H: Final = 3  # the offset at the low of a night is taken over the hours that led to it; assumed


class Why(StrEnum):
    """Why a reading is kept but does not teach."""

    BY_DAY = "by day"  # only the night's offset is learned
    NO_WEATHER = "no weather"  # the field's air at that hour is not known
    SIGN_LOST = "sign lost"  # its negative fits
    FAHRENHEIT = "Fahrenheit"  # read as °F it fits
    SUN_STRUCK = "sun-struck"  # far too warm with the sun not long down, or already up
    BARE = "bare"  # told of the inside of a cover that by the deeds was not on
    FAR_OFF = "far off"  # far from what all the others say


@dataclass(frozen=True, kw_only=True)
class SetAside:
    """One reading that is kept but not believed, why, and what was expected there [°C] (None where nothing was)."""

    reading: Reading
    why: Why
    expected_c: float | None = None


@dataclass(frozen=True, kw_only=True)
class Pair:
    """One reading beside the open field at its hour.

    `evening` names the night; `field_c` [°C]; `factor` the clear and calm share and `night` the night share of the hour
    [0-1], so that the expected reading is `field_c` + `night` × (radiation_c × `factor` + mixed_c); `sd_c` is 1 sd
    [°C] of a single such difference: the thermometer's and the field's own error.
    """

    reading: Reading
    evening: date
    field_c: float
    factor: float
    night: float
    sd_c: float

    @property
    def difference_c(self) -> float:
        """Reading minus open field [°C]."""
        return self.reading.air_c - self.field_c


def lows_of(readings: Sequence[Reading], zone: ZoneInfo) -> tuple[Reading, ...]:
    """The lows of one tree's nights: as told, and of a night that a sensor told hour by hour the lowest of those."""
    told = {evening_of(one.at_utc, zone, is_minimum=True): one for one in readings if one.is_minimum}
    nights: dict[date, dict[int, Reading]] = {}
    for one in readings:
        hour = one.at_utc.astimezone(zone).hour
        if not one.is_minimum and (hour >= 22 or hour < 8):
            hours = nights.setdefault(evening_of(one.at_utc, zone), {})
            hours[hour] = min(hours.get(hour, one), one, key=lambda each: each.air_c)
    for evening, hours in nights.items():
        if evening not in told and len(hours) >= HOURLY:
            dawn = datetime.combine(evening + timedelta(days=1), time(8), zone)
            lowest = min(hours.values(), key=lambda one: one.air_c)
            told[evening] = replace(lowest, at_utc=dawn, is_minimum=True)
    return tuple(told[evening] for evening in sorted(told))


def counted(readings: Sequence[Reading], zone: ZoneInfo, most: int = MOST_COUNTED) -> tuple[Reading, ...]:
    """The readings of one tree's air that are worth reckoning with: a few of a night, of the latest nights.

    What a sensor tells every hour of one night is worth one night (see `learn_site`), so of a night the lows and three
    readings between 22 and 6 o'clock say it all; where there are none of those, three of the others.
    """
    nights: dict[date, list[Reading]] = {}
    for one in sorted(readings, key=lambda one: one.at_utc):
        nights.setdefault(evening_of(one.at_utc, zone, is_minimum=one.is_minimum), []).append(one)
    kept: list[Reading] = []
    for evening in sorted(nights, reverse=True):
        chosen = _of_night(nights[evening], zone)
        if len(kept) + len(chosen) > most:
            break
        kept += chosen
    return tuple(sorted(kept, key=lambda one: one.at_utc))


def _of_night(readings: Sequence[Reading], zone: ZoneInfo) -> list[Reading]:
    lows = [one for one in readings if one.is_minimum][-A_NIGHT:]
    present = [one for one in readings if not one.is_minimum]
    dark = [one for one in present if not 6 <= one.at_utc.astimezone(zone).hour < 22] or present
    if len(dark) > A_NIGHT:
        dark = [dark[i] for i in sorted(set(np.linspace(0, len(dark) - 1, A_NIGHT).round().astype(int).tolist()))]
    return [*lows, *dark]


class _Beside(NamedTuple):
    """A reading beside the field: its night, the field's air [°C], the hour marks it lies at, each with its weight."""

    reading: Reading
    evening: date
    field_c: float
    hours: slice
    weights: Floats


class Sky:
    """The field's air, darkness and clear and calm share, ready to be matched with the readings of any tree."""

    def __init__(self, past: HourlyWeather, site: Site, field_sd_c: float = FIELD_SD_C) -> None:
        self.past, self.site, self.zone = past, site, site.zone
        self.unknown = np.isnan(radiation_factor(past))
        half = replace(
            past,
            cloud_fraction=np.where(np.isnan(past.cloud_fraction), HALF_CLOUD, past.cloud_fraction),
            wind_m_s=np.where(np.isnan(past.wind_m_s), STILL_LIMIT_M_S / 2, past.wind_m_s),
        )
        self.factor = radiation_factor(half)
        self.sd_c = float(np.hypot(THERMOMETER_SD_C, field_sd_c))

    @cached_property
    def lows(self) -> dict[date, NightMinimum]:
        """The field's night minima by evening."""
        return {low.evening: low for low in night_minima(self.past, self.zone)}

    def pairs(self, readings: Sequence[Reading], tree: str) -> tuple[tuple[Pair, ...], tuple[SetAside, ...]]:
        """Readings of a tree's air beside the field, and those that cannot be matched.

        A present reading is matched to its moment, between two hour marks in proportion; a low to the lowest hour of
        its night, noon to noon, if that night is known whole. Where cloud or wind is unknown the sky is taken as half
        covered and half calm, and the pair counts for less. Readings of other trees and inside covers are passed over.
        """
        told = [self._match(one) for one in readings if one.tree == tree and one.place is Place.AIR]
        beside = [one for one in told if isinstance(one, _Beside)]
        marks = np.array(sorted({at for one in beside for at in range(self.past.hours)[one.hours]}), dtype=int)
        dark = np.zeros(self.past.hours)
        dark[marks] = dark_share(self.past.start_utc.timestamp() + 3600.0 * marks, self.site)
        found = [self._pair(one, dark) if isinstance(one, _Beside) else one for one in told]
        return (
            tuple(one for one in found if isinstance(one, Pair)),
            tuple(one for one in found if isinstance(one, SetAside)),
        )

    def _match(self, reading: Reading) -> _Beside | SetAside:
        """One reading beside the field, or why it cannot be."""
        return self._low(reading) if reading.is_minimum else self._present(reading)

    def _low(self, reading: Reading) -> _Beside | SetAside:
        low = self.lows.get(evening_of(reading.at_utc, self.zone, is_minimum=True))
        if low is None or not low.complete:
            return SetAside(reading=reading, why=Why.NO_WEATHER)
        stop = self.past.index_of(low.at_utc) + 1
        first = max(0, stop - BEFORE_MINIMUM_H)
        weights = np.full(stop - first, 1 / (stop - first))
        return _Beside(reading, low.evening, low.air_c, slice(first, stop), weights)

    def _present(self, reading: Reading) -> _Beside | SetAside:
        place = (reading.at_utc - self.past.start_utc) / timedelta(hours=1)
        before = int(np.floor(place))
        if not 0 <= place <= self.past.hours - 1:
            return SetAside(reading=reading, why=Why.NO_WEATHER)
        weights = np.array([1 - (place - before), place - before])[: 2 if place > before else 1]
        field_c = float(self.past.air_c[before : before + len(weights)] @ weights)
        if np.isnan(field_c):
            return SetAside(reading=reading, why=Why.NO_WEATHER)
        hours = slice(before, before + len(weights))
        return _Beside(reading, evening_of(reading.at_utc, self.zone), field_c, hours, weights)

    def _pair(self, one: _Beside, dark: Floats) -> Pair | SetAside:
        night = float(dark[one.hours] @ one.weights)
        if night <= 0:
            return SetAside(reading=one.reading, why=Why.BY_DAY)
        sky_sd_c = UNKNOWN_SKY_SD_C if self.unknown[one.hours].any() else 0.0
        return Pair(
            reading=one.reading,
            evening=one.evening,
            field_c=one.field_c,
            factor=float(self.factor[one.hours] @ one.weights),
            night=night,
            sd_c=float(np.hypot(self.sd_c, sky_sd_c)),
        )
