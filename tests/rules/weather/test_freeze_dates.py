"""Freeze dates against published station tables and 37 real winters, and what becomes of bad days."""

from datetime import date, timedelta
from functools import partial
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.garden.doubt import DoubtKind
from rules.garden.units import c_from_f
from rules.weather.climatology import nights_of_past_years
from rules.weather.daily_minima import DailyMinima, RefusedDay, Rejection, daily_minima
from rules.weather.freeze_dates import (
    FreezeLaw,
    freeze_chance_later,
    freeze_dates,
    freeze_law,
)
from rules.weather.freeze_seasons import WhichFreeze, date_of, day_of_year, freeze_days
from rules.weather.minima_table import parse_daily_minima
from tests.high_plains import high_plains

SPRING, AUTUMN = WhichFreeze.LAST_IN_SPRING, WhichFreeze.FIRST_IN_AUTUMN


def calendar_day(text: str) -> int:
    """Day of a common year of a date as the tables print it: "Jun 20"."""
    months = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]
    month, day = text.split()
    return day_of_year(date(2023, months.index(month) + 1, int(day)), 2023)


# NOAA freeze/frost table, two Montana stations: the threshold is reached later than the date in 10, 20 … 90 % of years
# (read in a copy; period of record not stated).
STATIONS = """
Stevensville 36: Jul 15, Jul 9, Jul 4, Jul 1, Jun 27, Jun 24, Jun 20, Jun 16, Jun 10
Stevensville 32: Jun 20, Jun 13, Jun 9, Jun 4, Jun 1, May 28, May 23, May 19, May 12
Stevensville 28: May 30, May 25, May 22, May 18, May 16, May 13, May 9, May 6, May 1
Stevensville 24: May 13, May 9, May 5, May 2, Apr 30, Apr 27, Apr 24, Apr 21, Apr 16
Stevensville 20: Apr 29, Apr 24, Apr 20, Apr 16, Apr 13, Apr 10, Apr 7, Apr 3, Mar 29
Stevensville 16: Apr 11, Apr 3, Mar 28, Mar 23, Mar 19, Mar 14, Mar 9, Mar 4, Feb 24
Moccasin 36: Jul 3, Jun 27, Jun 23, Jun 19, Jun 16, Jun 12, Jun 9, Jun 4, May 29
Moccasin 32: Jun 16, Jun 9, Jun 4, May 31, May 26, May 22, May 18, May 13, May 6
Moccasin 28: May 21, May 18, May 15, May 13, May 11, May 9, May 7, May 5, May 1
Moccasin 24: May 8, May 4, May 1, Apr 28, Apr 26, Apr 23, Apr 21, Apr 17, Apr 13
Moccasin 20: Apr 28, Apr 23, Apr 19, Apr 16, Apr 13, Apr 9, Apr 6, Apr 2, Mar 28
Moccasin 16: Apr 22, Apr 16, Apr 12, Apr 9, Apr 5, Apr 2, Mar 30, Mar 25, Mar 20
"""
TABLE = {
    head: [calendar_day(cell.strip()) for cell in cells.split(",")]
    for head, cells in (line.split(":") for line in STATIONS.strip().splitlines())
}
# Mean and sd by least squares of the day on the normal score of the chance, computed from the same table.
FITTED = {
    "Stevensville": [(178.3, 13.6), (151.6, 15.2), (135.6, 11.4), (119.7, 10.6), (103.3, 12.2), (77.8, 17.9)],
    "Moccasin": [(166.7, 13.6), (146.4, 16.1), (131.1, 7.8), (115.7, 9.8), (102.6, 12.3), (95.3, 12.9)],
}
TENTHS = [tenth / 10 for tenth in range(1, 10)]


@pytest.mark.parametrize("head", TABLE)
def test_two_dates_of_a_published_table_bring_back_the_other_seven(head: str) -> None:
    days = TABLE[head]
    sd_days = (days[0] - days[4]) / NormalDist().inv_cdf(0.9)
    law = FreezeLaw(which=SPRING, threshold_c=0.0, share=1.0, mean_day=days[4], sd_day=sd_days)
    found = [law.day_at(chance) for chance in TENTHS]
    # 1.5 days: both given dates are rounded to whole days, and the far tail magnifies that
    assert found == pytest.approx(days, abs=1.5)


@pytest.mark.parametrize("head", TABLE)
def test_a_published_table_is_a_plain_normal(head: str) -> None:
    station, threshold_f = head.split()
    mean, sd = FITTED[station][[36, 32, 28, 24, 20, 16].index(int(threshold_f))]
    law = FreezeLaw(which=SPRING, threshold_c=0.0, share=1.0, mean_day=mean, sd_day=sd)
    # 0.6 day: the largest residual of the fits; 0.1 for their printed digits
    assert [law.day_at(chance) for chance in TENTHS] == pytest.approx(TABLE[head], abs=0.7)
    assert [law.chance(day) for day in TABLE[head]] == pytest.approx(TENTHS, abs=0.03)


# 37 years of the High Plains series: mean, sd, then dates beyond which 90, 50, 10 % of springs froze (before which 10,
# 50, 90 % of autumns did), by the normal and by plain quantiles. Computed from the file, leap years as they stand.
SEASONS = [
    (SPRING, 36, 138.6, 11.7, "May 4, May 19, Jun 3", "May 6, May 17, Jun 2"),
    (SPRING, 32, 129.6, 12.5, "Apr 24, May 10, May 26", "Apr 27, May 10, May 26"),
    (SPRING, 28, 117.5, 11.6, "Apr 13, Apr 28, May 12", "Apr 11, Apr 27, May 11"),
    (SPRING, 24, 107.0, 12.2, "Apr 1, Apr 17, May 3", "Apr 7, Apr 16, May 2"),
    (AUTUMN, 36, 264.6, 7.3, "Sep 12, Sep 22, Oct 1", "Sep 13, Sep 22, Sep 30"),
    (AUTUMN, 32, 271.0, 9.7, "Sep 16, Sep 28, Oct 10", "Sep 17, Sep 28, Oct 9"),
    (AUTUMN, 28, 282.3, 9.4, "Sep 27, Oct 9, Oct 21", "Sep 27, Oct 9, Oct 19"),
    (AUTUMN, 24, 290.5, 10.7, "Oct 4, Oct 18, Oct 31", "Oct 6, Oct 18, Oct 28"),
]


def law_of(threshold_f: float, which: WhichFreeze) -> FreezeLaw:
    law, doubts = freeze_law(high_plains(), c_from_f(threshold_f), which, 40.4)
    assert law is not None
    assert doubts == ()
    return law


def seen_at(law: FreezeLaw, chance: float) -> float:
    """Day of the year that left this chance in past seasons, all of which froze."""
    assert law.past is not None
    return float(np.quantile(law.past.day_of_year, 1 - chance if law.which is SPRING else chance))


@pytest.mark.parametrize(("which", "threshold_f", "mean", "sd", "normal", "plain"), SEASONS)
def test_37_real_winters_give_their_known_dates(
    which: WhichFreeze, threshold_f: int, mean: float, sd: float, normal: str, plain: str
) -> None:
    law = law_of(threshold_f, which)
    chances = (0.9, 0.5, 0.1) if which is SPRING else (0.1, 0.5, 0.9)
    assert law.past is not None
    assert len(law.past.years) == 37
    assert [law.mean_day, law.sd_day] == pytest.approx([mean, sd], abs=0.06)  # printed to one decimal
    for found, printed in ((law.day_at, normal), (partial(seen_at, law), plain)):
        dates = [date_of(day, 2023) for chance in chances if (day := found(chance)) is not None]
        assert [day_of_year(day, 2023) for day in dates] == [calendar_day(cell.strip()) for cell in printed.split(",")]


@pytest.mark.parametrize(("which", "threshold_f"), [row[:2] for row in SEASONS])
def test_the_normal_and_the_plain_dates_differ_by_no_more_than_37_winters_scatter(
    which: WhichFreeze, threshold_f: int
) -> None:
    law = law_of(threshold_f, which)
    for chance, density in ((0.1, 0.1755), (0.5, 0.3989), (0.9, 0.1755)):
        # Standard error of a sample quantile, sqrt(p (1 - p) / n) / density; two of them
        scatter = 2 * np.sqrt(chance * (1 - chance) / 37) / density * law.sd_day
        by_normal, by_share = law.day_at(chance), seen_at(law, chance)
        assert by_normal is not None
        assert by_share == pytest.approx(by_normal, abs=scatter)


def test_a_threshold_without_half_a_unit_misses_whole_degrees_fahrenheit() -> None:
    past = high_plains()
    strict = DailyMinima(first=past.first, min_c=past.min_c, half_unit_c=0.0)
    law, _ = freeze_law(strict, c_from_f(28), SPRING, 40.4)
    assert law is not None
    assert law.mean_day == pytest.approx(116.4, abs=0.06)  # the known slip: 28 °F stands in the file as -2.22


def test_every_real_day_passes_the_checks_for_bad_days() -> None:
    assert high_plains().refused == ()
    assert float(np.nanmin(high_plains().min_c)) == -37.10  # the file's lowest, 22 December 1989


def test_the_sentence_for_a_grower_has_its_three_dates() -> None:
    last = freeze_dates(high_plains(), -2.0, SPRING, 2027, 40.4)
    assert last.bold is not None
    assert last.half is not None
    assert last.safe is not None
    assert last.bold < last.half < last.safe
    assert (last.share, last.winters, last.doubts) == (1.0, 37, ())
    chance, _ = freeze_chance_later(high_plains(), -2.0, last.safe, 40.4)
    assert chance == pytest.approx(0.1, abs=0.02)  # the date is a whole day
    first = freeze_dates(high_plains(), -2.0, AUTUMN, 2027, 40.4)
    assert first.safe is not None
    autumn, _ = freeze_law(high_plains(), -2.0, AUTUMN, 40.4)
    assert autumn is not None
    assert autumn.chance(day_of_year(first.safe, 2027)) == pytest.approx(0.1, abs=0.03)


def test_a_warmer_spot_is_through_with_frost_sooner() -> None:
    open_field, wall = (
        freeze_dates(high_plains(), -2.0, SPRING, 2027, 40.4, offset_c=offset_c).safe for offset_c in (0.0, 2.0)
    )
    colder = freeze_dates(high_plains(), -4.0, SPRING, 2027, 40.4).safe
    assert open_field is not None
    assert wall is not None
    assert wall < open_field
    assert wall == colder  # two degrees of wall are two degrees of threshold


@given(
    colder_c=st.floats(-9, 2),
    warmer_by_c=st.floats(0, 4),
    day=st.integers(30, 200),
    which=st.sampled_from(list(WhichFreeze)),
)
def test_a_colder_threshold_is_met_later_in_autumn_and_last_met_sooner_in_spring(
    colder_c: float, warmer_by_c: float, day: int, which: WhichFreeze
) -> None:
    cold, warm = (freeze_days(high_plains(), t, which, 40.4).day_of_year for t in (colder_c, colder_c + warmer_by_c))
    assert (cold <= warm).all() if which is SPRING else (cold >= warm).all()
    law, _ = freeze_law(high_plains(), colder_c, which, 40.4)
    assert law is not None
    later = law.chance(day) - law.chance(day + 1)
    assert later >= 0 if which is SPRING else later <= 0


def invented(first: date, years: int, cold_nights: dict[date, float], mild_c: float = 8.0) -> DailyMinima:
    """Mild nights without end, save those given."""
    days = (date(first.year + years, first.month, first.day) - first).days
    minima = np.full(days, mild_c)
    for day, air_c in cold_nights.items():
        minima[(day - first).days] = air_c
    return DailyMinima(first=first, min_c=minima, half_unit_c=0.05)


def test_a_mild_site_has_freezes_in_some_seasons_only() -> None:
    # 12 of 20 springs freeze, on days 60, 62 … 82: q = 0.6, and the law is q times the normal
    nights = {date(2001 + i, 1, 1) + timedelta(59 + 2 * i): -1.0 for i in range(12)}
    past = invented(date(2000, 8, 1), 20, nights)
    law, doubts = freeze_law(past, 0.0, SPRING, 45.0)
    assert law is not None
    assert law.share == pytest.approx(0.6)
    assert law.mean_day == pytest.approx(71.0)
    assert law.chance(71.0) == pytest.approx(0.3)
    assert law.chance(-100) == pytest.approx(0.6)
    assert law.chance_seen(71.0) == pytest.approx(6 / 20)
    assert law.day_at(0.3) == pytest.approx(71.0)
    assert law.day_at(0.6) is None  # not even six in ten freeze at all
    assert [d.kind for d in doubts] == [DoubtKind.FEW_PAST_WINTERS]


def test_a_site_without_frost_has_no_date_and_no_chance() -> None:
    never = invented(date(2000, 8, 1), 31, {})
    dates = freeze_dates(never, 0.0, SPRING, 2040, 45.0)
    assert (dates.safe, dates.half, dates.bold, dates.share, dates.doubts) == (None, None, None, 0.0, ())
    assert freeze_chance_later(never, 0.0, date(2040, 1, 1), 45.0)[0] == 0.0


def test_a_last_freeze_in_december_belongs_to_the_spring_after_it() -> None:
    nights = {date(2000 + i, 12, 20): -1.0 for i in range(12)}
    law, _ = freeze_law(invented(date(2000, 8, 1), 12, nights), 0.0, SPRING, 45.0)
    assert law is not None
    assert law.past is not None
    assert law.past.years[0] == 2001
    assert law.mean_day == pytest.approx(-10.75, abs=0.5)  # 20 December is 11 days before 31 December, day 0
    assert date_of(law.mean_day, 2031) == date(2030, 12, 20)


def test_southern_gardens_mirror_northern_ones_by_half_a_year() -> None:
    north = high_plains()
    shift = (date(1982, 7, 2) - date(1982, 1, 1)).days
    south = DailyMinima(first=north.first + timedelta(shift), min_c=north.min_c)
    for which in WhichFreeze:
        northern, southern = (freeze_law(past, 0.0, which, lat)[0] for past, lat in ((north, 40.4), (south, -40.4)))
        assert northern is not None
        assert southern is not None
        # 0.6: leap days fall in other places; the Northern spring's half year later is the southern spring
        turned = shift if which is SPRING else shift - 365.25
        assert southern.mean_day == pytest.approx(northern.mean_day + turned, abs=0.6)
        assert southern.sd_day == pytest.approx(northern.sd_day, abs=0.6)
    last = freeze_dates(south, 0.0, SPRING, 2027, -40.4)
    assert last.half is not None
    assert last.half.month == 11


def test_ten_missing_days_where_the_freeze_could_hide_make_a_season_void() -> None:
    nights = {date(2001 + i, 4, 20): -1.0 for i in range(12)}
    past = invented(date(2000, 8, 1), 12, nights)
    for missing, kept in ((9, 12), (10, 11)):
        gapped = past.min_c.copy()
        start = (date(2005, 5, 1) - past.first).days
        gapped[start : start + missing] = np.nan
        days = freeze_days(DailyMinima(first=past.first, min_c=gapped), 0.0, SPRING, 45.0)
        assert len(days.years) == kept
    assert days.void_years == (2005,)
    before = past.min_c.copy()
    before[(date(2005, 1, 1) - past.first).days : (date(2005, 4, 1) - past.first).days] = np.nan
    kept_days = freeze_days(DailyMinima(first=past.first, min_c=before), 0.0, SPRING, 45.0)
    assert len(kept_days.years) == 12  # a gap before the last freeze hides nothing later


def test_nothing_known_is_said_and_not_guessed() -> None:
    chance, doubts = freeze_chance_later(None, -2.0, date(2027, 5, 1), 46.0)
    assert chance is None
    assert [d.kind for d in doubts] == [DoubtKind.NO_PAST_WINTERS]
    nine = invented(date(2000, 8, 1), 9, {date(2001 + i, 4, 20): -1.0 for i in range(9)})
    dates = freeze_dates(nine, 0.0, SPRING, 2027, 46.0)
    assert (dates.half, dates.winters) == (None, 0)
    assert [(d.kind, d.amount) for d in dates.doubts] == [(DoubtKind.NO_PAST_WINTERS, 9.0)]


def test_a_chance_beyond_all_sense_is_refused() -> None:
    with pytest.raises(ValueError, match="chance must lie between 0 and 1, got 1"):
        law_of(32, SPRING).day_at(1.0)


def rewritten(day: date, min_c: float) -> DailyMinima:
    past = high_plains()
    dates = [past.first + timedelta(i) for i in range(len(past.min_c))]
    minima = past.min_c.copy()
    minima[(day - past.first).days] = min_c
    return daily_minima(dates, minima)


# -72.04 °F stands in a published series (Clemson, 18 July 1936; dataset stevedata/clemson_temps): believable on the
# coldest place on earth, not in July.
@pytest.mark.parametrize("typed_f", [-72.04, -7.2, 172.0])
def test_a_typing_error_in_july_is_set_aside_and_said(typed_f: float) -> None:
    day = date(1996, 7, 18)
    past = rewritten(day, c_from_f(typed_f))
    assert [r.day for r in past.refused] == [day]
    assert past.refused[0].min_c == pytest.approx(c_from_f(typed_f))
    assert [(d.kind, d.amount) for d in past.doubts] == [(DoubtKind.VALUE_REFUSED, 1.0)]
    assert np.isnan(past.minima_between(day, day)).all()
    dates, clean = (freeze_dates(p, -2.0, SPRING, 2027, 40.4) for p in (past, high_plains()))
    assert (dates.safe, dates.half) == (clean.safe, clean.half)


def test_a_short_file_has_no_season_to_compare_with_but_a_spike_still_shows() -> None:
    dates = [date(2025, 7, 1) + timedelta(i) for i in range(20)]
    minima = [15.0] * 10 + [-57.8] + [15.0] * 9
    past = daily_minima(dates, minima)
    assert past.refused == (RefusedDay(day=date(2025, 7, 11), min_c=-57.8, why=Rejection.SPIKE),)


def test_swapped_and_repeated_days_are_set_aside_and_named() -> None:
    days = ["01,-5,3", "02,4,-6", "03,-7,1", "03,-7,1", "04,-7,1", "04,-9,1"]
    past = parse_daily_minima("\n".join(["date,min_c,max_c", *(f"2025-01-{day}" for day in days)]))
    assert [(r.day.day, r.why) for r in past.refused] == [(4, Rejection.REPEATED), (2, Rejection.SWAPPED)]
    np.testing.assert_array_equal(past.min_c, [-5.0, np.nan, -7.0, np.nan])
    assert past.mean_c is not None
    np.testing.assert_array_equal(past.mean_c, [-1.0, np.nan, -3.0, np.nan])


def test_a_file_in_fahrenheit_with_gaps_and_a_leap_day_is_read() -> None:
    past = parse_daily_minima(
        "# my thermometer\ndate,min_f\n2024-02-28,28\n2024-03-01,NA\n2024-02-29,14\n2024-03-03,\n"
    )
    assert past.last == date(2024, 3, 3)
    np.testing.assert_allclose(past.min_c, [c_from_f(28), -10.0, np.nan, np.nan, np.nan])
    assert past.half_unit_c == pytest.approx(0.5 / 1.8)
    assert parse_daily_minima("date,min_c\n2024-02-28,-2.22").half_unit_c == pytest.approx(0.005)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "is empty"),
        ("date,low\n2024-01-01,3", "line 1: the heading is 'date,low', it needs date and one of min_c or min_f"),
        ("date,min_c,min_f\n", "line 1: the heading is"),
        ("date,min_c\n\n01/02/2024,3", "line 3: '01/02/2024' is not a date like 2024-12-31"),
        ("date,min_c\n2023-02-29,3", "line 2: '2023-02-29' is not a date"),
        ("date,min_c\n2024-01-01,cold", "line 2: min_c 'cold' is not a number"),
    ],
)
def test_what_cannot_be_read_is_named_by_line_and_value(text: str, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        parse_daily_minima(text)


def test_values_no_thermometer_shows_are_refused_where_a_record_is_made_by_hand() -> None:
    with pytest.raises(ValueError, match="min_c -80 °C of 2024-01-02 is outside -60 to 58 °C"):
        DailyMinima(first=date(2024, 1, 1), min_c=np.array([0.0, -80.0]))
    with pytest.raises(ValueError, match="days of one length"):
        DailyMinima(first=date(2024, 1, 1), min_c=np.zeros(2), max_c=np.zeros(3))
    with pytest.raises(ValueError, match="2 dates need as many min_c"):
        daily_minima([date(2024, 1, 1), date(2024, 1, 2)], [0.0])


def test_nights_beyond_the_forecast_come_from_the_same_days_of_past_years() -> None:
    past = high_plains()
    week = nights_of_past_years(past, date(2027, 1, 10), 7)
    assert week.shape == (37, 7)
    assert week[0].tolist() == past.minima_between(date(1982, 1, 10), date(1982, 1, 16)).tolist()
    assert nights_of_past_years(past, date(2026, 12, 28), 7).shape == (36, 7)  # over New Year
    assert nights_of_past_years(past, date(2028, 2, 29), 3).shape == (37, 3)  # from the 28th where there is no 29th
