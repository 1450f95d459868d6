"""The fast heat of whole winters: every cover a grower can name has one, whatever its states have in common."""

from datetime import date

import numpy as np
import pytest

from rules.garden.cover import Cover, Preset
from rules.garden.tree import Site
from rules.plan.season.daily_heat import reduced_heat

SITE = Site(latitude_deg=39, longitude_deg=-109, elevation_m=1620, time_zone="America/Denver")
DAYS = np.arange(60)
LOW_C = (-5.0 + 4.0 * np.sin(DAYS / 3.0))[None]
FINITE = ("weights", "tissue", "fades", "rms_c")


@pytest.mark.parametrize("preset", [Preset.BURLAP, Preset.BLANKET, Preset.STRAW_FILM])
def test_a_cover_is_known_by_numbers_also_where_it_has_no_cap_to_open(preset: Preset) -> None:
    heat = reduced_heat(Cover(name="wrap", preset=preset), SITE, date(2001, 11, 1), LOW_C, LOW_C + 9.0)
    assert all(np.isfinite(getattr(heat, name)).all() for name in FINITE)


def test_opening_a_wrap_without_a_cap_is_never_felt() -> None:
    heat = reduced_heat(Cover(name="wrap", preset=Preset.BURLAP), SITE, date(2001, 11, 1), LOW_C, LOW_C + 9.0)
    assert heat.tissue.tolist() == [0.0, 0.0, 0.0]
