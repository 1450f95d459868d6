"""The undisturbed soil beside the covers: the wave of the year, and a column driven by the weather of the last days."""

import math
from collections.abc import Iterator, Sequence
from datetime import datetime
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.compiled.library import LIBRARY, call
from rules.garden.doubt import Doubt, DoubtKind
from rules.garden.tree import COLDEST_DAY, SiteSoil
from rules.garden.units import ABSOLUTE_ZERO_C, STEFAN_BOLTZMANN_W_M2_K4
from rules.weather.daily_minima import DailyMinima

Array = npt.NDArray[np.float64]

DAY_S: Final = 86400.0
YEAR_DAYS: Final = 365.25
YEAR_S: Final = YEAR_DAYS * DAY_S
CELLS: Final = 30
GROWTH: Final = 1.18
COLUMN_M: Final = 1.0
STEPS_PER_HOUR: Final = 2
STEPS_AT_ONCE: Final = 48 * STEPS_PER_HOUR  # no source
SURFACE_EMISSIVITY: Final = 0.95  # soil and grass, assumed
SUN_ABSORBED: Final = 0.7  # assumed
MULCH_M2K_W: Final = 0.10  # short grass or mulch, assumed
# Mean of the soil over that of the air: Soil Taxonomy's rule for the middle latitudes, 1 °C (USDA, from memory).
WARMER_THAN_AIR_C: Final = 1.0
# Under snow it is more: 0.0305 °C a day of snow less 2.16, nine stations in Finland (Yli-Halla & Mokma 1998, abstract);
# a day whose mean is below 0 °C stands for a day of snow, assumed.
WARMER_A_SNOW_DAY_C: Final = 0.0305
SNOW_DAYS_LESS_C: Final = 2.16
OF_YEARS_SD_C: Final = 1.0  # about that rule, sand, shade, water, wind: 0.8 over the published soils of the tests
GUESSED_SD_C: Final = 4.0  # a guess from latitude and height: 4-8 °C too cold at eight of thirteen places (computed)
LEAST_KNOWN: Final = 0.9  # of the days of the years that tell; a season left out would pass for the climate. Assumed


def wave_c(soil: SiteSoil, depth_m: Array | float, day: Array | float) -> Array:
    """Temperature of the yearly wave [°C] at depths [m] on a day of the year (Carslaw and Jaeger).

    >>> wave_c(SiteSoil(mean_c=12, amplitude_c=12), 1.0, 15).round(3).item()
    5.741
    """
    omega = 2 * math.pi / YEAR_S
    damping_m = damping_depth_m(soil.conductivity_w_mk / soil.heat_capacity_j_m3k, YEAR_S)
    depth = np.asarray(depth_m, dtype=float)
    phase = omega * DAY_S * (np.asarray(day) - soil.coldest_day) - depth / damping_m
    return np.asarray(soil.mean_c - soil.amplitude_c * np.exp(-depth / damping_m) * np.cos(phase))


def damping_depth_m(diffusivity_m2_s: float, period_s: float) -> float:
    """Depth at which a temperature wave has fallen to 1/e [m]: sqrt(2 α/ω) (Hillel).

    >>> round(damping_depth_m(5e-7, 86400.0), 3)
    0.117
    """
    return math.sqrt(diffusivity_m2_s * period_s / math.pi)


def site_soil(latitude_deg: float, elevation_m: float, years: DailyMinima | None = None) -> SiteSoil:
    """The soil of a place: from its past years where they are known, else a guess from where it lies.

    Raises
    ------
    ValueError
        A latitude that is none.
    """
    if not -90 <= latitude_deg <= 90:
        raise ValueError(f"latitude_deg is {latitude_deg:g}, it must be -90 to 90")
    return _of_years(years) or _guessed(latitude_deg, elevation_m)


@lru_cache(maxsize=8)  # each tree of each round asks for the same thirty years
def _of_years(years: DailyMinima | None) -> SiteSoil | None:
    """The wave of the year in the daily means of whole years, warmed; None where not one whole year is known."""
    means = None if years is None else years.mean_c
    whole = 0 if means is None else int(len(means) / YEAR_DAYS)
    if years is None or means is None or not whole:
        return None
    last = means[len(means) - round(whole * YEAR_DAYS) :]
    known = ~np.isnan(last)
    if known.mean() < LEAST_KNOWN:
        return None
    begins = years.last.timetuple().tm_yday + 0.5 - (len(last) - 1)  # a day's mean is of its noon
    turn = 2 * math.pi / YEAR_DAYS * (begins + np.flatnonzero(known))
    wave = np.stack([np.ones(len(turn)), np.cos(turn), np.sin(turn)], axis=1)
    mean_c, cosine, sine = np.linalg.lstsq(wave, last[known], rcond=None)[0]
    return SiteSoil(
        mean_c=float(mean_c) + _warmer_c(float((last[known] < 0).mean()) * YEAR_DAYS),
        amplitude_c=math.hypot(cosine, sine),
        coldest_day=math.atan2(-sine, -cosine) * YEAR_DAYS / (2 * math.pi) % YEAR_DAYS,
        mean_sd_c=OF_YEARS_SD_C,
    )


def _warmer_c(frost_days: float) -> float:
    """How much warmer the soil is than the air over the year [°C]."""
    return max(WARMER_THAN_AIR_C, WARMER_A_SNOW_DAY_C * frost_days - SNOW_DAYS_LESS_C)


def _guessed(latitude_deg: float, elevation_m: float) -> SiteSoil:
    """Rounded through lowland climate normals between 30 and 60 degrees from memory, 6 °C colder per kilometre.

    A southern year has its coldest day in July.
    """
    from_equator = abs(latitude_deg)
    return SiteSoil(
        mean_c=min(27.0, 32.2 - 0.5 * from_equator) - 0.006 * elevation_m,
        amplitude_c=min(16.0, 0.3 * from_equator),
        coldest_day=COLDEST_DAY if latitude_deg >= 0 else COLDEST_DAY + 182,
        mean_sd_c=GUESSED_SD_C,
    )


def soil_doubt(soil: SiteSoil) -> tuple[Doubt, ...]:
    """That the ground's warmth is a guess, where it is one."""
    guessed = soil.mean_sd_c >= GUESSED_SD_C
    return (Doubt(kind=DoubtKind.SOIL_GUESSED, amount=soil.mean_sd_c),) if guessed else ()


def day_of_year(moment: datetime) -> float:
    """Day of the year with its fraction, 1 January 00:00 = 1."""
    return moment.timetuple().tm_yday + (moment.hour + moment.minute / 60) / 24


def cell_centres_m() -> Array:
    """Depths of the column's cells [m]: 30, each 1.18 times as thick as the one above, 1 m in all."""
    thick = _thickness_m()
    return np.asarray(np.cumsum(thick) - thick / 2)


def _thickness_m() -> Array:
    steps = GROWTH ** np.arange(CELLS)
    return np.asarray(COLUMN_M * steps / steps.sum())


def soil_profiles_c(
    soil: SiteSoil,
    start_utc: datetime | Sequence[datetime],
    air_c: Array,
    wind_m_s: Array,
    sky_emissivity: Array,
    sun_w_m2: Array,
    start_c: Array | None = None,
    snow_m2k_w: Array | float = 0.0,
) -> Array:
    """Temperature of the undisturbed soil [°C] at the column's cell centres, hour by hour.

    Implicit Euler in half hours; the bottom is held at the yearly wave. Surface: convection 4 + 4 v, long wave to the
    sky, sun, and a layer of short grass or mulch.

    Parameters
    ----------
    start_utc
        The first mark, one for all members or one each.
    air_c, wind_m_s, sky_emissivity, sun_w_m2
        Weather over open ground on hour marks, shape (members, hours); `sun_w_m2` on the horizontal.
    start_c
        Profile at the first mark, shape (members, 30); None starts from the yearly wave.
    snow_m2k_w
        Resistance of the snow that lies on it [m²K/W], one number or shape (members,).

    Returns
    -------
    Shape (hours, members, 30).
    """
    given = soil, start_utc, air_c, wind_m_s, sky_emissivity, sun_w_m2, start_c, snow_m2k_w
    return np.concatenate(list(soil_parts_c(*given)))


def soil_parts_c(
    soil: SiteSoil,
    start_utc: datetime | Sequence[datetime],
    air_c: Array,
    wind_m_s: Array,
    sky_emissivity: Array,
    sun_w_m2: Array,
    start_c: Array | None,
    snow_m2k_w: Array | float,
) -> Iterator[Array]:
    """The same some hours at a time, the first mark alone: of many members the whole takes more than all else."""
    starts = [start_utc] if isinstance(start_utc, datetime) else start_utc
    day = np.array([[day_of_year(one)] for one in starts])
    step_s = 3600.0 / STEPS_PER_HOUR
    links, thick = _column_links(soil), _thickness_m()
    stores = soil.heat_capacity_j_m3k * thick / step_s
    over_m2k_w = np.reshape(snow_m2k_w, (-1, 1)) + thick[0] / (2 * soil.conductivity_w_mk)
    driving, surface = _surface(air_c, wind_m_s, sky_emissivity, sun_w_m2, over_m2k_w)
    marks = np.arange(1, driving.shape[-1] + 1) / STEPS_PER_HOUR
    bottom = wave_c(soil, COLUMN_M, day + marks / 24) * links[-1]
    bottom = np.broadcast_to(bottom, driving.shape)
    first = wave_c(soil, cell_centres_m(), day) if start_c is None else start_c
    column = np.array(np.broadcast_to(first, (len(driving), CELLS)))
    yield column[None]
    for begin in range(0, driving.shape[-1], STEPS_AT_ONCE):
        each = [rows[:, begin : begin + STEPS_AT_ONCE] for rows in (driving, surface, bottom)]
        kept = np.empty((each[0].shape[-1] // STEPS_PER_HOUR + 1, *column.shape))
        kept[0] = column
        if LIBRARY:
            counts = [*each[0].shape, CELLS, STEPS_PER_HOUR]
            call(LIBRARY.soil, counts, [stores, links, *each, column, kept])
        else:
            _column(kept, stores, links, *each)
        column = kept[-1]
        yield kept[1:]


def _column(kept: Array, stores: Array, links: Array, driving: Array, surface: Array, bottom: Array) -> None:
    """Fill the column hour by hour from its first, where nothing was built.

    The matrix changes in its first entry only, with the wind: Sherman and Morrison spare a solve per step.
    """
    still = np.linalg.inv(np.diag(stores) + _laplacian(links))
    gains = (surface / (1 + surface * still[0, 0])).T[:, :, None]
    pulls = gains * driving.T[:, :, None]
    carry, entry, rows = stores[:, None] * still, still[0], kept[0]
    for step, (gain, pull, heat) in enumerate(zip(gains, pulls, bottom.T[:, :, None], strict=True), start=1):
        loose = rows @ carry + heat * still[-1]  # here, as for all steps at once it is the most of a round
        rows = loose + (pull - gain * loose[:, :1]) * entry
        if step % STEPS_PER_HOUR == 0:
            kept[step // STEPS_PER_HOUR] = rows


def at_depths(profiles_c: Array, depths_m: Array) -> Array:
    """Profiles read at other depths, linear between the cells and constant beyond; last axis becomes depths."""
    centres = cell_centres_m()
    right = np.clip(np.searchsorted(centres, depths_m), 1, CELLS - 1)
    share = np.clip((depths_m - centres[right - 1]) / (centres[right] - centres[right - 1]), 0, 1)
    return np.asarray(profiles_c[..., right - 1] * (1 - share) + profiles_c[..., right] * share)


def _column_links(soil: SiteSoil) -> Array:
    """Conductances per area between the cells and to the bottom edge [W/m²K]."""
    thick = _thickness_m()
    inner = soil.conductivity_w_mk / ((thick[:-1] + thick[1:]) / 2)
    return np.append(inner, soil.conductivity_w_mk / (thick[-1] / 2))


def _laplacian(links: Array) -> Array:
    matrix = np.diag(np.append(0.0, links[:-1]) + links)
    upper = np.arange(CELLS - 1)
    matrix[upper, upper + 1] = matrix[upper + 1, upper] = -links[:-1]
    return matrix


def _surface(air_c: Array, wind: Array, sky: Array, sun: Array, over_m2k_w: Array) -> tuple[Array, Array]:
    """Driving temperature [°C] and conductance to the first cell [W/m²K] at the end of each step."""
    offsets = np.arange(1, STEPS_PER_HOUR + 1) / STEPS_PER_HOUR

    def between(values: Array) -> Array:
        early, late = values[:, :-1, None], values[:, 1:, None]
        return np.asarray((early + (late - early) * offsets).reshape(len(values), -1))

    air, kelvin = between(air_c), between(air_c) - ABSOLUTE_ZERO_C
    film = 4 + 4 * between(wind) + SURFACE_EMISSIVITY * 4 * STEFAN_BOLTZMANN_W_M2_K4 * kelvin**3
    loss = SURFACE_EMISSIVITY * (1 - between(sky)) * STEFAN_BOLTZMANN_W_M2_K4 * kelvin**4
    driving = air + (SUN_ABSORBED * between(sun) - loss) / film
    return driving, 1 / (1 / film + MULCH_M2K_W + over_m2k_w)
