"""Doubts of the daily model's rates, and what they make of a tree's hardiness."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from rules.garden.species import species_row
from rules.garden.tree import Site, Tree
from rules.wood.course import winters_lt_c, wood_course
from rules.wood.daily_temperatures import WoodDays
from rules.wood.hardiness import hardiness, season_of
from rules.wood.kinetics.rate_doubts import RATE_DOUBTS, drawn, moved
from tests.rules.wood.winter_records import record

SITE = Site(latitude_deg=45, longitude_deg=0, elevation_m=100, time_zone="UTC")
FIG = Tree(name="Porch", species="fig")
START = date(2025, 9, 7)


def mild_winter(days: int) -> WoodDays:
    mean_c = 9.0 - 7.0 * np.sin(2 * np.pi * (np.arange(days) - 40) / 365)
    return WoodDays(first=START, mean_c=mean_c, min_c=mean_c - 4, max_c=mean_c + 4)


@pytest.mark.parametrize("doubt", RATE_DOUBTS, ids=lambda doubt: doubt.says)
@pytest.mark.parametrize("species", ["fig", "peach", "grape"])
def test_each_doubt_moves_its_own_rate_and_back(species: str, doubt: object) -> None:
    kinetics = species_row(species).kinetics
    up, down = (moved(kinetics, one, way) for one in RATE_DOUBTS if one is doubt for way in (1, -1))
    assert kinetics != up != down
    back = next(moved(up, one, -1) for one in RATE_DOUBTS if one is doubt)
    assert [getattr(back, name) for name in ("ka_eco", "kd_eco", "tth_eco_c", "leaf_out_c_days", "frost_gain")] == (
        pytest.approx(
            [getattr(kinetics, name) for name in ("ka_eco", "kd_eco", "tth_eco_c", "leaf_out_c_days", "frost_gain")]
        )
    )


def test_wood_on_the_way_is_in_more_doubt_than_wood_that_has_arrived() -> None:
    sd_c = season_of(FIG, SITE, mild_winter(240), [], START + timedelta(days=239)).rates_sd_c
    assert sd_c[:5].max() < 0.3  # September: hardly begun, whatever the rates
    assert sd_c[80] > 0.4  # late November
    assert sd_c[206] > sd_c[150]  # April against early February


def test_the_doubt_of_the_rates_goes_into_what_is_told() -> None:
    on = START + timedelta(days=206)
    wood = season_of(FIG, SITE, mild_winter(207), [], on)
    told = hardiness(FIG, SITE, mild_winter(207), [], on)
    row_sd_c = float(species_row("fig").sd_c(wood.lt50_c[-1]))
    assert told.sd_c == pytest.approx(float(np.hypot(row_sd_c, wood.rates_sd_c[-1])))
    assert told.sd_c > row_sd_c


@pytest.mark.parametrize("day", [90, 130, 170])
def test_what_is_told_is_the_middle_of_wood_whose_rates_are_drawn_not_of_the_middle_rates(day: int) -> None:
    # An independent way to the same expectation: whole seasons on drawn rates, no lanes, no second order.
    at, chance = record("norfolk"), np.random.default_rng(1)
    row = species_row("fig")
    air = WoodDays(first=START, mean_c=at.mean_c[:, 3], min_c=at.min_c[:, 3], max_c=at.max_c[:, 3])
    wood = wood_course(row, at.site, air, [], START, 180)
    kinds = [
        replace(row, kinetics=drawn(row.kinetics, ways)) for ways in chance.standard_normal((300, len(RATE_DOUBTS)))
    ]
    truths = winters_lt_c(kinds, at.site, START, *(one[:180, 3:4] for one in (at.mean_c, at.min_c, at.max_c)))[1][
        day, 0
    ]
    close_c = 3 * truths.std() / np.sqrt(len(truths))
    assert wood.expected_lt50_c[day] == pytest.approx(truths.mean(), abs=close_c + 0.1)
    assert abs(wood.expected_lt50_c[day] - truths.mean()) < abs(wood.lasting_lt50_c[day] - truths.mean())
