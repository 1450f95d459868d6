"""How far a service's night minima are off at this garden, by lead, season and what it tells.

In a basin under an inversion a model's cell hardly knows the cold at its floor: what it tells must be stretched or
shrunk by season, not only moved. Beside a bias, which grows with lead, a slope and both by season are learned.
"""

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from rules.garden.records import Place, Reading
from rules.garden.tree import Site
from rules.learning.pairs import Pair, Sky, lows_of
from rules.learning.robust_line import robust_update
from rules.learning.site_offset import LearnedOffset, shared_weights
from rules.weather.hourly import Forecast, HourlyWeather, night_minima
from rules.weather.members import LEAST_SIGMA_C, PUBLISHED, WINTER_SD_C, ForecastError, lead_sigma_c

Floats = npt.NDArray[np.float64]

# Bias of a forecast minimum before anything is known: 0 ± 1.5 °C. NWS at ten US valleys -0.35 (computed), one of them
# -1.9; ECMWF at night "about 1-2 °C too warm" (its user guide). A raw model cell in the mountains can be off by 9.
BIAS_SD_C: Final = 1.5
DRIFT_SD_C_D: Final = 0.15  # per day of lead: errors "often don't depend strongly on the forecast range" (the guide)
SEASON_SD_C: Final = 1.0  # of the bias between seasons; assumed
SLOPE_SD: Final = (
    0.25  # of the error per degree told: 0.66 in winter in a basin, 0 on a plain (anchors of ours, computed)
)
STATION_SD: Final = 0.22  # of ln of RMSE over sigma(lead), at 24 h: ten US valleys 1.51 to 3.07 °C (computed)
PRIOR_NIGHTS: Final = 1 / (
    2 * STATION_SD**2
)  # that a published sigma is worth: the spread of ln of an sd from n is 1/√2n
LEAD_STEP_H: Final = 12  # of forecasts for one night within this, one counts
SOON_H: Final = 36.0  # so far ahead a miss is one that a grower would remember
YEAR_DAYS: Final = 365.25
ROUNDS: Final = 4  # of the noise and the coefficients in turn; a fourth moves the noise by less than a hundredth
COLUMNS: Final = 7  # bias, lead, season (two), slope, slope by season (two)


@dataclass(frozen=True, kw_only=True)
class ForecastMiss:
    """One forecast of one night's minimum against what came: `error_c` is forecast minus observed [°C].

    `told_c` is the minimum it told [°C]; NaN where that was not kept, which then says nothing of a slope.
    """

    evening: date
    lead_h: float
    error_c: float
    told_c: float = float("nan")


@dataclass(frozen=True, kw_only=True)
class ToldLow:
    """What one forecast told of one night: how long before its low [h], and the low [°C]."""

    evening: date
    lead_h: float
    told_c: float


@dataclass(frozen=True, kw_only=True, eq=False)
class LearnedForecast:
    """Bias and sigma of a service at this garden.

    `nights` and `misses` say from how much, `wild` how many misses were not believed. `mean` and `covariance` are of
    the seven coefficients of the error, about the middle of what was seen: `centre` is the mean of the year's cosine
    and sine and of the minima told. `scale` is the factor on the published sigma(lead). `miss_c` is how far its own
    word was off on the mean up to a day and a half ahead [°C], whichever way; NaN where nothing was told.
    """

    nights: int
    misses: int
    wild: int
    mean: Floats
    covariance: Floats
    centre: tuple[float, float, float]
    scale: float
    miss_c: float = float("nan")

    @property
    def error(self) -> ForecastError:
        """How far forecasts are still off after what was learned is taken off; as published where nothing was."""
        if not self.nights:
            return PUBLISHED
        drift_sd_c_d = float(np.sqrt(self.covariance[1, 1]))
        return ForecastError(drift_c_d=self.drift_c_d, drift_sd_c_d=drift_sd_c_d, scale=self.scale, nights=self.nights)

    @property
    def drift_c_d(self) -> float:
        """How much warmer than what comes it tells a night for each day of lead [°C]."""
        return float(self.mean[1])

    def bias_c(self, lead_h: float) -> float:
        """Mean of forecast minus observed [°C] at this lead, in the middle of what was seen."""
        return float(self.mean[0] + self.mean[1] * lead_h / 24)

    def bias_sd_c(self, lead_h: float) -> float:
        """One sd of that bias [°C]."""
        at = np.array([1.0, lead_h / 24])
        return float(np.sqrt(at @ self.covariance[:2, :2] @ at))

    def sigma_c(self, lead_h: npt.ArrayLike, *, winter_sd_c: float = WINTER_SD_C) -> Floats:
        """One sd of a forecast minimum about its bias [°C] at these leads, in place of `lead_sigma_c`."""
        sigma: Floats = np.clip(self.scale * lead_sigma_c(lead_h), LEAST_SIGMA_C, winter_sd_c)
        return sigma

    def low_c(self, evening: date, lead_h: float, told_c: float) -> tuple[float, float]:
        """Best estimate of a night's minimum told at this lead, and one sd of it with what is not known of it [°C].

        Before any night it is what was told, and as unsure as published: the bias is then part of the trees' offsets.
        """
        if not self.nights:
            return told_c, float(self.sigma_c(lead_h))
        at = _columns([evening], np.array([lead_h]), np.array([told_c]), self.centre)[0]
        unknown_c2 = float(at @ self.covariance @ at)
        return told_c - float(at @ self.mean), math.sqrt(float(self.sigma_c(lead_h)) ** 2 + unknown_c2)


def _columns(evenings: Sequence[date], leads_h: Floats, told_c: Floats, centre: tuple[float, float, float]) -> Floats:
    """What the error is made of, a row each: one, days of lead, season, degrees told, degrees told by season."""
    turn = np.array([one.timetuple().tm_yday for one in evenings]) * 2 * math.pi / YEAR_DAYS
    cosine, sine = np.cos(turn), np.sin(turn)
    told = np.nan_to_num(told_c - centre[2])
    season = [cosine - centre[0], sine - centre[1]]
    return np.stack([np.ones(len(turn)), leads_h / 24, *season, told, told * cosine, told * sine], axis=1)


def learn_forecast(misses: Sequence[ForecastMiss]) -> LearnedForecast:
    """Bias, slope and sigma by lead and season from the misses of one service.

    The prior is the published sigma(lead), no bias and no slope. The misses of one night, at all leads, share one
    weight, and successive nights count as 0.65 of an independent one: a garden's first week moves little.
    """
    evenings = [one.evening for one in misses]
    leads_h, error_c, told_c = (
        np.array([getattr(one, name) for one in misses], dtype=np.float64) for name in ("lead_h", "error_c", "told_c")
    )
    centre = _centre(evenings, told_c)
    columns = _columns(evenings, leads_h, told_c, centre)
    weights, sigma_c = shared_weights(evenings), lead_sigma_c(leads_h)
    covariance = np.diag(_prior_sd(error_c) ** 2)
    mean, spread, wild, scale = np.zeros(COLUMNS), covariance, np.empty(0), 1.0
    for _ in range(ROUNDS if misses else 0):
        noise_c = scale * sigma_c / np.sqrt(weights)
        mean, spread, wild = robust_update(np.zeros(COLUMNS), covariance, columns, error_c, noise_c)
        unknown_c2 = np.einsum("ri,ij,rj->r", columns, spread, columns)  # what the fit took out of the errors by chance
        scale = _scale(((error_c - columns @ mean) ** 2 + unknown_c2) / sigma_c**2, weights * (1 - wild))
    return LearnedForecast(
        nights=len(set(evenings)),
        misses=len(misses),
        wild=int((wild > 0.5).sum()),
        mean=mean,
        covariance=spread,
        centre=centre,
        scale=scale,
        miss_c=float(np.abs(error_c[leads_h <= SOON_H]).mean()) if (leads_h <= SOON_H).any() else float("nan"),
    )


def _centre(evenings: Sequence[date], told_c: Floats) -> tuple[float, float, float]:
    """Mean of the year's cosine and sine and of the minima told; 0 where nothing is."""
    known = told_c[np.isfinite(told_c)]
    turn = np.array([one.timetuple().tm_yday for one in evenings]) * 2 * math.pi / YEAR_DAYS
    season = (float(np.cos(turn).mean()), float(np.sin(turn).mean())) if evenings else (0.0, 0.0)
    return *season, float(known.mean()) if known.size else 0.0


def _prior_sd(error_c: Floats) -> Floats:
    """Prior sd of each coefficient; that of the bias as wide as the middle of the errors lies off."""
    off_c = float(np.median(error_c)) if error_c.size else 0.0
    bias_sd_c = max(BIAS_SD_C, abs(off_c))
    return np.array([bias_sd_c, DRIFT_SD_C_D, SEASON_SD_C, SEASON_SD_C, SLOPE_SD, SLOPE_SD, SLOPE_SD])


def _scale(squares: Floats, weights: Floats) -> float:
    """Factor on the published sigma: the spread of the errors, with the published one as so many nights more."""
    return float(np.sqrt((PRIOR_NIGHTS + weights @ squares) / (PRIOR_NIGHTS + weights.sum())))


def forecast_misses(
    forecasts: Iterable[Forecast], observed_c: Mapping[date, float], zone: ZoneInfo
) -> tuple[ForecastMiss, ...]:
    """Misses of kept forecasts: every whole night that lay wholly ahead and whose true minimum is known.

    Parameters
    ----------
    forecasts
        Of one service. Of several for one night within the same 12 h of lead the first counts.
    observed_c
        True minimum of the open field by evening [°C]: `observed_minima` or `minima_by_readings`.
    zone
        The garden's.
    """
    told = [low for one in sorted(forecasts, key=lambda one: one.known_since_utc) for low in told_lows(one, zone)]
    return misses_of(told, observed_c)


def told_lows(forecast: Forecast, zone: ZoneInfo) -> list[ToldLow]:
    """The low of every whole night that lay wholly ahead of a forecast."""
    lows = []
    for low in night_minima(forecast.weather, zone):
        began = datetime.combine(low.evening, time(12), tzinfo=zone)
        if low.complete and began >= forecast.known_since_utc:
            lead_h = (low.at_utc - forecast.known_since_utc) / timedelta(hours=1)
            lows.append(ToldLow(evening=low.evening, lead_h=lead_h, told_c=low.air_c))
    return lows


def misses_of(told: Iterable[ToldLow], observed_c: Mapping[date, float]) -> tuple[ForecastMiss, ...]:
    """Told lows against what came; of several for one night within the same half day of lead the first counts."""
    found: dict[tuple[date, int], ForecastMiss] = {}
    for one in told:
        if one.evening in observed_c:
            off_c = one.told_c - observed_c[one.evening]
            miss = ForecastMiss(evening=one.evening, lead_h=one.lead_h, error_c=off_c, told_c=one.told_c)
            found.setdefault((one.evening, int(one.lead_h // LEAD_STEP_H)), miss)
    return tuple(found[key] for key in sorted(found))


def observed_minima(past: HourlyWeather, zone: ZoneInfo) -> dict[date, float]:
    """Night minima of the told field [°C] by evening, whole nights only."""
    return {low.evening: low.air_c for low in night_minima(past, zone) if low.complete}


def field_minima(
    readings: Sequence[Reading], learned: Mapping[str, LearnedOffset], past: HourlyWeather, site: Site
) -> dict[date, float]:
    """Night minima of the open field [°C] as the thermometers of a garden had them, the mean over its trees.

    `learned` is the offset of each tree with a thermometer.
    """
    sky, found = Sky(past, site), defaultdict(list)
    for tree, offset in learned.items():
        lows = lows_of([one for one in readings if one.tree == tree and one.place is Place.AIR], site.zone)
        for evening, low_c in minima_by_readings(sky.pairs(lows, tree)[0], offset).items():
            found[evening].append(low_c)
    return {evening: float(np.mean(lows_c)) for evening, lows_c in sorted(found.items())}


def minima_by_readings(pairs: Sequence[Pair], learned: LearnedOffset) -> dict[date, float]:
    """Night minima of the open field as the tree's own thermometer had them [°C]: its lows, less the learned offset.

    Without the readings that were set aside. The offset already holds the service's constant error close to hand, so
    what these minima show is how the error grows with lead, not the same bias again.
    """
    refused = {one.reading for one in learned.set_aside}
    return {
        one.evening: one.reading.air_c - one.night * learned.mean_c(one.factor)
        for one in pairs
        if one.reading.is_minimum and one.reading not in refused
    }
