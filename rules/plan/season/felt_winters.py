"""Past winters as one tree would feel them under its cover in each state, with the forecasts that told of them."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.cover import Cover
from rules.garden.species import SpeciesRow
from rules.garden.tree import Site
from rules.plan.season.daily_heat import ReducedHeat, daily_features, reduced_heat
from rules.plan.season.forecast_errors import LEADS, forecast_errors_c, sigma_by_lead_c
from rules.weather.climatology import shrinkage, usual_minima
from rules.weather.daily_minima import DailyMinima
from rules.wood.course import winters_course
from rules.wood.kinetics.hardening import HardeningCourse
from rules.wood.kinetics.leaves import AutumnDays, leaf_share
from rules.wood.kinetics.season_days import days_filled
from rules.wood.season import day_length_h, hardening_share, season_place
from rules.wood.usual_wood import LEAST_WINTERS, past_seasons

Floats = npt.NDArray[np.float64]

CALIBRATION_WINTERS: Final = 1  # what a cover's heat is fitted to; more change it by less than its own error
CALIBRATION_SHIFT_C: Final = 10.0  # each once as it is and once so much milder: one fit serves every climate
USUAL_SWING_C: Final = 10.0  # of a day whose maximum nobody kept; assumed
# How far ahead the ways of tending look: tonight and tomorrow, four nights, all; and to the next day somebody can work.
TOLD_NIGHTS: Final = range(1, LEADS + 1)
MOST_LEANT: Final = 0.9  # of a forecast's error, where nights hardly differ from year to year
SAME_DRAW: Final = 9  # seed of the forecast errors: the same advice from the same winters


@dataclass(frozen=True, kw_only=True, eq=False)
class Seasons:
    """Daily extremes of whole seasons in the open [°C], shape (winters, days), day 0 the season's first.

    `first` is the first day of any one of them, which sets the sun.
    """

    first: date
    min_c: Floats
    max_c: Floats

    @property
    def day_of_year(self) -> Floats:
        """Day of the year of each day, shape (days,)."""
        start = self.first.timetuple().tm_yday
        return np.asarray((start - 1.0 + np.arange(self.min_c.shape[1], dtype=np.float64)) % 365.25 + 1.0)


@dataclass(frozen=True, kw_only=True, eq=False)
class FeltWinters:
    """What the evenings of some seasons bring, arrays (winters, days, states) [°C], states bare, vented, closed.

    Parameters
    ----------
    dose_c, tip_c, mean_c, hottest_c
        From one evening to the next: what hurts the middle and the tip of the stem, its mean, the hottest air.
    told_c
        By how many nights: the least `dose_c` of so many nights from each evening on, as its forecast tells it.
    ready, length
        Readiness to wake, shape (winters, days), and share of hardening by the days' length, shape (days,).
    bare
        The course of a bare tree's wood, arrays (days, winters, 1), and of its `leaves`, shape (days, winters).
    """

    dose_c: Floats
    tip_c: Floats
    mean_c: Floats
    hottest_c: Floats
    told_c: Mapping[int, Floats]
    ready: Floats
    length: Floats
    bare: HardeningCourse
    leaves: Floats

    @property
    def days(self) -> int:
        """Evenings of a season."""
        return int(self.dose_c.shape[1])


def seasons_of(past: DailyMinima | None, site: Site) -> Seasons | None:
    """The whole seasons of a record, the last dozen; None where fewer than five are known."""
    if past is None:
        return None
    whole = past if past.max_c is not None else _with_maxima(past)
    low_c, high_c = (days_filled(one) for one in past_seasons(whole, site))
    if low_c.shape[1] < LEAST_WINTERS:
        return None
    return Seasons(first=season_place(past.last, site.latitude_deg).start, min_c=low_c.T, max_c=high_c.T)


def _with_maxima(past: DailyMinima) -> DailyMinima:
    return DailyMinima(first=past.first, min_c=past.min_c, max_c=np.minimum(past.min_c + USUAL_SWING_C, 58.0))


@lru_cache(maxsize=256)
def heat_of(cover: Cover, site: Site, seasons: Seasons) -> ReducedHeat:
    """A cover's daily heat, fitted once; its name does not matter."""
    few = np.linspace(0, len(seasons.min_c) - 1, CALIBRATION_WINTERS).round().astype(int)
    lows, highs = (np.concatenate([one[few], one[few] + CALIBRATION_SHIFT_C]) for one in (seasons.min_c, seasons.max_c))
    return reduced_heat(cover.model_copy(update={"name": "any"}), site, seasons.first, lows, highs)


def felt_winters(row: SpeciesRow, site: Site, seasons: Seasons, heat: ReducedHeat, offset_c: float) -> FeltWinters:
    """The seasons as a tree of this kind would feel them where nights are `offset_c` warmer than the open's."""
    low_c = np.minimum(seasons.min_c + offset_c, seasons.max_c)
    features, _ = daily_features(low_c, seasons.max_c, seasons.day_of_year)
    felt = heat.of(features)
    days = felt.shape[1]
    air = AutumnDays(mean_c=(low_c + seasons.max_c).T / 2, night_c=low_c.T)
    bare = winters_course([row], site, seasons.first, air.mean_c, low_c.T, seasons.max_c.T)
    damping = heat.weights[3:, :, 0].sum(axis=0)
    return FeltWinters(
        dose_c=felt[..., 0], tip_c=felt[..., 1], mean_c=felt[..., 2], hottest_c=felt[..., 3],
        told_c=_told(felt[..., 0], told_errors_c(seasons.min_c), damping),
        ready=np.broadcast_to(bare.readiness[..., 0], air.mean_c.shape).T[:, :days],
        length=hardening_share(day_length_h(seasons.first, days, site.latitude_deg)),
        bare=bare, leaves=np.ones(air.mean_c.shape) if row.kinetics.evergreen else leaf_share(air),
    )  # fmt: skip


def told_errors_c(min_c: Floats) -> Floats:
    """Errors of the best estimate of each night made each evening, shape (winters, days - 1, LEADS) [°C].

    A forecast as wrong as published ones, the next day's not too bold; what grows with the lead is leant to the usual,
    as `read_by_the_past` does it, by its share of the whole variance.
    """
    winters, nights = len(min_c), min_c.shape[1] - 1
    usual_c, sd_c = usual_minima(min_c)
    sigma = sigma_by_lead_c()
    sd_c = max(sd_c, float(sigma[0]) / np.sqrt(MOST_LEANT))
    own = float(sigma[0] / sd_c) ** 2
    leans = shrinkage(np.sqrt(sigma**2 - sigma[0] ** 2), sd_c * np.sqrt(1.0 - own))
    off_c = np.pad((min_c - usual_c)[:, 1:], ((0, 0), (0, LEADS)), mode="edge")

    def next_day(noise: Floats) -> Floats:
        return np.asarray(np.sqrt(1.0 - own) * noise - own * off_c)

    drawn = forecast_errors_c(winters, nights, np.random.default_rng(SAME_DRAW), next_day)
    ahead = np.lib.stride_tricks.sliding_window_view(off_c, LEADS, axis=1)[:, :nights]
    return np.asarray((1.0 - leans) * drawn - leans * ahead)


def _told(dose_c: Floats, errors_c: Floats, damping: Floats) -> dict[int, Floats]:
    padded = np.pad(dose_c, ((0, 0), (0, LEADS), (0, 0)), mode="edge")
    least, found = np.full(dose_c.shape, np.inf), {}
    for lead in range(LEADS):
        told = padded[:, lead : lead + dose_c.shape[1]] + errors_c[..., lead, None] * damping
        least = np.minimum(least, told)
        if lead + 1 in TOLD_NIGHTS:
            found[lead + 1] = least.copy()
    return found
