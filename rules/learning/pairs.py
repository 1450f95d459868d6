"""Readings at a tree, each matched to its hour or its night in the open field."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from rules.members import lead_sigma_c
from rules.microclimate import STILL_LIMIT_M_S, night_share, radiation_factor
from rules.records import Place, Reading
from rules.tree import Site
from rules.weather import HourlyWeather, NightMinimum, night_minima

Floats = npt.NDArray[np.float64]

THERMOMETER_SD_C: Final = 0.5  # household thermometer, half a degree of reading and half of calibration; assumed
FIELD_SD_C: Final = float(lead_sigma_c(0.0))  # the field's own hours are at best a service's newest run
UNKNOWN_SKY_SD_C: Final = 0.6  # what not knowing cloud or wind adds: 0.3 of a radiation term of 2 °C; assumed
HALF_CLOUD: Final = 0.5
BEFORE_MINIMUM_H: Final = 3  # the offset at the low of a night is taken over the hours that led to it; assumed


class Why(StrEnum):
    """Why a reading is kept but does not teach."""

    BY_DAY = "by day"  # only the night's offset is learned
    NO_WEATHER = "no weather"  # the field's air at that hour is not known
    SIGN_LOST = "sign lost"  # its negative fits
    FAHRENHEIT = "Fahrenheit"  # read as °F it fits
    SUN_STRUCK = "sun-struck"  # far too warm with the sun not long down, or already up
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


def pairs_of(
    readings: Sequence[Reading],
    tree: str,
    past: HourlyWeather,
    site: Site,
    *,
    field_sd_c: float = FIELD_SD_C,
) -> tuple[tuple[Pair, ...], tuple[SetAside, ...]]:
    """Readings of a tree's air beside the field, and those that cannot be matched.

    A present reading is matched to its moment, between two hour marks in proportion; a low to the lowest hour of its
    night, noon to noon, if that night is known whole. Where cloud or wind is unknown the sky is taken as half covered
    and half calm, and the pair counts for less.

    Parameters
    ----------
    readings
        Of any tree and place; those of other trees and inside covers are passed over.
    tree
        Its name.
    past
        The open field as it was told.
    site
        Where; for darkness and the local clock.
    field_sd_c
        One sd of the told field about the true one [°C]; a service's newest run by default.
    """
    sky = _Sky(past, site, field_sd_c)
    found = [sky.match(one) for one in readings if one.tree == tree and one.place is Place.AIR]
    return (
        tuple(one for one in found if isinstance(one, Pair)),
        tuple(one for one in found if isinstance(one, SetAside)),
    )


def evening_of(moment: datetime, zone: ZoneInfo, *, is_minimum: bool = False) -> date:
    """Evening of the night a reading belongs to.

    A low told by the clock of one day is the low of the night that ended that morning, however late it is told; the
    coming night's cannot be known yet.
    """
    local = moment.astimezone(zone).replace(tzinfo=None)
    return local.date() - timedelta(days=1) if is_minimum else (local - timedelta(hours=12)).date()


class _Sky:
    """The field's air, darkness and clear and calm share, ready to be matched."""

    def __init__(self, past: HourlyWeather, site: Site, field_sd_c: float) -> None:
        self.past, self.zone = past, site.zone
        self.unknown = np.isnan(radiation_factor(past))
        half = replace(
            past,
            cloud_fraction=np.where(np.isnan(past.cloud_fraction), HALF_CLOUD, past.cloud_fraction),
            wind_m_s=np.where(np.isnan(past.wind_m_s), STILL_LIMIT_M_S / 2, past.wind_m_s),
        )
        self.factor, self.dark = radiation_factor(half), night_share(past, site)
        self.lows = {low.evening: low for low in night_minima(past, self.zone)}
        self.sd_c = float(np.hypot(THERMOMETER_SD_C, field_sd_c))

    def match(self, reading: Reading) -> Pair | SetAside:
        return self._low(reading) if reading.is_minimum else self._present(reading)

    def _low(self, reading: Reading) -> Pair | SetAside:
        low = self.lows.get(evening_of(reading.at_utc, self.zone, is_minimum=True))
        if low is None or not low.complete:
            return SetAside(reading=reading, why=Why.NO_WEATHER)
        return self._pair(reading, low.evening, low.air_c, self._led_to(low))

    def _led_to(self, low: NightMinimum) -> Floats:
        at = self.past.index_of(low.at_utc)
        weights = np.zeros(self.past.hours)
        weights[max(0, at + 1 - BEFORE_MINIMUM_H) : at + 1] = 1.0
        return np.asarray(weights / weights.sum())

    def _present(self, reading: Reading) -> Pair | SetAside:
        place = (reading.at_utc - self.past.start_utc) / timedelta(hours=1)
        before = int(np.floor(place))
        if not 0 <= place <= self.past.hours - 1:
            return SetAside(reading=reading, why=Why.NO_WEATHER)
        weights = np.zeros(self.past.hours)
        weights[before] = 1 - (place - before)
        if place > before:
            weights[before + 1] = place - before
        field_c = float((self.past.air_c[weights > 0] * weights[weights > 0]).sum())
        if np.isnan(field_c):
            return SetAside(reading=reading, why=Why.NO_WEATHER)
        return self._pair(reading, evening_of(reading.at_utc, self.zone), field_c, weights)

    def _pair(self, reading: Reading, evening: date, field_c: float, weights: Floats) -> Pair | SetAside:
        dark = float(self.dark @ weights)
        if dark <= 0:
            return SetAside(reading=reading, why=Why.BY_DAY)
        sky_sd_c = UNKNOWN_SKY_SD_C if self.unknown[weights > 0].any() else 0.0
        return Pair(
            reading=reading,
            evening=evening,
            field_c=field_c,
            factor=float(self.factor @ weights),
            night=dark,
            sd_c=float(np.hypot(self.sd_c, sky_sd_c)),
        )
