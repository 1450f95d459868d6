"""Members: equally likely courses of the open field's air, from one forecast and its error or from an ensemble."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import lru_cache
from statistics import NormalDist
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.weather.hourly import Forecast, HourlyWeather

Floats = npt.NDArray[np.float64]

# Least squares on the RMSE of National Weather Service night minima, ten western US valley cities, October-April
# 2021-22: 2.16, 2.22, 2.32, 2.41 °C at 12, 24, 36, 48 h. Days 3-7 are extrapolated.
SIGMA_START_C2: Final = 4.62
SIGMA_GROWTH_C2_D2: Final = 0.306
WINTER_SD_C: Final = 4.7  # SD of December-February minima, mean of the ten (3.2-8.5): no forecast errs by more for long
HALF_CORRELATION_H: Final = (
    24.0  # errors of two hours a day apart correlate 0.5; see `_error_field`; assumed, no source
)
FIELD_H: Final = 240  # the field is made in whole lengths and cut, so that it is made once, not every hour
# Error SD over raw spread: ECMWF at Magdeburg 1 / 0.51 at 24 h, 1 / 0.68 at 48 h, 1 / 0.40 and 1 / 0.60 in winter;
# their mean is 1 / 0.55. Other ensembles in the mountains show less spread still.
SPREAD_INFLATION: Final = 1 / 0.55
LEAST_SIGMA_C: Final = 0.8  # no service is trusted further than two thermometers side by side can show; assumed


def lead_sigma_c(lead_h: npt.ArrayLike, *, winter_sd_c: float = WINTER_SD_C) -> Floats:
    """One sd of a forecast night minimum [°C] at this lead: sqrt(4.62 + 0.306 d²), d in days, capped.

    The site's own term (tree against grid) is not in it.

    Parameters
    ----------
    lead_h
        Hours from when the forecast was made; below 0 counts as 0.
    winter_sd_c
        The cap: the station's own SD of winter minima [°C].

    Raises
    ------
    ValueError
        A cap that is not above 0.

    >>> lead_sigma_c([24, 48, 96, 168]).round(2).tolist()
    [2.22, 2.42, 3.08, 4.43]
    """
    if not winter_sd_c > 0:
        raise ValueError(f"winter_sd_c must be above 0 °C, got {winter_sd_c:g}")
    days = np.maximum(np.asarray(lead_h, dtype=np.float64), 0.0) / 24.0
    sigma: Floats = np.minimum(np.sqrt(SIGMA_START_C2 + SIGMA_GROWTH_C2_D2 * days**2), winter_sd_c)
    return sigma


@dataclass(frozen=True, kw_only=True)
class ForecastError:
    """How far a service's night minima are off at one garden.

    `drift_c_d` ± `drift_sd_c_d` is how much warmer than what comes it tells a night for each day of lead [°C]; `scale`
    the factor on sigma(lead); `nights` from how many nights. What it is off by close to hand is part of the tree's own
    offset.
    """

    drift_c_d: float = 0.0
    drift_sd_c_d: float = 0.0
    scale: float = 1.0
    nights: int = 0

    def bias_c(self, lead_h: npt.ArrayLike) -> Floats:
        """Mean of forecast minus what came [°C] at these leads [h], beyond that at lead 0."""
        return self.drift_c_d * np.maximum(np.asarray(lead_h, dtype=np.float64), 0.0) / 24.0

    def sigma_c(self, lead_h: npt.ArrayLike, *, winter_sd_c: float = WINTER_SD_C) -> Floats:
        """One sd about that mean [°C], what is not known of the mean in it.

        >>> ForecastError().sigma_c([24, 96]).round(2).tolist()
        [2.22, 3.08]
        """
        lead = np.maximum(np.asarray(lead_h, dtype=np.float64), 0.0)
        scaled = np.clip(self.scale * lead_sigma_c(lead, winter_sd_c=winter_sd_c), LEAST_SIGMA_C, winter_sd_c)
        return np.hypot(scaled, self.drift_sd_c_d * lead / 24.0)


PUBLISHED: Final = ForecastError()


def members(
    forecast: Forecast,
    now: datetime,
    count: int = 31,
    *,
    error: ForecastError = PUBLISHED,
    winter_sd_c: float = WINTER_SD_C,
) -> Floats:
    """Members of the open field's air [°C], shape (count, hours); the same inputs give the same members.

    Their mean is the forecast (of an ensemble: its mean), their SD at every coming hour the larger of the error's
    sigma(lead), what the service itself states, and an ensemble's inflated spread. Hours up to `now` carry no spread:
    they are the forecast's own past. A warmer forecast makes every member warmer by as much.

    Parameters
    ----------
    forecast
        One answer of one service. The lead counts from when it was made.
    now
        Aware.
    count
        How many, at least 2.
    error
        Of the service at this garden, for the spread; its bias is taken off the forecast already.
    winter_sd_c
        Cap of sigma(lead) and of the inflation [°C].

    Raises
    ------
    ValueError
        `count` below 2, naive `now`, or an ensemble or stated sigma whose hours are not the forecast's.
    """
    if count < 2:
        raise ValueError(f"count must be at least 2 members, got {count}")
    if now.tzinfo is None:
        raise ValueError(f"now must be aware, got {now}")
    air_c = np.tile(forecast.weather.air_c, (count, 1))
    first = min(max(forecast.weather.index_of(now) + 1, 0), forecast.weather.hours)
    if first == forecast.weather.hours:
        return air_c
    sigma_c = _sigma_c(forecast, now, error, winter_sd_c)[first:]
    field = _error_field(count, -(-len(sigma_c) // FIELD_H) * FIELD_H)[:, : len(sigma_c)]
    courses = _ensemble_courses(forecast, count)
    if courses is None:
        air_c[:, first:] += field * sigma_c
    else:
        air_c[:, first:] = _widened(courses[:, first:], air_c[:, first:], field, sigma_c, winter_sd_c)
    return air_c


def leads_h(weather: HourlyWeather, made: datetime) -> Floats:
    """Hours from a moment to each hour mark."""
    return (weather.start_utc - made) / timedelta(hours=1) + np.arange(weather.hours, dtype=np.float64)


def _sigma_c(forecast: Forecast, now: datetime, error: ForecastError, winter_sd_c: float) -> Floats:
    """Sigma(lead), or what the service states where that is more: stated spreads are as a rule too small."""
    sigma_c = error.sigma_c(leads_h(forecast.weather, min(forecast.known_since_utc, now)), winter_sd_c=winter_sd_c)
    if forecast.sigma_c is None:
        return sigma_c
    if forecast.sigma_c.shape != sigma_c.shape:
        raise ValueError(f"sigma_c has shape {forecast.sigma_c.shape}, expected {sigma_c.shape} like the forecast")
    return np.fmax(sigma_c, forecast.sigma_c)


@lru_cache(maxsize=8)
def _error_field(count: int, hours: int) -> Floats:
    """Standard errors, shape (count, hours): mean 0 and SD 1 over the members at every hour, smooth in time.

    Correlation over Δ hours is Matérn 3/2, (1 + a) exp(-a), a = Δ / scale: 0.91 within a night of 7 h, 0.5 from one
    night to the next, 0.15 to the one after. Published is only 0.21 between the errors of one lead on successive
    nights; nights of one forecast share an air mass and its timing and must hang together more: assumed, no source.
    A first-order autoregression was passed over: its hourly jitter makes the lowest hour of every night 0.3 °C colder
    than the forecast's (computed). The draws are the same normal quantiles in every hour, shuffled by a fixed seed, so
    a longer forecast changes no earlier hour.
    """
    lag = np.arange(hours) * (1.6783469900166605 / HALF_CORRELATION_H)  # (1 + a) exp(-a) = 1/2 at a = 1.6783
    covariance = ((1 + lag) * np.exp(-lag))[np.abs(np.subtract.outer(np.arange(hours), np.arange(hours)))]
    quantiles = np.array([NormalDist().inv_cdf((i + 0.5) / count) for i in range(count)])
    shuffle = np.random.default_rng(count)
    draws = np.column_stack([shuffle.permutation(quantiles) for _ in range(hours)])
    field: Floats = _standard(draws @ np.linalg.cholesky(covariance).T)
    field.setflags(write=False)
    return field


def _standard(values: Floats) -> Floats:
    """Values with mean 0 and SD 1 over the members."""
    centred = values - values.mean(axis=0)
    standard: Floats = centred / np.sqrt((centred**2).mean(axis=0))
    return standard


def _ensemble_courses(forecast: Forecast, count: int) -> Floats | None:
    """The ensemble's members spread evenly over `count` rows, about the ensemble's own mean; None without one."""
    raw = forecast.members_air_c
    if raw is None:
        return None
    if raw.ndim != 2 or raw.shape[1] != forecast.weather.hours or len(raw) < 2:
        raise ValueError(f"members_air_c has shape {raw.shape}, expected (2 or more, {forecast.weather.hours})")
    picked = raw[np.linspace(0, len(raw) - 1, count).round().astype(int)]
    courses: Floats = picked - picked.mean(axis=0) + raw.mean(axis=0)
    return courses


def _widened(courses: Floats, single_c: Floats, field: Floats, sigma_c: Floats, cap_c: float) -> Floats:
    """Ensemble with the missing spread added as standard errors; hours it does not reach take the single forecast's.

    Added, not stretched: stretching blows up the jitter where the members agree.
    """
    mean_c = courses.mean(axis=0)
    raw_c = np.sqrt(((courses - mean_c) ** 2).mean(axis=0))
    wanted_c = np.maximum.reduce([sigma_c, raw_c, np.minimum(SPREAD_INFLATION * raw_c, cap_c)])
    dressed = courses - mean_c + field * np.sqrt(wanted_c**2 - raw_c**2)
    return np.where(np.isnan(mean_c), single_c + field * sigma_c, mean_c + _standard(dressed) * wanted_c)
