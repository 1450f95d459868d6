"""Undisturbed soil: published damping depths, the yearly wave, and a column against the half-space solution."""

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from rules.garden.doubt import DoubtKind
from rules.garden.tree import SiteSoil
from rules.site.soil import (
    at_depths,
    cell_centres_m,
    damping_depth_m,
    day_of_year,
    site_soil,
    soil_doubt,
    soil_profiles_c,
    wave_c,
)
from rules.weather.daily_minima import DailyMinima

# Yearly mean of the air, half its swing, and by how much the soil is warmer [°C]. Soils: Rothamsted's long-term means,
# air 1891-1990, soil 1931-1990, 30 cm under grass, 20 cm bare; Pohořelice 1961-2000, 20 and 100 cm (Pokladníková &
# Rožnovský); Prague-Spořilov 2003-2013 under grass, bare clay, sand (Čermák et al. 2017); Fort Hall, Idaho, the middle
# of 21 sites (McDole & Fosberg 1974); Anjala and Kevo, 50 cm (Yli-Halla & Mokma 1998, whose rule for snow we use);
# surface in whole °C: Tambov, Michurinsk, Morshansk (climate handbook of the USSR, part 28). Means of the air at the
# last six and at Prague, and all swings: from memory.
PUBLISHED_SOILS = {
    "Rothamsted, grass": (9.1, 6.5, 0.4), "Rothamsted, bare": (9.1, 6.5, 0.2), "Pohořelice, 20 cm": (9.0, 10.5, 1.0),
    "Pohořelice, 100 cm": (9.0, 10.5, 1.4), "Prague, grass": (9.9, 10.0, 0.2), "Prague, clay": (9.9, 10.0, 1.4),
    "Prague, sand": (9.9, 10.0, 1.6), "Fort Hall": (7.8, 13.0, 2.75), "Anjala": (4.2, 12.0, 2.2),
    "Kevo": (-2.0, 14.0, 3.9), "Tambov": (4.8, 15.0, 1.2),
    "Michurinsk": (5.0, 15.0, 1.0), "Morshansk": (4.6, 15.0, 1.4),
}  # fmt: skip
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


def years_of(mean_c: float, swing_c: float, years: float = 3, coldest: float = 20.0) -> DailyMinima:
    """Past years of a place whose days are a pure wave of the year, 10 °C from low to high."""
    first = date(2001, 3, 14)
    dates = [first + timedelta(days=i) for i in range(round(years * 365.25))]
    turn = np.array([(one.timetuple().tm_yday + 0.5 - coldest) * 2 * np.pi / 365.25 for one in dates])
    mean = mean_c - swing_c * np.cos(turn)
    return DailyMinima(first=first, min_c=mean - 5, max_c=mean + 5)


def test_the_soil_of_past_years_is_within_a_degree_and_a_half_of_published_soils() -> None:
    off_c = {
        place: site_soil(50, 100, years_of(air_c, swing_c)).mean_c - (air_c + warmer_c)
        for place, (air_c, swing_c, warmer_c) in PUBLISHED_SOILS.items()
    }
    assert {place for place, error_c in off_c.items() if abs(error_c) > 1.5} <= {
        "Fort Hall"
    }  # dry steppe, 1.6 too cold
    assert max(map(abs, off_c.values())) < 2 * site_soil(50, 100, years_of(9, 10)).mean_sd_c


def test_past_years_give_back_their_own_wave_in_both_hemispheres() -> None:
    found = site_soil(47, 300, years_of(9.0, 11.0, coldest=32.0))
    assert found.mean_c == pytest.approx(10.0, abs=0.02)
    assert found.amplitude_c == pytest.approx(11.0, abs=0.02)
    assert found.coldest_day == pytest.approx(32, abs=0.5)
    assert site_soil(-38, 0, years_of(13.0, 6.0, coldest=205.0)).coldest_day == pytest.approx(205, abs=0.5)


def test_a_season_without_days_is_no_year_and_the_guess_says_that_it_is_one() -> None:
    known = years_of(9.0, 11.0)
    winter_only = DailyMinima(
        first=known.first, min_c=np.where(known.min_c < 0, known.min_c, np.nan), max_c=known.max_c
    )
    for years in (None, winter_only, years_of(9.0, 11.0, years=0.8), DailyMinima(first=known.first, min_c=known.min_c)):
        guess = site_soil(47, 300, years)
        assert [one.kind for one in soil_doubt(guess)] == [DoubtKind.SOIL_GUESSED]
        assert guess.mean_sd_c == 4.0
    assert soil_doubt(site_soil(47, 300, known)) == ()


def test_days_of_the_year_count_from_one() -> None:
    assert day_of_year(datetime(2026, 1, 15, 12, tzinfo=UTC)) == 15.5
    assert cell_centres_m()[-1] < 1.0
