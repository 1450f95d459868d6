"""The replay of winters: the reduced heat against the full one, errors of the published size, limits and repeats."""

from dataclasses import replace
from datetime import date
from functools import cache

import numpy as np
import pytest

from rules.backtest.comparison import Replay, Rule, replay
from rules.backtest.our_plan import MEMBERS, OurPlan
from rules.backtest.plain_rules import BARE, CLOSED, always, lived, never
from rules.backtest.winters import (
    LEADS,
    Garden,
    Winters,
    drawn_truth,
    forecast_errors_c,
    garden_of,
    heats_of,
    winters_of,
)
from rules.garden.cover import Cover
from rules.garden.tree import Site, Tree
from rules.plan.prices import ASSUMED
from rules.plan.search import answers
from rules.weather.daily_minima import DailyMinima
from rules.weather.members import lead_sigma_c
from rules.wood.night_losses import LOST_LEVELS
from tests.high_plains import days, minima

SITE = Site(latitude_deg=40.4, longitude_deg=-104.7, elevation_m=1430.0, time_zone="America/Denver")
TREES = [(Tree(name="Kaki", species="persimmon"), Cover(name="any"))]


@cache
def three_winters() -> DailyMinima:
    """October 1989 to May 1992 of the High Plains series; the coldest night of all 37 years is in it."""
    return minima([one for one in days() if date(1989, 9, 1) <= one[0] < date(1992, 6, 10)])


@cache
def garden() -> Garden:
    winters = winters_of(three_winters(), SITE, 9.0)
    return garden_of(TREES, SITE, winters, heats_of(TREES, SITE, winters), ASSUMED)


@cache
def found() -> Replay:
    last = None
    for step in replay(TREES, SITE, three_winters(), seed=3, shift_c=9.0, heat=garden().heat):
        last = step
    assert last is not None
    assert last.found is not None
    return last.found


def test_whole_winters_are_taken_and_a_record_without_maxima_refused() -> None:
    winters = winters_of(three_winters(), SITE)
    assert winters.years == (1989, 1990, 1991)
    assert float(winters.min_c.min()) == -37.10
    lows = DailyMinima(first=date(1989, 9, 1), min_c=np.zeros(900))
    with pytest.raises(ValueError, match="needs daily maxima"):
        winters_of(lows, SITE)


def test_the_reduced_heat_follows_the_full_balance() -> None:
    """0.2 °C rms over whole winters in every state: a tenth of the forecast error, a fifth of the doubt of a cover."""
    assert all(float(one.rms_c.max()) < 0.25 for one in garden().heat)


def test_forecast_errors_have_the_published_size_and_shrink_as_the_day_nears() -> None:
    """sigma(d) = sqrt(4.62 + 0.306 d²), night minima of ten western US cities, 2021-22; days 3 on extrapolated."""
    error = forecast_errors_c(400, 30, np.random.default_rng(5))
    sd = error.std(axis=(0, 1))
    assert sd == pytest.approx(lead_sigma_c(24.0 * np.arange(1, LEADS + 1)), rel=0.04)  # 12 000 correlated draws
    far, near = error[:, :-1, 1:], error[:, 1:, :-1]  # the same valid day, told a day later
    assert float(np.corrcoef(far[..., 3].ravel(), near[..., 3].ravel())[0, 1]) > 0.8
    assert float((far**2 - near**2).mean()) > 0


def test_a_closed_cover_never_has_more_wood_lost_than_none() -> None:
    truth = drawn_truth(garden(), ASSUMED, np.random.default_rng(1))
    bare, shut = ([*lived(garden(), truth, rule, ASSUMED)][-1] for rule in (never, always))
    assert bare is not None
    assert shut is not None
    assert (shut.lost <= bare.lost + 1e-9).all()
    assert (shut.course == CLOSED).all()
    assert shut.missed.sum() == 0
    assert bare.trips.sum() == 0


def test_nobody_beats_perfect_foresight_by_more_than_its_beam() -> None:
    """1 %: the search over a whole season keeps eight courses per state."""
    rows = found().rows
    perfect = next(row.cost for row in rows if row.rule == Rule.FORESIGHT)
    assert all(row.cost >= perfect * 0.99 for row in rows)
    calendar = next(row for row in rows if row.rule == Rule.CALENDAR)
    assert calendar.value == pytest.approx(0.0)
    assert all(calendar.cost <= row.cost for row in rows if row.rule in (Rule.NEVER, Rule.ALWAYS, Rule.MID_NOVEMBER))


def test_a_truth_and_the_plan_in_it_are_repeated_by_the_seed_and_by_no_other() -> None:
    first, again, other = (drawn_truth(garden(), ASSUMED, np.random.default_rng(seed)) for seed in (3, 3, 4))
    assert (first.error_c == again.error_c).all()
    assert (first.dose_c == again.dose_c).all()
    assert not (first.error_c == other.error_c).any()
    bare = np.zeros(garden().lanes, dtype=np.int64)
    costs = [
        answers(
            OurPlan(garden(), truth, ASSUMED).stakes(70, bare),
            np.ones((3, MEMBERS, LEADS)),
            np.empty((3, 0), dtype=np.int64),
        ).cost
        for truth in (first, again)
    ]
    assert (costs[0] == costs[1]).all()


def test_progress_runs_from_the_first_night_to_the_last() -> None:
    steps = replay(TREES, SITE, three_winters(), seed=3, heat=garden().heat)
    first = next(steps)
    assert first.done == 1
    assert first.total > 1000
    assert first.found is None


def test_a_shift_moves_the_weather_and_leaves_the_wood_its_season() -> None:
    as_is, mild = winters_of(three_winters(), SITE), winters_of(three_winters(), SITE, 9.0)
    assert np.allclose(mild.min_c - as_is.min_c, 9.0)
    assert isinstance(mild, Winters)
    colder = garden_of(TREES, SITE, as_is, garden().heat, ASSUMED)
    assert np.allclose(colder.lt10_c, garden().lt10_c)


def test_dead_wood_costs_nothing_more_and_a_cover_never_costs_more_than_having_none() -> None:
    """By the plan's own book-keeping: whoever can always do nothing expects to pay no more than for doing it.

    But for an eighth of a trip: choices are made by the mean of a few winters, and each pays its own.
    """
    truth = drawn_truth(garden(), ASSUMED, np.random.default_rng(3))
    work = garden().work.copy()
    work[:, BARE, 1:] = np.inf
    covered, bare = (OurPlan(one, truth, ASSUMED).tails for one in (garden(), replace(garden(), work=work)))
    assert np.allclose(covered[:, :, BARE, -1], 0.0)
    assert (covered[:, :, BARE] <= bare[:, :, BARE] + 0.125).all()
    assert (covered[:, 0, BARE, 0] < bare[:, 0, BARE, 0]).all()  # and to this tree it is of some use


def test_time_beyond_the_forecast_falls_with_what_is_lost_and_never_faster_than_the_wood_is_worth() -> None:
    plan = OurPlan(garden(), drawn_truth(garden(), ASSUMED, np.random.default_rng(3)), ASSUMED)
    fall = plan.tails[:, :, BARE] - plan.tails[:, :, BARE, -1:]
    living = garden().worth[:, None, None] * (1.0 - LOST_LEVELS)
    assert (fall >= -1e-9).all()
    assert (fall <= living + 0.1).all()  # as above: a choice by the mean of a few winters may cost its own a little


def test_a_tree_that_most_winters_kill_under_its_cover_costs_no_more_than_never_covering_it() -> None:
    """A satsuma seven degrees milder than the record: shut in all along, two winters of the three still kill it.

    A plan that counts on knowing all winter's weather goes there all the same, and pays 47 to 58 trips instead of 40.
    (From eight degrees on, satsuma that stays at rest until buds move has a winter in three worth a try, and the plan
    tries.)
    """
    trees = [(Tree(name="Satsuma", species="satsuma"), Cover(name="any"))]
    some = garden_of(trees, SITE, winters_of(three_winters(), SITE, 7.0), garden().heat, ASSUMED)
    truth = drawn_truth(some, ASSUMED, np.random.default_rng(3))
    rules = (OurPlan(some, truth, ASSUMED), always, never)
    ours, shut, bare = (one for rule in rules for one in lived(some, truth, rule, ASSUMED) if one is not None)
    assert (shut.lost > 0.9).sum() == 2
    assert (ours.cost <= bare.cost + 1e-6).all()
