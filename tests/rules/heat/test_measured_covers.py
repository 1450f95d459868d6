"""The heat balance against covers in which somebody read a thermometer (sources in `measured_covers`)."""

from functools import cache

import numpy as np

from tests.rules.heat.measured_covers import MEASURED, Reckoned, reckoned

EIGHTY: float = 1.2816  # sd each way that hold 80 % of a normal spread
NINETY: float = 1.645


@cache
def found() -> tuple[Reckoned, ...]:
    return tuple(reckoned(one) for one in MEASURED)


def test_every_cover_is_on_the_measured_side_of_the_air_outside() -> None:
    assert [one.measured.name for one in found() if not one.sign_right] == []


def test_four_in_five_are_within_two_and_a_half_degrees() -> None:
    assert np.mean([abs(one.error_c) <= 2.5 for one in found()]) >= 0.8


def test_no_night_is_missed_on_the_warm_side_by_more_than_the_stated_doubt() -> None:
    assert [one.measured.name for one in found() if one.error_c > NINETY * one.sd_c] == []


def test_the_stated_doubt_is_honest() -> None:
    """The 80 % interval holds 75 to 85 % of them."""
    assert 0.75 <= np.mean([abs(one.error_c) <= EIGHTY * one.sd_c for one in found()]) <= 0.85
