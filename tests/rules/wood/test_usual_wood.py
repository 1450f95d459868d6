"""The usual course of wood at a place, from its own past winters."""

from dataclasses import replace
from datetime import date

import numpy as np

from rules.garden.tree import Phase, Site, Tree
from rules.wood.usual_wood import DAYS, usual_wood
from tests.high_plains import high_plains

SITE = Site(latitude_deg=40.4, longitude_deg=-101.7, elevation_m=1072, time_zone="UTC")
FIG = Tree(name="Porch", species="fig")
TODAY = date(2018, 12, 1)


def test_a_fig_on_the_high_plains_is_at_rest_in_midwinter_and_swollen_in_late_may() -> None:
    usual = usual_wood(FIG, SITE, high_plains(), TODAY)
    assert usual is not None
    assert len(usual.lt50_c) == DAYS
    assert usual.lt50_c[0] > -5.0  # September
    assert usual.lt50_c[130] < -11.5  # 15 January, the table's -12
    assert usual.lt50_c[175] < -11.0  # 1 March: weeks of thaw by day do not wake it (common practice)
    assert usual.lt50_c[270] == -6.0  # 4 June, in leaf: swollen wood
    assert (usual.lt10_c > usual.lt50_c).all()


def test_a_young_tree_and_a_hardy_one_have_their_own_course() -> None:
    kinds = (FIG.model_copy(update={"planted_year": 2018}), FIG, FIG.model_copy(update={"cultivar": "Celeste"}))
    found = [usual_wood(tree, SITE, high_plains(), TODAY) for tree in kinds]
    rest_c = [one.lt10_c[130] for one in found if one is not None]
    assert np.round(rest_c).tolist() == [-7.0, -9.0, -12.0]


def test_a_kind_without_a_row_follows_the_growers_own_limit() -> None:
    strange = Tree(name="Gift", species="unknown", safe_to_c={Phase.RESTING: -15.0})
    usual = usual_wood(strange, SITE, high_plains(), TODAY)
    assert usual is not None
    assert np.round(usual.lt10_c[130]) == -15.0


def test_without_maxima_or_with_few_winters_nothing_is_called_usual() -> None:
    past = high_plains()
    assert past.max_c is not None
    assert usual_wood(FIG, SITE, None, TODAY) is None
    assert usual_wood(FIG, SITE, replace(past, max_c=None), TODAY) is None
    short = replace(past, min_c=past.min_c[:1000], max_c=past.max_c[:1000])
    assert usual_wood(FIG, SITE, short, TODAY) is None
