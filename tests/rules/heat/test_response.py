"""How much of a change of the air the wood feels: one number for the chances of a night and for those of an act."""

from dataclasses import replace

import numpy as np
import pytest

from rules.garden.cover import STATES, Cover
from rules.heat.courses import cover_courses, response_to_air
from tests.rules.plan.plan_gardens import SOIL, days_of_air, forecast_of, situation

AIR_C = np.array([-9.0, -7.0, -6.0, -4.0, -2.0])


def test_wood_that_follows_half_of_the_air_answers_by_half_whatever_it_gains() -> None:
    assert response_to_air(3.0 + 0.5 * AIR_C, AIR_C) == pytest.approx(0.5)


def test_no_cover_makes_a_cold_night_colder_than_it_is() -> None:
    assert response_to_air(1.3 * AIR_C, AIR_C) == 1.0


def test_members_that_are_alike_tell_nothing_and_then_all_of_it_counts() -> None:
    assert response_to_air(np.full(5, -3.0), np.full(5, -6.0)) == 1.0


def test_each_state_and_night_has_its_own() -> None:
    wood_c = np.stack([AIR_C, 0.2 * AIR_C])  # (states, members)
    assert response_to_air(wood_c, AIR_C[None], axis=1).tolist() == pytest.approx([1.0, 0.2])


@pytest.mark.parametrize("night", [1, 2, 3])
def test_the_members_tell_what_a_march_through_colder_air_gives(night: int) -> None:
    """Air 1 °C colder all along, every state of a straw cage, late in a forecast whose members have spread.

    Within 0.25: members differ by the hour too, and what a cover keeps of the days before is not in the night's low.
    """
    one = situation(forecast_of(days_of_air([-4.0, -6.0, -8.0, -7.0, -6.0], [4.0, 3.0, 2.0, 3.0, 4.0])), count=31)
    cover, colder = Cover(name="cage"), replace(one.weather, air_c=one.weather.air_c - 1.0)
    told, moved = (cover_courses([cover], [air], None, SOIL, 24).wood_c[0] for air in (one.weather, colder))
    hours = slice(24 * night + 4, 24 * night + 26)  # from noon to ten
    air_c = one.weather.air_c[:, hours].min(axis=-1)
    felt = (told - moved)[..., hours].min(axis=-1).mean(axis=-1)  # of 1 °C
    response = response_to_air(told[..., hours].min(axis=-1), air_c[None], axis=1)
    assert len(response) == len(STATES)
    assert response == pytest.approx(np.minimum(1.0, felt), abs=0.25)
