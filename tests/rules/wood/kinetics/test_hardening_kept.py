"""What is kept of yesterday's course changes nothing of today's."""

from dataclasses import fields

import numpy as np

from rules.wood.kinetics.hardening import HardeningCourse, hardening_course
from rules.wood.kinetics.rates import HardeningRates
from rules.wood.kinetics.season_days import SeasonDays, SeenBounds

DAYS = 90
RATES = HardeningRates(
    h0_c=-8.0, hmin_c=-1.0, hmax_c=-20.0, autumn_limit_c=-6.0, spring_limit_c=-3.0, tth_endo_c=10.0, tth_eco_c=5.0,
    ka_endo=0.02, ka_eco=0.01, kd_endo=0.01, kd_eco=0.02, theta=np.array([1.0, 2.0]), develop_base_c=2.0,
    leaf_out_c_days=200.0,
)  # fmt: skip


def marched(mean_c: np.ndarray, days: int, woke_on: int | None = None) -> HardeningCourse:
    season = SeasonDays(hardening_share=np.ones(days), readiness=np.linspace(0.0, 1.0, DAYS)[:days])
    nothing = np.full(days, np.nan)
    seen = SeenBounds(
        raise_to_c=nothing, lower_to_c=nothing, woke=np.arange(days) == woke_on, leafed_out=np.zeros(days, dtype=bool)
    )
    return hardening_course(mean_c[:days], RATES, season, seen)


def same(one: HardeningCourse, other: HardeningCourse) -> bool:
    return all(np.array_equal(getattr(one, field.name), getattr(other, field.name)) for field in fields(one))


def test_a_warmer_afternoon_an_old_value_mended_and_a_sighting_are_all_felt() -> None:
    mean_c = np.random.default_rng(3).normal(4.0, 7.0, (DAYS, 2))
    first = marched(mean_c, DAYS)
    warmer, mended = mean_c.copy(), mean_c.copy()
    warmer[-1] += 6.0
    mended[40] -= 8.0
    assert same(marched(mean_c, DAYS), first)
    assert np.array_equal(marched(warmer, DAYS).hc_c[:-1], first.hc_c[:-1])
    assert (marched(warmer, DAYS).hc_c[-1] > first.hc_c[-1]).all()
    assert (marched(mended, DAYS).hc_c[40:] != first.hc_c[40:]).any()
    assert marched(mean_c, DAYS, woke_on=60).woke[-1].all()
    assert not marched(mean_c, DAYS).woke.any()


def test_a_season_told_day_by_day_is_the_season_told_at_once() -> None:
    mean_c = np.random.default_rng(4).normal(4.0, 7.0, (DAYS, 2))
    by_day = [marched(mean_c, days).hc_c[-1] for days in range(1, DAYS + 1)]
    assert np.array_equal(np.stack(by_day), marched(mean_c, DAYS).hc_c)
