"""What was learned of a tree in the outlook: its nights, its doubts, its past; and nothing where nothing was."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from rules.garden.cover import CoverState
from rules.garden.doubt import DoubtKind
from rules.garden.tree import Phase
from rules.learning import LearnedHardiness
from rules.outlook.garden_outlook import Outlook, outlook, outlook_carried
from rules.outlook.inputs import OutlookInputs, air_at, tree_weathers
from rules.outlook.tree_heat import tree_heats
from rules.outlook.views.season_so_far import season_so_far
from rules.outlook.views.week import week_ahead
from rules.site.microclimate import PRIORS, SiteOffset
from rules.wood.hardiness import HardinessSource
from tests.rules.outlook.test_outlook import FRIDAY, garden, inputs

__all__ = ["garden", "inputs"]  # the fixtures of the demo's hardest night

TREE = "Bench fig"


def learned(inputs: OutlookInputs, radiation_c: float, sd_c: float = 0.3) -> OutlookInputs:
    """The same garden with a thermometer at one tree that has told its whole offset."""
    offset = SiteOffset(radiation_c=radiation_c, mixed_c=0.0, radiation_sd_c=sd_c, mixed_sd_c=sd_c)
    return replace(inputs, offsets={TREE: offset})


@pytest.fixture(scope="module")
def small(inputs: OutlookInputs) -> OutlookInputs:
    """Two trees of it, to be quick; the other stands for all that no reading is of."""
    return replace(inputs, trees=tuple(tree for tree in inputs.trees if tree.name in (TREE, "Porch fig")))


@pytest.fixture(scope="module")
def usual(small: OutlookInputs) -> Outlook:
    """Its outlook without any reading."""
    return outlook(small, FRIDAY)


def test_the_prior_given_as_learned_changes_no_number_but_the_doubt(small: OutlookInputs, usual: Outlook) -> None:
    standing = next(tree.standing for tree in small.trees if tree.name == TREE)
    before, told = usual, outlook(replace(small, offsets={TREE: PRIORS[standing]}), FRIDAY)
    assert told.tree(TREE).nights == before.tree(TREE).nights
    assert told.acts == before.acts
    assert DoubtKind.SITE_GUESSED in {doubt.kind for doubt in before.tree(TREE).doubts}
    kinds = {doubt.kind for doubt in told.tree(TREE).doubts}
    assert DoubtKind.SITE_GUESSED not in kinds
    assert DoubtKind.SITE_HALF_KNOWN in kinds


def test_without_readings_every_tree_of_one_standing_shares_one_weather_as_before(inputs: OutlookInputs) -> None:
    assert inputs.past is not None
    weathers = tree_weathers(inputs, inputs.past, inputs.trees)
    for tree, weather in zip(inputs.trees, weathers, strict=True):
        twin = next(i for i, other in enumerate(inputs.trees) if other.standing == tree.standing)
        assert weather is weathers[twin]


def test_a_warmer_place_is_warmer_by_what_was_learned_on_a_clear_night_and_the_other_tree_is_not(
    small: OutlookInputs, usual: Outlook
) -> None:
    before, after = usual, outlook(learned(small, 3.0), FRIDAY)
    gain_c = after.tree(TREE).nights[0].air_c - before.tree(TREE).nights[0].air_c
    assert 1.0 < gain_c <= 3.0  # the night is clear; wind takes part of it
    assert after.tree("Porch fig").nights == before.tree("Porch fig").nights
    for state, tissue in after.tree(TREE).nights[0].tissue.items():
        assert tissue.chance <= before.tree(TREE).nights[0].tissue[state].chance
        assert tissue.sd_c < before.tree(TREE).nights[0].tissue[state].sd_c  # the spot is no guess any more


def test_a_place_known_well_is_no_doubt_any_more(small: OutlookInputs) -> None:
    kinds = {doubt.kind for doubt in outlook(learned(small, 1.0, 0.3), FRIDAY).tree(TREE).doubts}
    assert not kinds & {DoubtKind.SITE_GUESSED, DoubtKind.SITE_HALF_KNOWN}


def test_a_new_offset_is_not_lost_to_what_was_carried(small: OutlookInputs) -> None:
    _, carried = outlook_carried(small, FRIDAY, None)
    told = learned(small, -2.0)
    anew, carried_on = outlook_carried(told, FRIDAY, None)
    assert outlook_carried(told, FRIDAY, carried)[0] == anew
    again = outlook_carried(told, FRIDAY, carried_on)[0]
    assert again.tree(TREE).hardiness.lt10_c == pytest.approx(anew.tree(TREE).hardiness.lt10_c)


def test_the_week_the_questions_and_the_season_take_the_same_offset(small: OutlookInputs) -> None:
    told = learned(small, 4.0)
    tree = next(tree for tree in small.trees if tree.name == TREE)
    seen = outlook(told, FRIDAY)
    week = week_ahead(told, seen, TREE)
    heat = tree_heats(told, [tree], FRIDAY)[0]
    before = tree_heats(small, [tree], FRIDAY)[0]
    night = heat.nights[1][1]  # the first is the rest of the morning
    warmer_c = heat.weather.air_c[night] - before.weather.air_c[night]
    assert warmer_c.max() > 1.0  # of the 4 that hold in clear calm hours
    np.testing.assert_allclose(week.outside.mean_c[: night.stop], heat.weather.air_c[: night.stop], atol=1e-6)
    at = FRIDAY + timedelta(hours=20)
    known, guessed = air_at(told, tree, at), air_at(small, tree, at)
    assert known is not None
    assert guessed is not None
    assert known > guessed
    tissue, plain = season_so_far(told, TREE, FRIDAY), season_so_far(small, TREE, FRIDAY)
    assert np.nanmin(tissue.low_c - plain.low_c) > -0.5
    assert np.nanmax(tissue.low_c - plain.low_c) > 0.5


def accepted(inputs: OutlookInputs, shift_c: float, phase: Phase) -> OutlookInputs:
    found = LearnedHardiness(phase=phase, shift_c=shift_c, sd_c=1.0, prior_sd_c=2.0, outcomes=2, odd=(), other_phase=0)
    return replace(inputs, accepted={TREE: (found,)})


def test_an_accepted_winter_moves_what_the_wood_bears_in_its_phase_only_and_says_so(
    small: OutlookInputs, usual: Outlook
) -> None:
    before = usual.tree(TREE).hardiness
    after = outlook(accepted(small, -1.5, before.phase), FRIDAY).tree(TREE).hardiness
    assert after.lt10_c == pytest.approx(before.lt10_c - 1.5)
    assert after.source is HardinessSource.YOUR_WINTERS
    other = Phase.WAKING if before.phase is not Phase.WAKING else Phase.RESTING
    assert outlook(accepted(small, -1.5, other), FRIDAY).tree(TREE).hardiness == before
    course = season_so_far(accepted(small, -1.5, before.phase), TREE, FRIDAY)
    assert course.lt10_c[-1] == pytest.approx(season_so_far(small, TREE, FRIDAY).lt10_c[-1] - 1.5)


def test_a_growers_own_number_stands_against_what_was_accepted(small: OutlookInputs, usual: Outlook) -> None:
    phase = usual.tree(TREE).hardiness.phase
    trees = tuple(tree.model_copy(update={"safe_to_c": {phase: -7.0}}) for tree in small.trees)
    own = outlook(accepted(replace(small, trees=trees), -1.5, phase), FRIDAY).tree(TREE).hardiness
    assert (own.lt10_c, own.source) == (-7.0, HardinessSource.YOUR_NUMBER)


def test_a_colder_place_makes_no_night_safer(small: OutlookInputs, usual: Outlook) -> None:
    before, after = usual.tree(TREE), outlook(learned(small, -4.0, 1.5), FRIDAY).tree(TREE)
    for night, twin in zip(before.nights, after.nights, strict=True):
        assert twin.tissue[CoverState.BARE].chance >= night.tissue[CoverState.BARE].chance - 1e-9
