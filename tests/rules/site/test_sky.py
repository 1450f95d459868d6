"""Humidity and the sky's emissivity, against values evaluated from the published equations."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.garden.units import STEFAN_BOLTZMANN_W_M2_K4
from rules.site.sky import (
    clear_sky_emissivity,
    sky_emissivity,
    vapour_pressure_hpa,
)


def test_vapour_pressure_agrees_with_the_international_steam_table() -> None:
    # IAPWS: 611.2 Pa at the ice point, 2.3388 kPa at 20 °C, 12.282 hPa at 10 °C, from memory; Magnus forms hold 0.3 %
    assert vapour_pressure_hpa([0, 10, 20]) == pytest.approx([6.112, 12.282, 23.388], rel=0.003)


# Prata 1996 evaluated: emissivity and net loss of a black horizontal surface at air temperature [W/m²], to its digits
@pytest.mark.parametrize(
    ("air_c", "dew_c", "emissivity", "loss_w_m2"),
    [(10, 5, 0.767, 85), (0, -2, 0.736, 83), (-5, -7, 0.719, 82), (-10, -12, 0.705, 80), (-10, -18, 0.692, 84)],
)
def test_clear_sky_emissivity_matches_the_evaluated_table(
    air_c: float, dew_c: float, emissivity: float, loss_w_m2: float
) -> None:
    sky = float(clear_sky_emissivity(air_c, dew_c))
    assert sky == pytest.approx(emissivity, abs=6e-4)
    assert (1 - sky) * STEFAN_BOLTZMANN_W_M2_K4 * (air_c + 273.15) ** 4 == pytest.approx(loss_w_m2, abs=0.6)


def test_prata_lies_within_the_doubt_of_brutsaert() -> None:
    # Brutsaert 1975, 1.24 (e/T)^(1/7), an independent formula; clear-sky formulas differ by ±0.05 (six compared at
    # -10 °C), two of them here
    air = np.linspace(-15, 15, 13)
    brutsaert = 1.24 * (vapour_pressure_hpa(air - 3) / (air + 273.15)) ** (1 / 7)
    assert np.abs(clear_sky_emissivity(air, air - 3) - brutsaert).max() < 2 * 0.05


@given(air=st.floats(-50, 45), depression=st.floats(0, 30), cloud=st.floats(0, 1), more=st.floats(0, 1))
def test_cloud_and_damp_close_the_sky(air: float, depression: float, cloud: float, more: float) -> None:
    open_sky = float(sky_emissivity(air, air - depression, cloud))
    assert 0.6 < open_sky < 1
    assert float(sky_emissivity(air, air - depression, max(cloud, more))) >= open_sky - 1e-12
    assert float(sky_emissivity(air, air - depression / 2, cloud)) >= open_sky - 1e-12


def test_an_overcast_lets_a_sixth_of_the_clear_loss_through() -> None:
    clear, overcast = sky_emissivity(-8.0, -10.0, np.array([0.0, 1.0]))
    assert (1 - overcast) / (1 - clear) == pytest.approx(0.16, rel=1e-9)  # Campbell & Norman: 1 - 0.84
