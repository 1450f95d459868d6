"""A cover's heat in a few numbers a day, calibrated on the full heat balance: for replaying whole winters fast.

From one evening to the next: how cold the wood and its tip get (as a temperature that hurts), its mean, the hottest
air, and what the cover holds at the end, each linear in the day's extremes, a running mean and the season. A change of
state leaves a difference that fades by the day. `rms_c` says how far this is from the full model.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.garden.cover import STATES, Cover
from rules.garden.tree import Site, Standing
from rules.heat.balance import against_limits_c, inside_temperatures
from rules.site.microclimate import SiteOffset, at_tree
from rules.site.soil import site_soil
from rules.site.sun import sun_day
from rules.weather.hourly import HourlyWeather
from rules.wood.injury import dose_c

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

# Parton & Logan 1981 for air at 150 cm near Denver: hours after noon of the day's maximum and after sunrise of its
# minimum, and how fast the night falls.
WARMEST_H: Final = 1.86
COLDEST_H: Final = -0.17
NIGHT_DECAY: Final = 2.20
OUTPUTS: Final = ("dose", "tip", "mean", "hottest", "held")
HELD: Final = OUTPUTS.index("held")
MEMORY_DAYS: Final = 5.0  # of the running mean: how covers and their ground remember; two such means tell no more
EVENING_H: Final = 16  # the hour of a day at which covers are tended
WIND_M_S: Final = 2.0  # ordinary wind and cloud: daily records have none; assumed
CLOUD: Final = 0.5
SWITCH_EVERY_DAYS: Final = 5  # apart enough that one change has faded before the next
TURNS: Final = ((1, 2), (2, 1))  # (state turned to, state before)
SAME_AIR: Final = SiteOffset(radiation_c=0.0, mixed_c=0.0, radiation_sd_c=0.0, mixed_sd_c=0.0)


@dataclass(frozen=True, kw_only=True, eq=False)
class ReducedHeat:
    """One cover's response to daily weather.

    Parameters
    ----------
    weights
        Shape (features, states, outputs), states bare, vented, closed.
    tissue, fades
        What the wood feels the first night of a difference in what covers hold, and what is left of it a day later,
        shape (states,).
    rms_c
        Distance of the dose temperature from the full heat balance, shape (states,) [°C].
    """

    weights: Floats
    tissue: Floats
    fades: Floats
    rms_c: Floats

    def of(self, features: Floats) -> Floats:
        """The outputs of days with these features, shape (..., states, outputs) [°C]."""
        return np.tensordot(features, self.weights, axes=1)


def daily_features(min_c: Floats, max_c: Floats, season: Floats, before: Floats | None = None) -> tuple[Floats, Floats]:
    """Features of each day's evening-to-evening stretch, from extremes of days that follow each other.

    Parameters
    ----------
    min_c, max_c
        Extremes, shape (..., days) [°C]; the last day gets no stretch, it is the end of one.
    season
        Day of the year of each day, shape (days,).
    before
        Running mean up to the day before the first, shape (...,); None begins it with the first day.

    Returns
    -------
    tuple
        Features, shape (..., days - 1, features), and the running mean after each day, shape (..., days).
    """
    run = _running((min_c + max_c) / 2, before)
    turn = 2 * np.pi * season[:-1] / 365.25
    still = [np.broadcast_to(one, run[..., :-1].shape) for one in (np.ones(len(turn)), np.cos(turn), np.sin(turn))]
    told = [max_c[..., :-1], min_c[..., 1:], max_c[..., 1:], min_c[..., :-1], run[..., :-1]]
    return np.stack([*still, *told], axis=-1), run


def _running(mean: Floats, before: Floats | None) -> Floats:
    run = np.empty_like(mean)
    held = mean[..., 0] if before is None else before
    for day in range(mean.shape[-1]):
        held = held + (mean[..., day] - held) / MEMORY_DAYS
        run[..., day] = held
    return run


def reduced_heat(cover: Cover, site: Site, first: date, min_c: Floats, max_c: Floats) -> ReducedHeat:
    """A cover's response, fitted by least squares to the full heat balance over some winters of daily extremes.

    Parameters
    ----------
    cover, site
        The cover, and where it stands.
    first
        First day of any one of the winters: the sun and the soil hardly differ between years.
    min_c, max_c
        Extremes, shape (winters, days) [°C].
    """
    turns = np.arange(min_c.shape[1]) // SWITCH_EVERY_DAYS % 2
    kept = [np.full(len(turns), state) for state in range(len(STATES))]
    marched = _marched(cover, site, first, min_c, max_c, [*kept, *(np.where(turns, *pair) for pair in TURNS)])
    always, switched = marched[: len(STATES)], marched[len(STATES) :]
    days = np.array([(first + timedelta(days=i)).timetuple().tm_yday for i in range(min_c.shape[1])], dtype=float)
    features = daily_features(min_c, max_c, days)[0]
    told = np.stack(always, axis=2)
    flat = features.reshape(-1, features.shape[-1])
    weights = np.linalg.lstsq(flat, told.reshape(len(flat), -1), rcond=None)[0]
    weights = np.asarray(weights, dtype=np.float64).reshape(-1, len(STATES), len(OUTPUTS))
    missed = told - np.tensordot(features, weights, axes=1)
    tissue, fades = _memory(always, switched, turns)
    return ReducedHeat(
        weights=weights, tissue=tissue, fades=fades, rms_c=np.sqrt((missed[..., 0] ** 2).mean(axis=(0, 1)))
    )


def _marched(
    cover: Cover, site: Site, first: date, min_c: Floats, max_c: Floats, courses: Sequence[Ints]
) -> list[Floats]:
    """Full heat balance of some courses of daily states, each from its evening on: (winters, days - 1, outputs)."""
    zone_h = round(site.longitude_deg / 15.0)
    start = datetime(first.year, first.month, first.day, tzinfo=UTC) - timedelta(hours=zone_h)
    suns = [sun_day(first + timedelta(days=i), site) for i in range(min_c.shape[1])]
    light = [
        [_hour(one, start + timedelta(days=i)) for one in (s.sunrise_utc, s.sunset_utc)] for i, s in enumerate(suns)
    ]
    rise, down = np.array(light).T
    weathers = []
    for low, high in zip(min_c, max_c, strict=True):
        air = hourly_from_daily(low, high, rise, down).ravel()
        unknown = np.full(len(air), np.nan)
        field = HourlyWeather(
            start_utc=start, air_c=air, dew_point_c=unknown, wind_m_s=np.full(len(air), WIND_M_S),
            gust_m_s=unknown, cloud_fraction=np.full(len(air), CLOUD), sun_w_m2=unknown,
        )  # fmt: skip
        weathers.append(at_tree(field, site, Standing.OPEN, offset=SAME_AIR))
    late = np.array([np.repeat(course, 24)[: -EVENING_H or None] for course in courses])
    hourly = np.concatenate([np.repeat(late[:, :1], EVENING_H, axis=1), late], axis=1)
    covers, states = [cover] * (len(weathers) * len(hourly)), np.tile(hourly, (len(weathers), 1))
    skies = [sky for sky in weathers for _ in hourly]
    inside = inside_temperatures(covers, states, skies, soil=site_soil(site.latitude_deg, site.elevation_m))
    met = against_limits_c((inside.wood_c, inside.top_c, inside.air_c), covers, states, skies)
    found = _by_evening(*met, inside.air_c)
    return list(found.reshape(len(weathers), len(hourly), *found.shape[1:]).swapaxes(0, 1))


def _hour(moment: datetime | None, midnight: datetime) -> float:
    if moment is None:
        raise ValueError(f"the sun does not rise or set on the day from {midnight}: winters there cannot be replayed")
    return (moment - midnight) / timedelta(hours=1)


def _by_evening(wood_c: Floats, top_c: Floats, air_c: Floats) -> Floats:
    """Outputs of each stretch from one evening to the next, shape (winters, days - 1, outputs)."""

    def stretches(hours: Floats) -> Floats:
        return hours[:, EVENING_H + 1 : EVENING_H + 1 + 24 * (hours.shape[1] // 24 - 1)].reshape(len(hours), -1, 24)

    wood, top, air = (stretches(one) for one in (wood_c, top_c, air_c))
    return np.stack([dose_c(wood), dose_c(top), wood.mean(-1), air.max(-1), wood[..., -1]], axis=-1)


def _memory(always: Sequence[Floats], switched: Sequence[Floats], turns: Ints) -> tuple[Floats, Floats]:
    """How a change of state is felt and fades, from marches that change between two states every few days."""
    tissue, fades = np.zeros(len(STATES)), np.zeros(len(STATES))
    begins = 1 + np.flatnonzero(np.diff(turns) > 0)  # days on which the state is turned to
    begins = begins[begins < len(turns) - 3]
    for (new, old), course in zip(TURNS, switched, strict=True):
        gap = always[old][:, begins - 1, HELD] - always[new][:, begins - 1, HELD]
        if not gap.any():  # a wrap without a cap is the same vented and closed: there is nothing to be felt
            continue
        left = [(course - always[new])[:, begins + k, 0] for k in (0, 1)]
        tissue[new] = (left[0] * gap).sum() / (gap**2).sum()
        fades[new] = np.clip((left[1] * gap).sum() / max((left[0] * gap).sum(), 1e-9), 0.0, 1.0)
    return tissue, fades


def hourly_from_daily(min_c: Floats, max_c: Floats, sunrise_h: Floats | float, sunset_h: Floats | float) -> Floats:
    """Air at each hour 0 to 23 of each day from the days' extremes (Parton & Logan 1981) [°C], shape (days, 24).

    The hours before a day's minimum belong to the night that the day before began. The first day's small hours come
    from a day before like it; the last night ends at its own minimum. Wrong by about 2 °C at a given hour and by 5 % in
    the count of frost hours (computed for Newark 2013 and two other hourly series, November to March).

    Parameters
    ----------
    min_c, max_c
        Extremes of consecutive days [°C], shape (days,). NaN is a missing day and spreads to the hours it shapes.
    sunrise_h, sunset_h
        Hours after each day's midnight [h], shape (days,) or one number.

    Raises
    ------
    ValueError
        A minimum above its maximum.
    """
    low, high = np.asarray(min_c, dtype=np.float64), np.asarray(max_c, dtype=np.float64)
    if (low > high).any():
        at = int(np.argmax(low > high))
        raise ValueError(f"min_c {low[at]:g} °C of day {at} lies above max_c {high[at]:g} °C")
    rise, down = (np.broadcast_to(one, low.shape) for one in (sunrise_h, sunset_h))
    before, hour = np.maximum(np.arange(low.size) - 1, 0), np.arange(24.0)
    own = _sine_and_night(hour, low, high, np.append(low[1:], low[-1]), rise, down)
    night_before = _sine_and_night(hour + 24.0, low[before], high[before], low, rise[before], down[before])
    return np.where(hour >= (rise + COLDEST_H)[:, None], own, night_before)


def _sine_and_night(hour: Floats, *days: Floats) -> Floats:
    """Sine by day, exponential by night, which is stretched so that it reaches the next minimum; that is ours.

    `days` are minimum, maximum, the next minimum [°C], sunrise and sunset [h], each (days,).
    """
    low, high, after, rise, down = (one[:, None] for one in days)

    def by_day(at_h: Floats) -> Floats:
        stretch = down - rise + 2.0 * (WARMEST_H - COLDEST_H)
        return np.asarray(low + (high - low) * np.sin(np.pi * (at_h - rise - COLDEST_H) / stretch))

    at_sunset, rest = by_day(down), np.exp(-NIGHT_DECAY)
    fall = np.exp(-NIGHT_DECAY * (hour - down) / (24.0 - (down - rise) + COLDEST_H))
    night = (after - at_sunset * rest + (at_sunset - after) * fall) / (1.0 - rest)
    return np.where(hour < down, by_day(hour), night)
