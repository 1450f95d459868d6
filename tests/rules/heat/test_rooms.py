"""Rooms for pots: slow, unheated, doubtful, and moved by a thermometer; and what the roots feel."""

import numpy as np
import pytest

from rules.garden.cover import ROOMS, Cover, Preset
from rules.garden.supplies import takes
from rules.heat.balance import inside_temperatures, inside_with_spread
from rules.heat.layers.pot_roots import lag_h, roots_c
from rules.heat.properties import ROOM_SD_C, STRUCTURE_SD_C, UNKNOWNS, ReadCover
from tests.rules.heat.heat_fine_model import FIRST_JUDGED, SPELL_SOIL, Spell

SPELL = Spell().weather()
HOURS = SPELL.air_c.size
COLD_DAYS = slice(FIRST_JUDGED, HOURS - 24)


def test_the_less_of_the_outdoors_a_room_has_the_less_it_swings() -> None:
    order = [Preset.GREENHOUSE, Preset.PORCH, Preset.GARAGE, Preset.CELLAR]
    rooms = [Cover(name=one, preset=one) for one in order]
    air_c = inside_temperatures(rooms, np.full((4, HOURS), 2), SPELL, soil=SPELL_SOIL).air_c[:, COLD_DAYS]
    swings = (air_c.max(axis=1) - air_c.min(axis=1)).tolist()
    assert swings == sorted(swings, reverse=True)
    # single glass under a clear sky keeps next to nothing by night (extension advice, common practice); the rest do
    gains_c = air_c.min(axis=1) - SPELL.air_c[COLD_DAYS].min()
    assert gains_c[0] > 0
    assert (gains_c[1:] > 2).all()


@pytest.mark.parametrize("room", sorted(ROOMS))
def test_the_tip_of_a_tree_in_a_room_is_in_the_same_air_as_its_middle(room: Preset) -> None:
    inside = inside_temperatures([Cover(name="x", preset=room)], np.full((1, HOURS), 2), SPELL, soil=SPELL_SOIL)
    assert inside.top_c == pytest.approx(inside.wood_c)


@pytest.mark.parametrize("room", sorted(ROOMS))
def test_nobody_wrote_down_a_room_so_its_doubt_is_wider_than_a_covers(room: Preset) -> None:
    inside = inside_with_spread([Cover(name="x", preset=room)], np.full((1, HOURS), 2), SPELL, soil=SPELL_SOIL)
    assert inside.spread_c is not None
    assert inside.spread_c[0, COLD_DAYS].min() >= ROOM_SD_C > STRUCTURE_SD_C


def test_nothing_is_bought_for_a_room() -> None:
    assert [takes(Cover(name="x", preset=room)) for room in sorted(ROOMS)] == [{}] * len(ROOMS)


def test_a_thermometer_that_read_it_two_degrees_warmer_moves_the_room_by_that() -> None:
    described = Cover(name="x", preset=Preset.GARAGE)
    shown = [0.0] * len(UNKNOWNS)
    shown[UNKNOWNS.index("structure")] = 2.0 / ROOM_SD_C
    size = len(UNKNOWNS)
    read = ReadCover(
        **described.model_dump(), shown=tuple(shown), doubt=tuple(map(tuple, (0.1 * np.eye(size)).tolist())),
        with_air_c=(0.0,) * size,
    )  # fmt: skip
    states = np.full((2, HOURS), 2)
    states[:, 100:130] = 0
    inside = inside_with_spread([described, read], states, SPELL, soil=SPELL_SOIL)
    moved = inside.air_c[1] - inside.air_c[0]
    assert moved[states[0] == 2] == pytest.approx(2.0)
    assert moved[states[0] == 0] == pytest.approx(0.0)
    assert inside.spread_c is not None
    assert inside.spread_c[1, COLD_DAYS].max() < 0.5 * inside.spread_c[0, COLD_DAYS].max()


def test_roots_follow_a_sine_of_the_air_as_any_body_of_one_heat_capacity() -> None:
    """Amplitude 1/sqrt(1 + (ωτ)²), lag atan(ωτ)/ω: the first-order response of any textbook of heat transfer."""
    hours = np.arange(24 * 20)
    omega = 2 * np.pi / 24
    felt = roots_c(10 + 5 * np.sin(omega * hours), 40.0)[-24:]
    turn = omega * lag_h(40.0)
    assert (felt.max() - felt.min()) / 2 == pytest.approx(5 / np.hypot(1, turn), rel=0.02)
    late_h = (int(felt.argmax()) + hours[-24] - 6) % 24
    assert late_h == pytest.approx(np.arctan(turn) / omega, abs=1.0)


def test_a_larger_pot_is_later_and_freezing_water_holds_it_at_zero() -> None:
    air_c = np.array([4.0] * 5 + [-8.0] * 48)
    small, large = roots_c(air_c, 10.0), roots_c(air_c, 80.0)
    assert small[15] < large[15]
    assert large[29] > -1.0 > air_c[29]  # after a day of -8
    assert roots_c(np.full(24 * 60, -8.0), 40.0, 4.0)[-1] == pytest.approx(-8.0, abs=0.1)


def test_a_pot_that_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match=r"pot_l is 0 l, it must be 0.1 to 5000 l"):
        lag_h(0)
