"""Stages of flower buds in spring, and what published tables say of them, reach what a tree is safe to."""

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from rules.garden.records import Sighting, SightingKind
from rules.garden.species import Organ
from rules.garden.tree import Phase, Site, Tree
from rules.wood.buds.critical import stages
from rules.wood.daily_temperatures import WoodDays
from rules.wood.hardiness import Hardiness, hardiness

SITE = Site(latitude_deg=45, longitude_deg=0, elevation_m=100, time_zone="UTC")
START = date(2025, 9, 7)


def spring(species: str, day: int, seen: tuple[Sighting, ...] = ()) -> Hardiness:
    mean_c = 9.0 - 9.0 * np.sin(2 * np.pi * (np.arange(day + 1) - 40) / 365)
    wood_days = WoodDays(first=START, mean_c=mean_c, min_c=mean_c - 5, max_c=mean_c + 5)
    return hardiness(Tree(name="Wall", species=species), SITE, wood_days, seen, START + timedelta(days=day))


@pytest.mark.parametrize(
    "species", ["apple", "pear", "peach", "apricot", "european plum", "cherry", "sour cherry", "grape"]
)
def test_buds_pass_the_stages_of_their_table_in_order_and_then_are_no_longer_spoken_of(species: str) -> None:
    told = [spring(species, day).stage for day in range(100, 300, 10)]
    passed = [one.row.stage for one in told if one is not None]
    order = stages(next(one for one in told if one is not None).row.species)
    assert [order.index(stage) for stage in passed] == sorted(order.index(stage) for stage in passed)
    assert len(set(passed)) >= 3
    assert told[0] is None
    assert told[-1] is None


def test_an_apple_after_bloom_is_safe_to_what_the_table_says_and_never_to_less_than_it() -> None:
    # Washington State University EB0913: post bloom 28 °F takes 10 %, 25 °F 90 %
    told = next(
        one for day in range(200, 280, 3) if (one := spring("apple", day)).stage and one.stage.row.stage == "post bloom"
    )
    buds = told.organs[Organ.BUDS]
    assert buds.lt10_c == pytest.approx((28 - 32) / 1.8, abs=0.05)
    assert told.stage is not None
    assert not told.stage.seen


def test_buds_seen_swelling_put_the_model_on_the_first_stage() -> None:
    day = date(2026, 2, 20)
    seen = Sighting(tree="Wall", sight=SightingKind.BUDS_SWELLING, at_utc=datetime(2026, 2, 20, 12, tzinfo=UTC))
    assert spring("peach", 166).stage is None
    stage = spring("peach", (day - START).days, (seen,)).stage
    assert stage is not None
    assert (stage.row.stage, stage.seen) == ("first swelling", True)


@pytest.mark.parametrize("species", ["fig", "pomegranate", "olive"])
def test_species_without_a_table_have_no_stage(species: str) -> None:
    assert all(spring(species, day).stage is None for day in range(150, 280, 20))


def told(species: str, day: int, sight: SightingKind, later: int = 0) -> Hardiness:
    at = datetime(2025, 9, 7, 12, tzinfo=UTC) + timedelta(days=day)
    return spring(species, day + later, (Sighting(tree="Wall", sight=sight, at_utc=at),))


@pytest.mark.parametrize(("day", "warmer"), [(229, "before"), (265, "after")])
def test_full_bloom_as_seen_stands_whether_the_model_was_before_it_or_past_it(day: int, warmer: str) -> None:
    # Washington State University EB0914, peach in full bloom: 27 °F takes 10 %, 24 °F 90 % (-2.8 and -4.4 °C)
    order = stages("peach")
    modelled = spring("peach", day).stage
    assert modelled is not None
    assert (order.index(modelled.row.stage) < order.index("full bloom")) == (warmer == "before")
    seen = told("peach", day, SightingKind.FULL_BLOOM)
    assert seen.stage is not None
    assert (seen.stage.row.stage, seen.stage.seen) == ("full bloom", True)
    assert seen.watched is Organ.BUDS
    assert seen.lt10_c == pytest.approx((27 - 32) / 1.8, abs=0.05)


def test_warmth_after_what_was_seen_brings_on_the_next_stage_and_then_it_is_modelled_again() -> None:
    after = told("peach", 235, SightingKind.FIRST_BLOOM, later=14).stage
    assert after is not None
    assert stages("peach").index(after.row.stage) > stages("peach").index("first bloom")
    assert not after.seen


def test_bloom_on_a_tree_no_table_has_means_that_it_is_in_leaf() -> None:
    assert told("pomegranate", 235, SightingKind.FULL_BLOOM).phase is Phase.GROWING
