"""Invented gardens under invented weather, for the tests and benchmarks of the plan."""

from collections.abc import Sequence
from datetime import UTC, date, datetime

import numpy as np
import numpy.typing as npt

from rules.garden.cover import Cover, CoverState
from rules.garden.species import Organ
from rules.garden.tree import Phase, Site, Standing, Tree
from rules.heat.courses import CoverCourses, cover_courses
from rules.plan.garden_plan import Plan, plan
from rules.plan.garden_stakes import AtStake, at_stake
from rules.plan.prices import ASSUMED, PlanPrices
from rules.plan.situation import TreeSituation
from rules.plan.slots import Slot, longest_wait_h, slots_ahead
from rules.site.microclimate import at_tree
from rules.site.soil import site_soil
from rules.weather.daily_minima import DailyMinima
from rules.weather.hourly import Forecast
from rules.weather.members import members
from rules.wood.hardiness import Hardiness, HardinessSource, OrganHardiness
from tests.hourly import hours_of

Floats = npt.NDArray[np.float64]

SITE = Site(latitude_deg=40.5, longitude_deg=-105.0, elevation_m=1500.0, time_zone="America/Denver")
SOIL = site_soil(SITE.latitude_deg, SITE.elevation_m)
NOW = datetime(2026, 1, 10, 15, 0, tzinfo=UTC)  # 08:00 on the grower's clock


def days_of_air(low_c: Sequence[float], high_c: Sequence[float], start_h: int = 8) -> Floats:
    """Hourly air from 08:00 on: lowest at 07:00, warmest at 14:00, straight half waves between."""
    marks = np.arange(start_h, 24 * len(low_c))
    day, hour = np.divmod(marks, 24)
    lows, highs = np.append(low_c, low_c[-1]), np.asarray(high_c, dtype=float)
    before = np.append(highs[0], highs)
    rise = (1 - np.cos(np.pi * np.clip((hour - 7) / 7, 0, 1))) / 2
    fall_evening = (1 - np.cos(np.pi * (hour - 14) / 17)) / 2
    fall_morning = (1 - np.cos(np.pi * (hour + 10) / 17)) / 2
    by_day = lows[day] + (highs[day] - lows[day]) * rise
    by_evening = highs[day] + (lows[day + 1] - highs[day]) * fall_evening
    by_morning = before[day] + (lows[day] - before[day]) * fall_morning
    return np.asarray(np.where(hour < 7, by_morning, np.where(hour <= 14, by_day, by_evening)), dtype=np.float64)


def forecast_of(
    air_c: Floats, now: datetime = NOW, *, wind_m_s: float = 2.0, gust_m_s: Floats | None = None, cloud: float = 0.3
) -> Forecast:
    gust = 5.0 if gust_m_s is None else gust_m_s
    weather = hours_of(now, air_c, dew_point_c=air_c - 4.0, wind_m_s=wind_m_s, gust_m_s=gust, cloud_fraction=cloud)
    return Forecast(service="invented", issued_utc=now, fetched_utc=now, weather=weather)


def bearing(
    lt10_c: float = -9.0, lt50_c: float = -12.0, sd_c: float = 1.5, phase: Phase = Phase.RESTING, *, chill: bool = True
) -> Hardiness:
    wood = OrganHardiness(lt10_c=lt10_c, lt50_c=lt50_c, source="invented")
    return Hardiness(
        day=date(2026, 1, 10), phase=phase, lt10_c=lt10_c, lt50_c=lt50_c, sd_c=sd_c, watched=Organ.WOOD,
        source=HardinessSource.TABLE, label="invented", chill_met=chill, organs={Organ.WOOD: wood}, effects=(),
        doubts=(),
    )  # fmt: skip


def heat_of(garden: Sequence[TreeSituation], times: Sequence[Slot]) -> CoverCourses:
    """What each tree would feel with its cover left in each state, from the year's soil wave on."""
    weathers = [one.weather for one in garden]
    wait_h = longest_wait_h(times, weathers[0].air_c.shape[-1])
    return cover_courses([one.cover for one in garden], weathers, None, SOIL, wait_h)


def plan_of(
    garden: Sequence[TreeSituation],
    *,
    refused: Sequence[tuple[str, datetime]] = (),
    away: Sequence[tuple[date, date]] = (),
    climate: DailyMinima | None = None,
    prices: PlanPrices = ASSUMED,
) -> Plan:
    """The plan of a garden at NOW."""
    times = slots_ahead([one.weather for one in garden], SITE, NOW)
    return plan(garden, heat_of(garden, times), times, SITE, refused=refused, away=away, climate=climate, prices=prices)


def stakes_of(garden: Sequence[TreeSituation], times: Sequence[Slot], prices: PlanPrices = ASSUMED) -> AtStake:
    """What is at stake in a garden, nobody away and nothing refused."""
    return at_stake(garden, times, SITE, (), (), None, prices, heat_of(garden, times))


COVER = Cover(name="straw and blanket")


def situation(
    forecast: Forecast,
    now: datetime = NOW,
    *,
    name: str = "Porch fig",
    cover: Cover = COVER,
    state: CoverState = CoverState.VENTED,
    standing: Standing = Standing.OPEN,
    worth_trips: float = 40.0,
    wood_hardiness: Hardiness | None = None,
    count: int = 31,
    site: Site = SITE,
) -> TreeSituation:
    air_c = members(forecast, now, count)
    return TreeSituation(
        tree=Tree(name=name, species="fig", standing=standing, worth_trips=worth_trips),
        cover=cover,
        state=state,
        weather=at_tree(forecast.weather, site, standing, air_c=air_c),
        hardiness=wood_hardiness or bearing(),
    )
