"""From the open field to one tree: its air, wind, sky and sun, with what its standing or its thermometer says."""

from dataclasses import dataclass
from datetime import datetime
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.doubt import Doubt, DoubtKind
from rules.garden.tree import Site, Standing
from rules.site.sky import CLOUD_CLOSES, sky_emissivity
from rules.site.sun import (
    HORIZON_ZENITH_DEG,
    elevation_sine,
    side_sun_w_m2,
    sines_at,
    sines_before_marks,
    sun_at_marks_w_m2,
)
from rules.weather.hourly import HourlyWeather

Floats = npt.NDArray[np.float64]

CALM_M_S: Final = 0.5  # taken where no wind is known: the coldest case for a skin under a clear sky; assumed, no source
DEW_BELOW_MINIMUM_C: Final = 2.0  # taken where no dew point is known: below the day's minimum; assumed, no source
STILL_LIMIT_M_S: Final = 4.0  # wind that mixes a cold pool away altogether; proposal, no published source
FADE_S: Final = 7200.0  # FAO 2005: the night curve begins two hours after sunset
STEM_WIND: Final = 4.87 / np.log(
    67.8 * 10 - 5.42
)  # wind at 2 m per wind at 10 m over grass, FAO-56 eq. 47, from memory
SKY_SIDE: Final = 0.45  # share of sky an upright wall sees among low neighbours; 0.5 on a bare plain; common practice
SKY_TOP: Final = 0.9


@dataclass(frozen=True, kw_only=True)
class SiteOffset:
    """What a tree's night air differs from the open field's: `radiation_c` × (clear and calm share) + `mixed_c` [°C].

    `mixed_c` holds on every night; `radiation_c` comes on top of it as far as the hour is clear and calm. The two
    spreads are 1 sd [°C] of the two terms, taken as independent.
    """

    radiation_c: float
    mixed_c: float
    radiation_sd_c: float
    mixed_sd_c: float

    def sd_c(self, factor: float) -> float:
        """One sd of the whole offset [°C] in an hour whose clear and calm share is `factor`."""
        return float(np.hypot(self.radiation_sd_c * factor, self.mixed_sd_c))


def _prior(low_c: float, high_c: float) -> SiteOffset:
    """Prior from a range for clear calm nights.

    Its middle, and half its width as 1 sd, on top of grid against tree: 1.5 °C on a clear calm night, 1.0 of it on
    every night. Those two are the middle and low end of a proposed 1-2 °C without published source.
    """
    sd_c = float(np.hypot(np.sqrt(1.5**2 - 1.0**2), (high_c - low_c) / 2))
    return SiteOffset(radiation_c=(low_c + high_c) / 2, mixed_c=0.0, radiation_sd_c=sd_c, mixed_sd_c=1.0)


# Ranges on clear calm nights. Wall, eave, hollow and slope from memory; about 0 in wind or cloud. For a paved court no
# source: assumed 0, the colder side, with a wide spread. A pot's air is the open's; its roots are another matter.
PRIORS: Final[dict[Standing, SiteOffset]] = {
    Standing.OPEN: _prior(0.0, 0.0),
    Standing.WALL: _prior(1.0, 3.0),
    Standing.EAVE: _prior(1.0, 2.0),
    Standing.HOLLOW: _prior(-5.0, -2.0),
    Standing.SLOPE: _prior(1.0, 3.0),
    Standing.COURT: _prior(-1.0, 1.0),
    Standing.POT: _prior(0.0, 0.0),
}

# Share of the field's wind that reaches the stem besides its height. No source: 0.7 ± 0.25 is common practice for a
# garden with houses and hedges; a wall, eave or court stops more.
SHELTER: Final[dict[Standing, float]] = {
    Standing.OPEN: 1.0,
    Standing.WALL: 0.5,
    Standing.EAVE: 0.5,
    Standing.HOLLOW: 0.7,
    Standing.SLOPE: 1.0,
    Standing.COURT: 0.5,
    Standing.POT: 0.7,
}
HALF_SKY: Final = frozenset({Standing.WALL, Standing.EAVE})  # a wall beside or a roof above hides about half the sky


@dataclass(frozen=True, kw_only=True, eq=False)
class TreeWeather:
    """Weather at one tree, hour marks as the field's; arrays (hours,), air and what follows from it (…, hours).

    Parameters
    ----------
    start_utc
        Time of the first mark.
    air_c, dew_point_c
        At the tree, offset applied [°C].
    wind_m_s
        At the stem, sheltered [m/s].
    gust_m_s
        As in the open field [m/s]: corners speed a gust up, so no shelter is trusted. NaN where none is reported.
    cloud_fraction
        [0-1].
    sky_emissivity
        Of the sky it sees [0-1].
    sun_side_w_m2, sun_top_w_m2
        Mean over a vertical cylinder; on a horizontal top [W/m²]. `sun_share` is not yet applied.
    sky_share_side, sky_share_top, sun_share
        Share of sky seen by side and top; share of the sun that reaches the tree [0-1].
    offset_c
        What was added to the field's air [°C].
    offset_sd_c
        One sd of it [°C] in the clearest and calmest hour of the nights.
    doubts
        What was assumed.
    """

    start_utc: datetime
    air_c: Floats
    dew_point_c: Floats
    wind_m_s: Floats
    gust_m_s: Floats
    cloud_fraction: Floats
    sky_emissivity: Floats
    sun_side_w_m2: Floats
    sun_top_w_m2: Floats
    sky_share_side: float
    sky_share_top: float
    sun_share: float
    offset_c: Floats
    offset_sd_c: float
    doubts: tuple[Doubt, ...]


def at_tree(
    weather: HourlyWeather,
    site: Site,
    standing: Standing,
    *,
    air_c: Floats | None = None,
    offset: SiteOffset | None = None,
) -> TreeWeather:
    """Weather at a tree of this standing.

    Parameters
    ----------
    weather
        The open field. Unknown cloud is taken as none, unknown wind as calm, unknown dew point as 2 °C below the
        lowest air of the day around, and neither brings a warm offset: each the cold side of a night, each said in
        `doubts`. By day unknown cloud means full sun. Unknown air stays NaN.
    site
        Where; for the sun.
    standing
        Sky hidden, shelter and, without `offset`, the prior.
    air_c
        Members of the field's air [°C], shape (members, hours); None for `weather.air_c`.
    offset
        What its thermometer taught; None for the prior of the standing, said in `doubts`.

    Raises
    ------
    ValueError
        Weather of no hours, or `air_c` whose last axis is not its hours.
    """
    if not weather.hours:
        raise ValueError("weather must hold at least 1 hour, got 0")
    field_c = weather.air_c if air_c is None else np.asarray(air_c, dtype=np.float64)
    if field_c.shape[-1:] != (weather.hours,):
        raise ValueError(f"air_c has shape {field_c.shape}, its last axis must be the {weather.hours} hours of weather")
    known = offset or PRIORS[standing]
    night = night_share(weather, site)
    offset_c = night * (known.radiation_c * _cold_side_factor(weather, known) + known.mixed_c)
    tree_c = field_c + offset_c
    cloud = _or(weather.cloud_fraction, 0.0)
    dew_c = np.minimum(_dew_point_c(weather), tree_c)  # air colder than its dew point has lost the difference as dew
    top_w_m2, side_w_m2 = _sun_w_m2(weather, cloud, site)
    half = 0.5 if standing in HALF_SKY else 1.0
    sd_c = known.sd_c(float(np.max(night * _clear_calm_share(cloud, _or(weather.wind_m_s, 0.0)), initial=0.0)))
    return TreeWeather(
        start_utc=weather.start_utc,
        air_c=tree_c,
        dew_point_c=dew_c,
        wind_m_s=_or(weather.wind_m_s, CALM_M_S) * STEM_WIND * SHELTER[standing],
        gust_m_s=weather.gust_m_s,
        cloud_fraction=cloud,
        sky_emissivity=sky_emissivity(tree_c, dew_c, cloud),
        sun_side_w_m2=side_w_m2,
        sun_top_w_m2=top_w_m2,
        sky_share_side=SKY_SIDE * half,
        sky_share_top=SKY_TOP * half,
        sun_share=1.0,  # winter sun is low and comes under an eave; what a wall takes or throws back is not known
        offset_c=offset_c,
        offset_sd_c=sd_c,
        doubts=_doubts(weather, None if offset else sd_c),
    )


def radiation_factor(weather: HourlyWeather) -> Floats:
    """Share of the full clear and calm offset in each hour [0-1]: (1 - k cloud) (1 - wind/4), NaN where unknown.

    The form is a proposal without published source. k is the share of the sky's window an overcast closes, so the
    offset fades as the loss to the sky does; wind is the open field's at 10 m.
    """
    return _clear_calm_share(weather.cloud_fraction, weather.wind_m_s)


def _clear_calm_share(cloud_fraction: Floats, wind_m_s: Floats) -> Floats:
    calm = np.clip(1 - wind_m_s / STILL_LIMIT_M_S, 0.0, 1.0)
    share: Floats = np.clip(1 - CLOUD_CLOSES * cloud_fraction, 0.0, 1.0) * calm
    return share


def night_share(weather: HourlyWeather, site: Site) -> Floats:
    """Share of the last two hours before each mark that was dark [0-1].

    So a night's offset grows over the first two hours after sunset, is whole until sunrise, and is gone two hours
    after it, as a cold pool builds and breaks up. By day it is 0: what readings at night teach says nothing of noon.
    """
    return _dark_share(sines_before_marks(weather.start_utc.timestamp(), weather.hours, site))


def dark_share(marks_s: Floats, site: Site) -> Floats:
    """The same at marks in seconds since 1970 UTC, shape (marks,)."""
    before_s = (np.arange(12) + 0.5) * -(FADE_S / 12)
    return _dark_share(elevation_sine(marks_s[:, None] + before_s, site))


def _dark_share(sines_before: Floats) -> Floats:
    share: Floats = (sines_before < np.cos(np.radians(HORIZON_ZENITH_DEG))).mean(axis=1)
    return share


def _cold_side_factor(weather: HourlyWeather, offset: SiteOffset) -> Floats:
    """Clear and calm share; the unknown is clear and calm for a cold offset, overcast and windy for a warm one."""
    cold = offset.radiation_c < 0
    cloud = _or(weather.cloud_fraction, 0.0 if cold else 1.0)
    return _clear_calm_share(cloud, _or(weather.wind_m_s, 0.0 if cold else STILL_LIMIT_M_S))


def _or(values: Floats, instead: float) -> Floats:
    return np.where(np.isnan(values), instead, values)


def _dew_point_c(weather: HourlyWeather) -> Floats:
    """Dew point [°C], where unknown 2 °C below the lowest air of the day around (the first or last day at the ends)."""
    day = min(25, weather.hours)
    known = np.where(np.isnan(weather.air_c), np.inf, weather.air_c)
    lows = np.lib.stride_tricks.sliding_window_view(known, day).min(axis=1)
    lowest = lows[np.clip(np.arange(weather.hours) - 12, 0, weather.hours - day)]
    assumed = np.where(np.isinf(lowest), np.nan, lowest - DEW_BELOW_MINIMUM_C)
    return np.where(np.isnan(weather.dew_point_c), assumed, weather.dew_point_c)


def _sun_w_m2(weather: HourlyWeather, cloud: Floats, site: Site) -> tuple[Floats, Floats]:
    """Horizontal and side sun at the marks [W/m²]."""
    start_s = weather.start_utc.timestamp()
    top = sun_at_marks_w_m2(start_s, weather.sun_w_m2, cloud, site)
    return top, side_sun_w_m2(top, sines_at(start_s, 3600.0, weather.hours, site))


def _doubts(weather: HourlyWeather, guessed_sd_c: float | None) -> tuple[Doubt, ...]:
    series = {
        DoubtKind.NO_CLOUD: weather.cloud_fraction,
        DoubtKind.NO_DEW_POINT: weather.dew_point_c,
        DoubtKind.NO_WIND: weather.wind_m_s,
    }
    counts = {kind: int(np.isnan(values).sum()) for kind, values in series.items()}
    said = [Doubt(kind=kind, amount=float(count)) for kind, count in counts.items() if count]
    if guessed_sd_c is not None:
        said.append(Doubt(kind=DoubtKind.SITE_GUESSED, amount=guessed_sd_c))
    return tuple(said)
