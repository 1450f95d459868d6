"""Undisturbed soil: published damping depths, the yearly wave, and a column against the half-space solution."""

from datetime import UTC, datetime

import numpy as np
import pytest

from rules.garden.tree import SiteSoil
from rules.site.soil import (
    at_depths,
    cell_centres_m,
    damping_depth_m,
    day_of_year,
    site_soil,
    soil_profiles_c,
    wave_c,
)

DAY_S, YEAR_S = 86400.0, 365.25 * 86400


@pytest.mark.parametrize(
    ("conductivity", "capacity", "day_cm", "four_days_cm", "year_m"),
    [
        (0.24, 1.28e6, 7.2, 14.4, 1.37),  # sand, dry
        (2.1, 2.12e6, 16.5, 33.0, 3.15),  # sand, water 0.2
        (0.9, 2.27e6, 10.4, 20.9, 2.00),  # clay, water 0.2
        (1.4, 3.10e6, 11.1, 22.3, 2.13),  # clay, water 0.4
    ],
)
def test_damping_depths_follow_from_the_properties_of_de_vries(
    conductivity: float, capacity: float, day_cm: float, four_days_cm: float, year_m: float
) -> None:
    # Properties: De Vries 1963 in Moene and van Dam, table 2.2; depth sqrt(2 α/ω), Hillel. Tolerance: last digit.
    alpha = conductivity / capacity
    assert damping_depth_m(alpha, DAY_S) * 100 == pytest.approx(day_cm, abs=0.06)
    assert damping_depth_m(alpha, 4 * DAY_S) * 100 == pytest.approx(four_days_cm, abs=0.06)
    assert damping_depth_m(alpha, YEAR_S) == pytest.approx(year_m, abs=0.006)


def test_the_yearly_wave_is_coldest_at_the_surface_first() -> None:
    soil = SiteSoil(mean_c=12, amplitude_c=12)
    # computed by hand from the wave's formula, day 15 of a year coldest on day 25
    np.testing.assert_allclose(wave_c(soil, np.array([0.0, 0.1, 1.0]), 15), [0.177, 0.792, 5.741], atol=6e-4)
    days = np.arange(1.0, 366.0)
    assert wave_c(soil, 0.0, days).argmin() < wave_c(soil, 1.0, days).argmin()


def test_a_day_wave_enters_the_column_as_the_half_space_solution_says() -> None:
    # Carslaw and Jaeger: under a surface resistance R a wave A e^{iωt} of the driving temperature reaches depth z as
    # A exp(-(1+i) z/d) / (1 + R k (1+i)/d). Implicit half-hour steps and 30 cells damp it a little: 2 % of A allowed.
    soil = SiteSoil(mean_c=0, amplitude_c=0)
    hours = np.arange(24 * 25 + 1)
    air = 10 * np.cos(2 * np.pi * hours / 24)[None]
    wind, black, dark = np.full_like(air, 3.0), np.ones_like(air), np.zeros_like(air)
    profiles = soil_profiles_c(soil, datetime(2026, 1, 1, tzinfo=UTC), air, wind, black, dark)[:, 0]
    depths = np.array([0.02, 0.05, 0.1, 0.2])
    film = 4 + 4 * 3.0 + 0.95 * 4 * 5.670374e-8 * 273.15**3
    d = damping_depth_m(5e-7, DAY_S)
    share = np.exp(-(1 + 1j) * depths / d) / (1 + (1 / film + 0.1) * (1 + 1j) / d)
    last = hours[-25:]
    expected = (10 * share * np.exp(2j * np.pi * last[:, None] / 24)).real
    assert np.abs(at_depths(profiles[-25:], depths) - expected).max() < 0.2


def test_a_profile_kept_from_one_round_to_the_next_goes_on_as_if_never_stopped() -> None:
    soil = SiteSoil(mean_c=12, amplitude_c=12)
    air = np.linspace(5, -8, 73)[None]
    rest = [np.full_like(air, value) for value in (2.0, 0.8, 50.0)]
    start = datetime(2026, 1, 5, tzinfo=UTC)
    wind, sky, sun = rest
    whole = soil_profiles_c(soil, start, air, wind, sky, sun)
    first = soil_profiles_c(soil, start, air[:, :25], wind[:, :25], sky[:, :25], sun[:, :25])
    late = [values[:, 24:] for values in (air, wind, sky, sun)]
    second = soil_profiles_c(soil, start.replace(day=6), late[0], late[1], late[2], late[3], first[-1])
    np.testing.assert_allclose(second, whole[24:], atol=1e-12)


def test_a_guessed_site_is_colder_uphill_and_coldest_in_july_in_the_south() -> None:
    assert site_soil(40.5, 0).mean_c == pytest.approx(12, abs=0.1)
    assert site_soil(40.5, 1000).mean_c == pytest.approx(site_soil(40.5, 0).mean_c - 6)
    assert site_soil(-38, 0).coldest_day > 180
    with pytest.raises(ValueError, match="latitude_deg is 95, it must be -90 to 90"):
        site_soil(95, 0)


def test_days_of_the_year_count_from_one() -> None:
    assert day_of_year(datetime(2026, 1, 15, 12, tzinfo=UTC)) == 15.5
    assert cell_centres_m()[-1] < 1.0
