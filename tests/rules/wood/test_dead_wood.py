"""What a winter has taken so far: by the nights, by what was found, by what buds; and when a scratch would tell."""

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from rules.garden.records import Dieback, Sighting, SightingKind
from rules.garden.tree import Phase, Site, Tree
from rules.wood.daily_temperatures import WoodDays
from rules.wood.dead_wood import WoodLost
from rules.wood.hardiness import hardiness

SITE = Site(latitude_deg=45, longitude_deg=0, elevation_m=100, time_zone="UTC")
START = date(2026, 9, 7)
FIG = Tree(name="Porch", species="fig")  # established, at rest safe to -9, half lost at -12
NIGHT = 128  # 13 January
COLD = {Phase.RESTING: -18.0}


def winter(low_c: float, *, nights: int = 1, days: int = 150) -> WoodDays:
    """A mild winter with some cold nights from 13 January on."""
    mean_c = 8.0 - 7.0 * np.sin(2 * np.pi * (np.arange(days) - 40) / 365)
    min_c = mean_c - 4.0
    min_c[NIGHT + 1 : NIGHT + 1 + nights] = low_c
    mean_c = np.minimum(mean_c, (min_c + mean_c + 4.0) / 2)
    return WoodDays(first=START, mean_c=mean_c, min_c=min_c, max_c=mean_c + 8.0)


def lost(air: WoodDays, *found: Dieback, seen: tuple[Sighting, ...] = (), tree: Tree = FIG) -> WoodLost:
    return hardiness(tree, SITE, air, seen, START + timedelta(days=149), diebacks=found).lost


def found_on(day: int, share: float) -> Dieback:
    at = datetime(2026, 9, 7, 12, tzinfo=UTC) + timedelta(days=day)
    return Dieback(tree="Porch", at_utc=at, share=share)


def test_a_night_far_below_kills_the_top_and_its_bark_shows_it_ten_days_later() -> None:
    # California Rare Fruit Growers: 12-15 °F is the limit of a dormant fig; -20 °C is -4 °F.
    told = lost(winter(-20.0))
    assert told.share > 0.9
    assert told.held_dead
    assert told.evening == START + timedelta(days=NIGHT)
    assert told.shows_from == START + timedelta(days=NIGHT + 10)


def test_winters_that_wood_can_take_leave_it_held_alive() -> None:
    assert lost(winter(-3.0)).share < 0.02
    month = lost(winter(-8.0, nights=20))  # a degree above its LT10, night after night
    assert month.share < 0.3
    assert not month.held_dead
    assert month.shows_from is None


@pytest.mark.parametrize("low_c", [-10.0, -12.0, -15.0])
def test_the_share_follows_the_dose_curve_widened_by_doubt(low_c: float) -> None:
    told = lost(winter(low_c))
    sharp = {-10.0: 0.20, -12.0: 0.5, -15.0: 0.90}[low_c]  # the normal curve through -9 (10 %) and -12 (50 %)
    assert min(sharp, 0.5) - 0.1 <= told.share <= max(sharp, 0.5) + 0.1


def test_what_was_found_counts_for_more_than_the_model_until_a_worse_night_comes() -> None:
    green = lost(winter(-20.0), found_on(NIGHT + 12, 0.0))
    assert green.share < 0.02
    assert green.told
    assert green.shows_from is None
    dead = lost(winter(-3.0), found_on(NIGHT, 1.0))
    assert dead.held_dead
    assert dead.told
    early = lost(winter(-20.0), found_on(NIGHT - 10, 0.0))
    assert early.held_dead
    assert not early.told


def test_the_found_of_another_tree_or_season_says_nothing_of_this_one() -> None:
    other = Dieback(tree="Wall", at_utc=datetime(2027, 1, 30, tzinfo=UTC), share=0.0)
    before = Dieback(tree="Porch", at_utc=datetime(2026, 5, 1, tzinfo=UTC), share=0.0)
    assert lost(winter(-20.0), other, before).held_dead


def test_a_tree_seen_budding_is_not_held_dead() -> None:
    at = datetime(2026, 9, 7, 12, tzinfo=UTC) + timedelta(days=NIGHT + 20)
    seen = Sighting(tree="Porch", sight=SightingKind.BUDS_SWELLING, at_utc=at)
    assert not lost(winter(-20.0), seen=(seen,)).held_dead


def test_a_grower_s_own_limit_judges_the_nights_behind_too() -> None:
    own = FIG.model_copy(update={"safe_to_c": COLD})
    assert lost(winter(-15.0), tree=own).share < 0.2 < lost(winter(-15.0)).share
