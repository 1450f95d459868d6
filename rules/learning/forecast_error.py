"""How far a service's night minima are off at this garden, by lead: bias and sigma from what was forecast and came."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from rules.garden.records import Place, Reading
from rules.garden.tree import Site
from rules.learning.pairs import Pair, Sky, lows_of
from rules.learning.robust_line import robust_line
from rules.learning.site_offset import LearnedOffset, shared_weights
from rules.weather.hourly import Forecast, HourlyWeather, night_minima
from rules.weather.members import LEAST_SIGMA_C, PUBLISHED, WINTER_SD_C, ForecastError, lead_sigma_c

Floats = npt.NDArray[np.float64]

# Bias of a forecast minimum before anything is known: 0 ± 1.5 °C. NWS at ten US valleys -0.35 (computed), one of them
# -1.9; ECMWF at night "about 1-2 °C too warm" (its user guide). A raw model cell in the mountains can be off by 9.
BIAS_SD_C: Final = 1.5
DRIFT_SD_C_D: Final = 0.15  # per day of lead: errors "often don't depend strongly on the forecast range" (the guide)
STATION_SD: Final = 0.22  # of ln of RMSE over sigma(lead), at 24 h: ten US valleys 1.51 to 3.07 °C (computed)
LEAD_STEP_H: Final = 12  # of forecasts for one night within this, one counts


@dataclass(frozen=True, kw_only=True)
class ForecastMiss:
    """One forecast of one night's minimum against what came: `error_c` is forecast minus observed [°C]."""

    evening: date
    lead_h: float
    error_c: float


@dataclass(frozen=True, kw_only=True, eq=False)
class LearnedForecast:
    """Bias and sigma of a service at this garden.

    `nights` and `misses` say from how much, `wild` how many misses were not believed. `bias_now_c` at lead 0 and
    `drift_c_d` per day of lead, with their covariance; `scale` is the factor on the published sigma(lead).
    """

    nights: int
    misses: int
    wild: int
    bias_now_c: float
    drift_c_d: float
    covariance: Floats
    scale: float

    @property
    def error(self) -> ForecastError:
        """What the forecasts to come are corrected by; as published where nothing was learned.

        Of the bias only its growth with lead: what it is at lead 0 the trees' own offsets hold already.
        """
        if not self.nights:
            return PUBLISHED
        drift_sd_c_d = float(np.sqrt(self.covariance[1, 1]))
        return ForecastError(drift_c_d=self.drift_c_d, drift_sd_c_d=drift_sd_c_d, scale=self.scale, nights=self.nights)

    def bias_c(self, lead_h: float) -> float:
        """Mean of forecast minus observed [°C] at this lead."""
        return self.bias_now_c + self.drift_c_d * lead_h / 24

    def bias_sd_c(self, lead_h: float) -> float:
        """One sd of that bias [°C]."""
        at = np.array([1.0, lead_h / 24])
        return float(np.sqrt(at @ self.covariance @ at))

    def sigma_c(self, lead_h: npt.ArrayLike, *, winter_sd_c: float = WINTER_SD_C) -> Floats:
        """One sd of a forecast minimum about its bias [°C] at these leads, in place of `lead_sigma_c`."""
        sigma: Floats = np.clip(self.scale * lead_sigma_c(lead_h), LEAST_SIGMA_C, winter_sd_c)
        return sigma


def learn_forecast(misses: Sequence[ForecastMiss]) -> LearnedForecast:
    """Bias and sigma by lead from the misses of one service.

    The prior is the published sigma(lead) and no bias. The misses of one night, at all leads, share one weight, and
    successive nights count as 0.65 of an independent one: a garden's first week moves little.
    """
    days = np.array([one.lead_h / 24 for one in misses])
    found = robust_line(
        np.stack([np.ones(len(misses)), days], axis=1),
        np.array([one.error_c for one in misses]),
        lead_sigma_c(24 * days),
        shared_weights([one.evening for one in misses]),
        np.zeros(2),
        np.array([BIAS_SD_C, DRIFT_SD_C_D]),
        STATION_SD,
    )
    return LearnedForecast(
        nights=len({one.evening for one in misses}),
        misses=len(misses),
        wild=int((found.wild > 0.5).sum()),
        bias_now_c=float(found.mean[0]),
        drift_c_d=float(found.mean[1]),
        covariance=found.covariance,
        scale=found.scale,
    )


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
    found: dict[tuple[date, int], ForecastMiss] = {}
    for forecast in sorted(forecasts, key=lambda one: one.known_since_utc):
        for low in night_minima(forecast.weather, zone):
            began = low.at_utc.astimezone(zone).replace(hour=12, minute=0) - timedelta(
                days=low.at_utc.astimezone(zone).hour < 12
            )
            lead_h = (low.at_utc - forecast.known_since_utc) / timedelta(hours=1)
            if low.complete and low.evening in observed_c and began >= forecast.known_since_utc:
                miss = ForecastMiss(evening=low.evening, lead_h=lead_h, error_c=low.air_c - observed_c[low.evening])
                found.setdefault((low.evening, int(lead_h // LEAD_STEP_H)), miss)
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
