"""Ripening: hand-worked years, 37 real ones, and what wood is worth."""

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.garden.doubt import DoubtKind
from rules.garden.species import RipeningHeat, ripening_heat
from rules.weather.daily_minima import DailyMinima
from rules.wood.ripening import Ripening, expected_leaf_out, ripening
from tests.high_plains import high_plains

FIG = ripening_heat("fig")
assert FIG is not None
LATITUDE_DEG = 40.4


def even_years(mean_c: float, freeze: tuple[int, int] | None, years: int = 12) -> DailyMinima:
    """Every day alike, but for one night of -5 °C in each year."""
    first, last = date(2001, 1, 1), date(2000 + years, 12, 31)
    days = [first + timedelta(i) for i in range((last - first).days + 1)]
    cold = [freeze == (day.month, day.day) for day in days]
    return DailyMinima(
        first=first,
        min_c=np.where(cold, -5.0, mean_c - 6),
        max_c=np.where(cold, 2 * mean_c + 5.0, mean_c + 6),  # the mean of the day stays what it was
    )


def asked(past: DailyMinima | None, leaf_out: date = date(2027, 5, 10), heat: RipeningHeat | None = FIG) -> Ripening:
    return ripening(past, heat, leaf_out, LATITUDE_DEG)


def test_at_24_c_an_early_fig_is_ripe_90_to_102_days_after_leaf_out() -> None:
    # Common practice: figlets at about 30 days, ripe 60 (Florea) to 72 days (Mount Etna kinds) after that, at 24 °C
    past = even_years(24, (10, 10))
    leaf_out = date(2027, 5, 10)
    ripe = ripening(past, FIG, leaf_out, LATITUDE_DEG, leaf_out_sd_days=0).ripe_with_wood
    assert ripe is not None
    assert ripe.early is not None
    assert ripe.late is not None
    assert (
        89 <= (ripe.early - leaf_out).days <= (ripe.late - leaf_out).days <= 103
    )  # the range is rounded to 50 degree-days


def test_a_hand_worked_year() -> None:
    # 10 degree-days a day and 1000 to ripen: 100 days from 1 June is 9 September, five weeks on 14 October
    heat = RipeningHeat(low_c_d=1000, high_c_d=1000, base_c=10, source="invented")
    past = even_years(20, (9, 30))
    crop = ripening(past, heat, date(2027, 6, 1), LATITUDE_DEG, leaf_out_sd_days=0)
    assert crop.ripe_with_wood is not None
    assert crop.ripe_with_wood.half == date(2027, 9, 9)
    assert crop.killing_freeze is not None
    assert crop.killing_freeze.half == date(2027, 9, 30)
    # Even the earliest shoots, 3.4 weeks later, ripen on 3 October
    assert (crop.with_wood, crop.from_ground) == (1.0, 0.0)
    assert crop.ripe_from_ground is not None
    assert crop.ripe_from_ground.half == date(2027, 10, 14)
    assert crop.weeks_gained == pytest.approx(5.0)
    assert crop.years == 12


def test_shoots_from_the_ground_seldom_ripen_where_wood_mostly_does() -> None:
    crop = asked(high_plains())
    assert crop.with_wood is not None
    assert crop.from_ground is not None
    # Growers of cold, short summers say so of fig (common practice): the reason to save wood
    assert crop.with_wood > 0.7
    assert crop.from_ground < 0.3
    assert crop.years == 37


def test_the_killing_freeze_is_that_of_the_freeze_dates() -> None:
    # 28 °F in the High Plains series: plain quantiles 27 September, 9 and 19 October, read off 37 autumns
    freeze = asked(high_plains()).killing_freeze
    assert freeze is not None
    for found, known in (
        (freeze.early, date(2027, 9, 27)),
        (freeze.half, date(2027, 10, 9)),
        (freeze.late, date(2027, 10, 19)),
    ):
        assert found is not None
        assert abs((found - known).days) <= 2  # another kind of quantile: a year's own date, none in between


@given(leaf_out=st.dates(date(2027, 4, 15), date(2027, 6, 20)), earlier_days=st.integers(0, 30))
def test_an_earlier_leaf_out_never_lowers_the_chance_and_wood_is_never_worse_than_ground(
    leaf_out: date, earlier_days: int
) -> None:
    late, early = asked(high_plains(), leaf_out), asked(high_plains(), leaf_out - timedelta(earlier_days))
    assert late.with_wood is not None
    assert late.from_ground is not None
    assert early.with_wood is not None
    # 0.01: another leap day of the window falls inside or outside the season
    assert early.with_wood >= late.with_wood - 0.01
    assert late.with_wood >= late.from_ground


@given(warmer_c=st.floats(0, 4), need_c_d=st.floats(900, 1600), more_c_d=st.floats(0, 500))
def test_a_wall_that_keeps_frost_off_helps_and_a_crop_that_needs_more_heat_is_less_likely(
    warmer_c: float, need_c_d: float, more_c_d: float
) -> None:
    heats = [RipeningHeat(low_c_d=c_d, high_c_d=c_d, base_c=10, source="x") for c_d in (need_c_d, need_c_d + more_c_d)]
    leaf_out = date(2027, 5, 15)
    less, more = (ripening(high_plains(), heat, leaf_out, LATITUDE_DEG).with_wood for heat in heats)
    wall = ripening(high_plains(), heats[1], leaf_out, LATITUDE_DEG, offset_c=warmer_c).with_wood
    assert less is not None
    assert more is not None
    assert wall is not None
    assert less >= more
    assert wall >= more


def test_a_hot_summer_so_far_brings_the_date_forward() -> None:
    days = 90
    hot = DailyMinima(first=date(2027, 5, 10), min_c=np.full(days, 20.0), max_c=np.full(days, 36.0))
    usual = asked(high_plains())
    now = ripening(high_plains(), FIG, date(2027, 5, 10), LATITUDE_DEG, leaf_out_sd_days=0, this_year=hot)
    assert usual.with_wood is not None
    assert now.with_wood is not None
    assert now.with_wood > usual.with_wood
    assert now.ripe_with_wood is not None
    # 18 degree-days a day: 1250 on day 70, 1450 on day 81
    assert now.ripe_with_wood.half == date(2027, 5, 10) + timedelta(75)


def test_southern_crops_ripen_half_a_year_on() -> None:
    north = high_plains()
    shift = timedelta((date(1982, 7, 2) - date(1982, 1, 1)).days)
    south = DailyMinima(first=north.first + shift, min_c=north.min_c, max_c=north.max_c)
    here, there = asked(north), ripening(south, FIG, date(2027, 5, 10) + shift, -LATITUDE_DEG)
    assert here.with_wood is not None
    assert here.from_ground is not None
    # 0.02: leap days shift some years by a day
    assert [there.with_wood, there.from_ground] == pytest.approx([here.with_wood, here.from_ground], abs=0.02)
    assert there.killing_freeze is not None
    assert there.killing_freeze.half is not None
    assert there.killing_freeze.half.year == 2028


def test_a_place_without_killing_freezes_has_no_date_for_one() -> None:
    crop = asked(even_years(24, None))
    assert crop.killing_freeze is not None
    assert crop.killing_freeze.half is None
    assert (crop.with_wood, crop.from_ground) == (1.0, 1.0)


def test_what_is_not_known_is_said() -> None:
    unknown_heat = asked(high_plains(), heat=ripening_heat("kaki"))
    assert (unknown_heat.with_wood, [d.kind for d in unknown_heat.doubts]) == (None, [DoubtKind.RIPENING_GUESSED])
    only_minima = DailyMinima(first=date(2001, 1, 1), min_c=np.zeros(9000))
    for past in (None, only_minima, even_years(20, (9, 30), years=8)):
        crop = asked(past)
        assert crop.with_wood is None
        assert DoubtKind.NO_PAST_WINTERS in [d.kind for d in crop.doubts]
    assert DoubtKind.FEW_PAST_WINTERS in [d.kind for d in asked(even_years(20, (9, 30))).doubts]
    assert [(d.kind, d.amount) for d in asked(high_plains()).doubts] == [(DoubtKind.RIPENING_GUESSED, 100.0)]


def test_a_summer_with_ten_days_missing_is_left_out() -> None:
    past = even_years(20, (9, 30))
    for missing, kept in ((9, 12), (10, 11)):
        gapped = past.min_c.copy()
        start = (date(2005, 7, 1) - past.first).days
        gapped[start : start + missing] = np.nan
        assert asked(DailyMinima(first=past.first, min_c=gapped, max_c=past.max_c)).years == kept


def test_leaf_out_is_expected_when_past_springs_had_warmed_enough() -> None:
    # 5 degree-days a day from 1 January: 100 reached on the 20th
    assert expected_leaf_out(even_years(15, None), 2027, 46.0) == date(2027, 1, 20)
    assert expected_leaf_out(even_years(15, None), 2027, -46.0) == date(2027, 7, 20)
    assert expected_leaf_out(None, 2027, 46.0) is None
    spring = expected_leaf_out(high_plains(), 2027, LATITUDE_DEG)
    assert spring is not None
    assert spring.month == 5


def test_a_spread_that_leaves_the_season_is_refused() -> None:
    with pytest.raises(ValueError, match="leaf_out_sd_days is -1, believable is 0 to 30"):
        ripening(high_plains(), FIG, date(2027, 5, 10), LATITUDE_DEG, leaf_out_sd_days=-1)
