"""From the open field to a tree: the offset of clear calm nights, shelter, hidden sky, and what is guessed."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.garden.doubt import DoubtKind
from rules.garden.tree import Site, Standing
from rules.site.microclimate import (
    PRIORS,
    SiteOffset,
    TreeWeather,
    at_tree,
    night_share,
    radiation_factor,
)
from rules.site.sky import sky_emissivity
from rules.site.sun import clear_sky_sun_w_m2, elevation_sine, sun_day
from rules.weather.hourly import HourlyWeather
from tests.hourly import hours_of

Floats = npt.NDArray[np.float64]
SITE = Site(latitude_deg=46.0, longitude_deg=-114.0, elevation_m=1000, time_zone="America/Denver")
START = datetime(2026, 1, 14, 19, tzinfo=UTC)  # local noon
HOURS = 48
UNKNOWN = np.full(HOURS, np.nan)
EXACT = SiteOffset(radiation_c=-4.0, mixed_c=0.5, radiation_sd_c=0.8, mixed_sd_c=0.6)


def weather_of(cloud: float = 0.0, wind: float = 0.0, air: float = -5.0, dew: float = -9.0) -> HourlyWeather:
    told = {"dew_point_c": dew, "wind_m_s": wind, "gust_m_s": 2 * wind, "cloud_fraction": cloud}
    return hours_of(START, np.full(HOURS, air), **told)


def night_offset_c(cloud: float, wind: float, standing: Standing = Standing.OPEN) -> float:
    """Offset in the middle of the first night [°C]."""
    known = EXACT if standing is Standing.OPEN else None
    return float(at_tree(weather_of(cloud, wind), SITE, standing, offset=known).offset_c[13])


def test_a_clear_calm_night_has_the_whole_offset_and_wind_takes_it_away() -> None:
    assert night_offset_c(0, 0) == pytest.approx(-4.0 + 0.5)
    assert night_offset_c(0, 2) == pytest.approx(-2.0 + 0.5)
    assert night_offset_c(0, 4) == night_offset_c(0, 9) == pytest.approx(0.5)
    assert night_offset_c(1, 0) == pytest.approx(-4.0 * 0.16 + 0.5)  # an overcast lets 0.16 of the loss through


@given(cloud=st.floats(0, 1), wind=st.floats(0, 12), more=st.floats(0, 1), stronger=st.floats(0, 12))
def test_cloud_and_wind_only_ever_shrink_a_cold_pool(cloud: float, wind: float, more: float, stronger: float) -> None:
    pool = night_offset_c(cloud, wind, Standing.HOLLOW)
    assert pool <= night_offset_c(max(cloud, more), max(wind, stronger), Standing.HOLLOW) <= 0


def test_the_night_begins_at_sunset_is_whole_two_hours_on_and_over_two_hours_after_sunrise() -> None:
    # FAO 2005: the night curve begins two hours after sunset. Marks are hourly: only those well inside are claimed
    share, events = night_share(weather_of(), SITE), sun_day(date(2026, 1, 14), SITE)
    rise = sun_day(date(2026, 1, 15), SITE).sunrise_utc
    assert events.sunset_utc is not None
    assert rise is not None
    for moment, dark in zip(weather_of().times_utc()[:24], share, strict=False):
        if moment < events.sunset_utc or moment > rise + timedelta(hours=2):
            assert dark == 0
        elif events.sunset_utc + timedelta(hours=2) < moment < rise:
            assert dark == 1
        elif moment < events.sunset_utc + timedelta(hours=2):
            assert dark == pytest.approx((moment - events.sunset_utc) / timedelta(hours=2), abs=0.09)  # ten minutes


def test_by_day_the_tree_has_the_air_of_the_field() -> None:
    tree = at_tree(weather_of(), SITE, Standing.HOLLOW)
    assert (tree.offset_c[:4] == 0).all()
    assert (tree.air_c[:4] == -5.0).all()


# Ranges on clear calm nights, from memory: wall of a heated house +1 to +3, eave +1 to +2, hollow -2 to -5, mid-slope
# +1 to +3; nothing known for court and pot
@pytest.mark.parametrize(
    ("standing", "low_c", "high_c"),
    [
        (Standing.OPEN, 0, 0),
        (Standing.WALL, 1, 3),
        (Standing.EAVE, 1, 2),
        (Standing.HOLLOW, -5, -2),
        (Standing.SLOPE, 1, 3),
        (Standing.COURT, -1, 1),
        (Standing.POT, 0, 0),
    ],
)
def test_the_prior_of_each_standing_lies_in_its_range_and_says_it_is_guessed(
    standing: Standing, low_c: float, high_c: float
) -> None:
    tree = at_tree(weather_of(), SITE, standing)
    assert low_c <= tree.offset_c[13] <= high_c
    assert tree.offset_sd_c >= 1.0  # the proposal's 1-2 °C for grid against tree, or more
    assert tree.offset_sd_c >= (high_c - low_c) / 2
    assert [d.amount for d in tree.doubts if d.kind is DoubtKind.SITE_GUESSED] == [tree.offset_sd_c]


def test_every_standing_has_a_prior() -> None:
    assert set(PRIORS) == set(Standing)


def test_a_learned_offset_is_used_and_no_longer_doubted() -> None:
    tree = at_tree(weather_of(), SITE, Standing.WALL, offset=EXACT)
    assert tree.doubts == ()
    assert tree.offset_sd_c == pytest.approx(1.0)  # 0.8 and 0.6 at right angles
    cloudy = at_tree(weather_of(cloud=1.0, wind=6.0), SITE, Standing.WALL, offset=EXACT)
    assert cloudy.offset_sd_c == pytest.approx(0.6)  # no clear calm hour: the mixed term alone


def test_unknown_cloud_and_wind_take_the_cold_side_and_are_counted() -> None:
    blind = replace(weather_of(), cloud_fraction=UNKNOWN, wind_m_s=UNKNOWN)
    hollow, wall = at_tree(blind, SITE, Standing.HOLLOW), at_tree(blind, SITE, Standing.WALL)
    assert hollow.offset_c[13] == pytest.approx(-3.5)  # as on the clearest and calmest night
    assert wall.offset_c[13] == pytest.approx(0.0)  # a wall's warmth is not promised
    assert (hollow.cloud_fraction == 0).all()
    counts = {d.kind: d.amount for d in hollow.doubts}
    assert counts[DoubtKind.NO_CLOUD] == counts[DoubtKind.NO_WIND] == HOURS


def test_a_known_overcast_counts_though_the_wind_is_unknown() -> None:
    half_blind = replace(weather_of(cloud=1.0), wind_m_s=UNKNOWN)
    assert at_tree(half_blind, SITE, Standing.HOLLOW).offset_c[13] == pytest.approx(-3.5 * 0.16)


def test_an_unknown_dew_point_is_taken_two_below_the_lowest_air_and_counted() -> None:
    air = -2.0 - 6.0 * np.cos(2 * np.pi * (np.arange(HOURS) - 18) / 24)
    dry = replace(weather_of(), air_c=air, dew_point_c=np.where(np.arange(HOURS) == 20, -11.0, np.nan))
    tree = at_tree(dry, SITE, Standing.OPEN)
    assert tree.dew_point_c[20] == -11.0
    assert np.delete(tree.dew_point_c, 20) == pytest.approx(-10.0)
    assert {d.kind: d.amount for d in tree.doubts}[DoubtKind.NO_DEW_POINT] == HOURS - 1


def test_missing_air_stays_missing_and_nothing_else_goes_with_it() -> None:
    weather = weather_of()
    weather.air_c[7] = np.nan
    tree = at_tree(weather, SITE, Standing.HOLLOW)
    assert np.flatnonzero(np.isnan(tree.air_c)).tolist() == [7]
    assert not np.isnan(tree.wind_m_s).any()
    assert not np.isnan(tree.sun_side_w_m2).any()


def test_air_never_holds_more_water_than_it_can() -> None:
    tree = at_tree(weather_of(dew=-5.0), SITE, Standing.HOLLOW)
    assert (tree.dew_point_c <= tree.air_c).all()
    assert tree.dew_point_c[13] == pytest.approx(-8.5)


def test_wind_falls_from_ten_metres_to_the_stem_and_behind_a_wall() -> None:
    # FAO-56 table 4 from memory: 0.75 from 10 m down to 2 m over grass
    assert at_tree(weather_of(wind=4), SITE, Standing.OPEN).wind_m_s[0] == pytest.approx(3.0, abs=0.02)
    walled = at_tree(weather_of(wind=4), SITE, Standing.WALL)
    assert 0 < walled.wind_m_s[0] < 3.0
    assert walled.gust_m_s[0] == 8.0  # a corner may speed a gust up


def test_a_wall_or_an_eave_hides_half_the_sky() -> None:
    bare, wall, eave = (at_tree(weather_of(), SITE, s) for s in (Standing.OPEN, Standing.WALL, Standing.EAVE))
    assert (bare.sky_share_side, bare.sky_share_top) == (0.45, 0.9)
    for hidden in (wall, eave):
        assert hidden.sky_share_side == pytest.approx(bare.sky_share_side / 2)
        assert hidden.sky_share_top == pytest.approx(bare.sky_share_top / 2)


def test_the_sky_is_that_of_the_trees_own_air() -> None:
    tree = at_tree(weather_of(cloud=0.3), SITE, Standing.HOLLOW)
    assert tree.sky_emissivity == pytest.approx(sky_emissivity(tree.air_c, tree.dew_point_c, 0.3))


def test_the_sun_is_cloudless_by_default_and_the_services_where_it_speaks() -> None:
    computed = at_tree(weather_of(), SITE, Standing.OPEN)
    sine = elevation_sine(START.timestamp() + 3600.0 * np.arange(HOURS), SITE)
    assert computed.sun_top_w_m2 == pytest.approx(clear_sky_sun_w_m2(sine))
    dark = at_tree(replace(weather_of(), sun_w_m2=np.zeros(HOURS)), SITE, Standing.OPEN)
    lit = computed.sun_top_w_m2 > 50
    assert (dark.sun_top_w_m2[lit] == 0).all()
    assert (computed.sun_side_w_m2[lit] > 0.4 * computed.sun_top_w_m2[lit]).all()  # a low winter sun finds the side


def same(a: TreeWeather, b: TreeWeather, row: int) -> None:
    for name in ("air_c", "dew_point_c", "sky_emissivity"):
        assert np.array_equal(getattr(a, name)[row], getattr(b, name)), name


def test_each_member_is_the_tree_of_its_own_air() -> None:
    airs: Floats = np.array([[-9.0], [-5.0], [1.0]]) + np.zeros(HOURS)
    together = at_tree(weather_of(), SITE, Standing.HOLLOW, air_c=airs)
    assert together.air_c.shape == together.sky_emissivity.shape == (3, HOURS)
    for row in range(3):
        same(together, at_tree(replace(weather_of(), air_c=airs[row]), SITE, Standing.HOLLOW), row)


@given(shift=st.floats(0, 10), standing=st.sampled_from(Standing), cloud=st.floats(0, 1), wind=st.floats(0, 8))
def test_a_warmer_field_is_never_a_colder_tree(shift: float, standing: Standing, cloud: float, wind: float) -> None:
    weather = weather_of(cloud, wind)
    warmer = at_tree(weather, SITE, standing, air_c=weather.air_c + shift).air_c
    assert warmer - at_tree(weather, SITE, standing).air_c == pytest.approx(shift)


def test_members_of_other_hours_are_refused() -> None:
    with pytest.raises(ValueError, match=r"air_c has shape \(3, 5\), its last axis must be the 48 hours"):
        at_tree(weather_of(), SITE, Standing.OPEN, air_c=np.zeros((3, 5)))


def test_weather_of_no_hours_is_refused() -> None:
    none: Floats = np.zeros(0)
    names = ("air_c", "dew_point_c", "wind_m_s", "gust_m_s", "cloud_fraction", "sun_w_m2")
    with pytest.raises(ValueError, match="at least 1 hour, got 0"):
        at_tree(HourlyWeather(start_utc=START, **dict.fromkeys(names, none)), SITE, Standing.OPEN)


@pytest.mark.parametrize("hours", [1, 24, 25, 26])
def test_short_weather_without_dew_point_has_its_own_lowest_hour(hours: int) -> None:
    air: Floats = np.linspace(0.0, -6.0, hours)
    assert at_tree(hours_of(START, air), SITE, Standing.OPEN).dew_point_c[-1] == pytest.approx(air[-1] - 2.0)


def test_an_hour_of_unknown_cloud_is_neither_clear_nor_overcast() -> None:
    assert np.isnan(radiation_factor(replace(weather_of(), cloud_fraction=UNKNOWN))).all()


def test_a_polar_summer_without_a_night_has_no_offset() -> None:
    north = Site(latitude_deg=70.0, longitude_deg=25.0, elevation_m=0, time_zone="Europe/Helsinki")
    june = replace(weather_of(), start_utc=datetime(2026, 6, 20, 12, tzinfo=UTC))
    assert (at_tree(june, north, Standing.HOLLOW).offset_c == 0).all()
