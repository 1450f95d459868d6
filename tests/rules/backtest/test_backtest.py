"""The replay of winters: daily heat against the full one, errors of the published size, limits and repeats."""

from dataclasses import replace
from datetime import date
from functools import cache

import numpy as np
import pytest

from rules.backtest.comparison import Replay, Rule, Verdict, replay
from rules.backtest.living import Decide, Lived, _Side, lived
from rules.backtest.our_plan import told_c
from rules.backtest.plain_rules import by_calendar, never
from rules.backtest.winters import FIRST_DAY, Garden, drawn_truth, garden_of, winters_of
from rules.garden.cover import Cover
from rules.garden.tree import Site, Tree
from rules.plan.prices import ASSUMED
from rules.plan.season.forecast_errors import LEADS, forecast_errors_c
from rules.weather.daily_minima import DailyMinima
from rules.weather.members import lead_sigma_c
from tests.high_plains import days, high_plains, minima

SITE = Site(latitude_deg=40.4, longitude_deg=-104.7, elevation_m=1430.0, time_zone="America/Denver")
TREES = [(Tree(name="Fig", species="fig", cultivar="Hardy Chicago"), Cover(name="any"))]


@cache
def six_winters() -> DailyMinima:
    """September 1986 to July 1992 of the High Plains series; the coldest night of all 37 years is in it.

    Each winter is told of its season by four or five others: the plan takes no season from fewer than five.
    """
    return minima([one for one in days() if date(1986, 9, 1) <= one[0] < date(1992, 7, 10)])


@cache
def garden() -> Garden:
    return garden_of(TREES, SITE, winters_of(six_winters(), SITE, 11.0), winters_of(six_winters(), SITE))


def came_of(rule: Decide, seed: int = 1) -> Lived:
    truth = drawn_truth(garden(), np.random.default_rng(seed))
    return next(one for one in lived(garden(), truth, rule, ASSUMED) if one is not None)


@cache
def found() -> Replay:
    last = None
    for step in replay(TREES, SITE, six_winters(), seed=3, shift_c=11.0):
        last = step
    assert last is not None
    assert last.found is not None
    assert last.done == last.total > 1000
    return last.found


def test_whole_winters_are_taken_and_a_record_without_maxima_refused() -> None:
    winters = winters_of(six_winters(), SITE)
    assert winters.years == (1986, 1987, 1988, 1989, 1990, 1991)
    assert float(winters.min_c.min()) == -37.10
    lows = DailyMinima(first=date(1989, 9, 1), min_c=np.zeros(900))
    with pytest.raises(ValueError, match="needs daily maxima"):
        winters_of(lows, SITE)


def test_the_daily_heat_follows_the_full_balance() -> None:
    """0.5 °C rms over whole winters in every state: a quarter of the forecast error, less than half of a cover's doubt.

    What is not linear in the days' extremes stays out of it: soil that freezes under a cover keeps it warm.
    """
    assert all(float(one.rms_c.max()) < 0.5 for one in garden().heat)


def test_forecast_errors_have_the_published_size_and_shrink_as_the_day_nears() -> None:
    """sigma(d) = sqrt(4.62 + 0.306 d²), night minima of ten western US cities, 2021-22; days 3 on extrapolated."""
    error = forecast_errors_c(400, 30, np.random.default_rng(5))
    sd = error.std(axis=(0, 1))
    assert sd == pytest.approx(lead_sigma_c(24.0 * np.arange(1, LEADS + 1)), rel=0.04)  # 12 000 correlated draws
    far, near = error[:, :-1, 1:], error[:, 1:, :-1]  # the same valid day, told a day later
    assert float(np.corrcoef(far[..., 3].ravel(), near[..., 3].ravel())[0, 1]) > 0.8
    assert float((far**2 - near**2).mean()) > 0


def test_what_is_made_of_a_forecast_is_right_in_the_mean_and_gives_its_own_error() -> None:
    """36 winters of the High Plains, forecasts as wrong as published: nights told far below the usual among them.

    A linear lean with one spread told them 1.3 to 2.9 °C too warm (counted on the same record before).
    """
    winters = winters_of(high_plains(), SITE)
    whole = garden_of(TREES, SITE, winters)
    truth = drawn_truth(whole, np.random.default_rng(11))
    best, spread = told_c(whole, truth)
    nights = slice(70, 170)
    for lead in (0, 2, 4):
        came = winters.min_c[:, FIRST_DAY + 1 + lead :][:, : best.shape[1]][:, nights]
        off = came - best[:, nights, lead]
        told = came + truth.error_c[:, nights, lead]
        cold = told < np.quantile(told, 0.05)
        assert (
            abs(float(off.mean() - (came - told).mean())) < 0.15
        )  # beside what these draws themselves err in the mean
        assert abs(float(off[cold].mean())) < 0.8
        assert float(off.std()) == pytest.approx(float(np.sqrt(np.square(spread[:, nights, lead]).mean())), rel=0.15)


def test_the_forecast_of_the_next_day_is_as_wrong_as_published_and_no_bolder_than_what_comes() -> None:
    """Counted ones lean too little by less than 0.1 (weather service at ten western valley cities, 24 h)."""
    winters = winters_of(high_plains(), SITE)
    errors = drawn_truth(garden_of(TREES, SITE, winters), np.random.default_rng(12)).error_c[:, :, 0]
    came = winters.min_c[:, FIRST_DAY + 1 :][:, : errors.shape[1]]
    off = came - came.mean(axis=0)
    assert float(errors.std()) == pytest.approx(float(lead_sigma_c(24.0)), rel=0.05)
    slope = float((off * (off + errors)).mean() / np.square(off + errors).mean())
    assert slope == pytest.approx(1.0, abs=0.1)


def test_true_wood_is_as_unsure_as_is_stated_of_it_little_in_leaf_and_more_at_rest() -> None:
    """A fig in leaf dies between 30 and 28 °F (-1 and -2.2 °C), give or take 0.7 °C; at rest gardens differ by 2 °C."""
    winters = winters_of(high_plains(), SITE, 11.0)
    whole = garden_of(TREES, SITE, winters)
    truth = drawn_truth(whole, np.random.default_rng(7))
    true, held = _Side(truth.garden, truth), _Side(whole, None)
    for lt50_c, sd_c in ((-2.2, 0.7), (-15.0, 2.0)):
        for side in (true, held):
            side.wood.wood.hc = np.full(whole.lanes, lt50_c)
        assert float((true.lt50_c(0) - held.lt50_c(0)).std()) == pytest.approx(sd_c, rel=0.3)  # 36 draws


def test_who_covers_for_months_saves_wood_and_pays_two_trips_and_who_never_does_pays_none() -> None:
    bare, covered = came_of(never), came_of(by_calendar())
    assert (covered.lost <= bare.lost + 1e-9).all()
    assert covered.trips.tolist() == [2.0] * 6
    assert bare.trips.sum() == covered.missed.sum() == 0


def test_a_truth_and_what_comes_of_it_are_repeated_by_the_seed_and_by_no_other() -> None:
    first, again, other = (came_of(by_calendar(), seed) for seed in (3, 3, 4))
    assert (first.cost == again.cost).all()
    assert not (first.cost == other.cost).any()


def test_a_cover_over_dead_wood_and_one_that_is_never_put_on_cost_no_wood_twice() -> None:
    """The whole loss is at most the tree's worth, however many nights kill it."""
    cold = replace(garden(), winters=winters_of(six_winters(), SITE, 0.0))
    truth = drawn_truth(cold, np.random.default_rng(1))
    lost = next(one for one in lived(cold, truth, never, ASSUMED) if one is not None)
    assert (lost.lost > 0.99).all()
    assert (lost.cost <= TREES[0][0].worth_trips + ASSUMED.shoots + 1e-9).all()


def test_our_plan_saves_most_of_what_can_be_saved_for_few_trips_and_costs_less_than_no_cover() -> None:
    """Six winters of the High Plains made 11 °C milder: one who knows the weather is the measure."""
    rows = {row.rule: row for row in found().rows}
    plan, known, bare = (rows[rule] for rule in (Rule.PLAN, Rule.KNOWN, Rule.NEVER))
    assert found().verdicts == {"Fig": Verdict.HELPS}
    assert plan.cost < bare.cost
    assert plan.cost < rows[Rule.TAUGHT].cost
    assert plan.savable is not None
    assert plan.savable > 0.8
    assert plan.trips <= 1.5 * known.trips
