"""The wood of the coming days under a cover left in each state."""

from datetime import date, timedelta

import numpy as np
import pytest

from rules.garden.tree import Phase, Tree
from rules.plan.wood_ahead import wood_ahead
from rules.wood.daily_temperatures import WoodDays
from rules.wood.hardiness import Hardiness, hardiness
from rules.wood.season import season_place
from tests.rules.plan.plan_gardens import SITE, bearing

MARKS = np.array([0, 24, 24 * 9])
COOL = np.repeat(np.array([[2.0], [3.0], [6.0]]), 24 * 9, axis=1)  # bare, open and shut: nine days of mean air


def test_leafy_wood_shut_in_hardens_least_in_nine_cool_days_of_autumn_and_bare_wood_most() -> None:
    """The grower's dilemma: light and cold harden, a shut cover keeps both out (two stages, Howell & Weiser 1970)."""
    start, today = date(2025, 9, 7), date(2025, 10, 10)
    warm = np.full((today - start).days + 1, 14.0)
    fig = Tree(name="Fig", species="fig", cultivar="Hardy Chicago")
    wood = hardiness(fig, SITE, WoodDays(first=start, mean_c=warm, min_c=warm - 6, max_c=warm + 6), (), today)
    found = wood_ahead(wood, season_place(today, SITE.latitude_deg), SITE.latitude_deg, COOL, MARKS)
    bare, opened, shut = found.softer_c[-1]
    assert bare < opened < shut < 0.0
    assert (found.leaves[-1] < found.leaves[0]).all()
    assert found.softer_c[0] == pytest.approx(0.0)


def wood_after(days: int) -> Hardiness:
    """A fig's wood after a warm September and so many cool days, by what came."""
    start = date(2025, 9, 7)
    mean_c = np.append(np.full(34, 14.0), np.full(days, 2.0))
    low_c = np.append(np.full(34, 8.0), np.full(days, 2.0))
    fig = Tree(name="Fig", species="fig", cultivar="Hardy Chicago")
    days_lived = WoodDays(first=start, mean_c=mean_c, min_c=low_c, max_c=2 * mean_c - low_c)
    return hardiness(fig, SITE, days_lived, (), start + timedelta(days=33 + days))


def test_bare_wood_foreseen_for_a_day_and_for_nine_is_what_those_days_make_of_it() -> None:
    today = wood_after(0)
    place = season_place(today.day, SITE.latitude_deg)
    foreseen_c = today.lt50_c + wood_ahead(today, place, SITE.latitude_deg, COOL, MARKS).softer_c[:, 0]
    assert foreseen_c == pytest.approx([wood_after(days).lt50_c for days in (0, 1, 9)], abs=0.1)
    assert foreseen_c[2] < foreseen_c[1] - 0.5


@pytest.mark.parametrize(("phase", "share"), [(Phase.RIPENING, 1.0), (Phase.GROWING, 1.0), (Phase.RESTING, 0.0)])
def test_where_no_season_is_known_a_tree_has_all_its_leaves_from_leaf_out_to_ripening_and_none_at_rest(
    phase: Phase, share: float
) -> None:
    place = season_place(date(2026, 1, 10), SITE.latitude_deg)
    found = wood_ahead(bearing(phase=phase), place, SITE.latitude_deg, COOL, MARKS)
    assert found.leaves == pytest.approx(np.full((len(MARKS), 3), share))


def test_wood_of_which_no_season_is_known_is_taken_to_stay_as_it_is() -> None:
    found = wood_ahead(bearing(), season_place(date(2026, 1, 10), SITE.latitude_deg), SITE.latitude_deg, COOL, MARKS)
    assert not found.softer_c.any()
    assert not found.leaves.any()
