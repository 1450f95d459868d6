"""What winters teach of a tree's own wood, what a pair of twins can show, and the season looked back on."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.garden.cover import CoverState
from rules.garden.records import Deed, DeedKind
from rules.garden.species import species_row
from rules.garden.tree import Phase, Site, Standing, Tree
from rules.learning import (
    LearnedHardiness,
    NightLookedBackOn,
    Outcome,
    WouldHave,
    compare_twins,
    learn_hardiness,
    proposed,
    season_review,
    shifted,
    trips,
)
from rules.learning.tree_hardiness import LEAST_SD_C, ONE_WINTER_C
from rules.wood.daily_temperatures import WoodDays
from rules.wood.hardiness import hardiness

FIG = species_row("fig", "", 8)  # -9 / -12 °C at rest
REST = FIG.wood_hardiness(Phase.RESTING)
Z80 = 1.2816


def winter(
    tissue_c: float, lost: float, year: int = 2026, phase: Phase = Phase.RESTING, tree: str = "Porch"
) -> Outcome:
    return Outcome(
        tree=tree, evening=date(year, 1, 15), phase=phase, tissue_c=tissue_c, lt10_c=REST.lt10_c, lt50_c=REST.lt50_c,
        lost=lost,
    )  # fmt: skip


def shift_c(*outcomes: Outcome) -> float:
    return learn_hardiness(outcomes, FIG, Phase.RESTING).shift_c


def test_without_outcomes_the_row_stands() -> None:
    learned = learn_hardiness([], FIG, Phase.RESTING)
    assert (learned.shift_c, learned.outcomes) == (0.0, 0)
    assert learned.sd_c == pytest.approx(FIG.sd_resting_c, rel=1e-4)


def test_no_damage_at_minus_eleven_is_information() -> None:
    """The row holds 10 % lost at -9 and 50 % at -12: unhurt at -11 says the tree is hardier, and narrows the doubt."""
    learned = learn_hardiness([winter(-11, 0.0)], FIG, Phase.RESTING)
    assert learned.shift_c <= 0
    assert learned.sd_c < 0.95 * learned.prior_sd_c
    assert shift_c(winter(-12.5, 0.0)) < -0.5
    assert shift_c(winter(-14, 0.0)) == pytest.approx(-1.5)  # and no more than so much by one winter


def test_surviving_a_mild_night_teaches_nothing() -> None:
    learned = learn_hardiness([winter(-2, 0.0)], FIG, Phase.RESTING)
    assert learned.shift_c == pytest.approx(0.0, abs=0.01)
    assert learned.sd_c == pytest.approx(learned.prior_sd_c, rel=0.03)  # it rules out the most tender of its kind


def test_half_the_wood_lost_where_a_tenth_was_expected_makes_a_tree_more_tender() -> None:
    assert shift_c(winter(-9, 0.5)) > 0.5
    assert shift_c(winter(-9, 0.5), winter(-9, 0.5, 2027), winter(-9, 0.5, 2028)) > shift_c(winter(-9, 0.5))


def test_as_much_lost_as_expected_changes_nothing_but_the_doubt() -> None:
    learned = learn_hardiness([winter(-12, 0.5), winter(-9, 0.1, 2027)], FIG, Phase.RESTING)
    assert learned.shift_c == pytest.approx(0.0, abs=0.05)
    assert learned.sd_c < 0.8 * learned.prior_sd_c


def test_a_tree_dead_after_a_mild_winter_had_another_cause() -> None:
    learned = learn_hardiness([winter(-2, 1.0)], FIG, Phase.RESTING)
    assert learned.odd == (winter(-2, 1.0),)
    assert abs(learned.shift_c) < 0.3


def test_wood_at_rest_says_nothing_of_wood_waking() -> None:
    learned = learn_hardiness([winter(-12.5, 0.0)], FIG, Phase.WAKING)
    assert (learned.shift_c, learned.outcomes, learned.other_phase) == (0.0, 0, 1)


def test_a_share_beyond_all_or_nothing_is_refused_by_its_name() -> None:
    with pytest.raises(ValueError, match=r"lost is 1\.2, the share of wood lost must be 0 to 1"):
        winter(-9, 1.2)


shares = st.sampled_from([0.0, 0.0, 0.1, 0.5, 0.9, 1.0])
winters = st.lists(st.tuples(st.floats(-25, 0), shares), max_size=5)


@given(known=winters, tissue_c=st.floats(-25, 0), lost=shares)
def test_no_newest_winter_lowers_what_a_tree_bears_by_more_than_its_bound_nor_below_what_it_came_through(
    known: list[tuple[float, float]], tissue_c: float, lost: float
) -> None:
    told = [winter(wood_days, share, 2020 + year) for year, (wood_days, share) in enumerate(known)]
    newest = winter(tissue_c, lost, 2040)
    before, after = shift_c(*told), learn_hardiness([*told, newest], FIG, Phase.RESTING)
    assert after.shift_c >= before - ONE_WINTER_C - 1e-9
    assert after.shift_c >= min([0.0, *(one.shows_c for one in [*told, newest])]) - 1e-9
    assert after.sd_c >= LEAST_SD_C


@pytest.mark.parametrize("count", [1, 4])
def test_eight_in_ten_true_shifts_lie_inside_the_80_percent_interval(count: int) -> None:
    """300 trees scatter by 2.3 %: goal 75-85, with one of them either way."""
    inside = []
    for seed in range(300):
        rng = np.random.default_rng([seed, 3])
        true_c = rng.normal(0, FIG.sd_resting_c)
        told = []
        for year in range(count):
            tissue_c = rng.uniform(-13, -3)
            seen = (REST.lt50_c + true_c - tissue_c) / winter(0, 0).width_c + rng.normal(0, 0.4)
            told.append(winter(tissue_c + rng.normal(0, 1.5), NormalDist().cdf(seen), 2026 + year))
        learned = learn_hardiness(told, FIG, Phase.RESTING)
        inside.append(abs(learned.shift_c - true_c) < Z80 * learned.sd_c)
    assert 0.73 < np.mean(inside) < 0.87


def test_an_accepted_shift_moves_both_thresholds_and_keeps_the_other_doubts() -> None:
    site = Site(latitude_deg=45, longitude_deg=0, elevation_m=300, time_zone="UTC")
    tree = Tree(name="Porch", species="fig", standing=Standing.OPEN)
    found = hardiness(tree, site, WoodDays.nothing(date(2026, 1, 15)), [], date(2026, 1, 15))
    learned = LearnedHardiness(
        phase=Phase.RESTING, shift_c=-1.2, sd_c=1.0, prior_sd_c=FIG.sd_resting_c, outcomes=2, odd=(), other_phase=0
    )
    moved = shifted(found, learned)
    assert moved.lt10_c == pytest.approx(found.lt10_c - 1.2)
    assert moved.lt50_c == pytest.approx(found.lt50_c - 1.2)
    assert 1.0 < moved.sd_c < found.sd_c
    assert shifted(found, replace(learned, phase=Phase.WAKING)) == found


def test_one_pair_hardly_ever_shows_a_cover_by_itself() -> None:
    """Covered a fifth lost, bare half: 1.97 °C on the dose curve, and two bare trees often differ by that."""
    verdict = compare_twins(winter(-9, 0.2, tree="Porch"), winter(-12, 0.5, tree="Trial"))
    width_c = 3 / NormalDist().inv_cdf(0.9)
    assert verdict.worth_c == pytest.approx(-width_c * NormalDist().inv_cdf(0.2))
    assert verdict.expected_c == pytest.approx(3.0)
    assert not verdict.is_shown
    assert 0.1 < verdict.by_luck < 0.25
    assert verdict.pairs_needed == 3


def test_a_bare_twin_dead_beside_an_unhurt_one_is_a_lower_bound_and_shown() -> None:
    verdict = compare_twins(winter(-7, 0.0), winter(-16, 1.0, tree="Trial"))
    assert verdict.at_least
    assert verdict.is_shown
    assert verdict.worth_c is not None
    assert verdict.worth_c > 6


@pytest.mark.parametrize("lost", [0.0, 1.0])
def test_a_pair_both_unhurt_or_both_dead_shows_nothing(lost: float) -> None:
    verdict = compare_twins(winter(-7, lost), winter(-10, lost, tree="Trial"))
    assert verdict.worth_c is None
    assert verdict.by_luck == 1.0
    assert not verdict.is_shown


def test_a_bare_twin_that_did_better_is_no_sign_of_a_cover() -> None:
    verdict = compare_twins(winter(-9, 0.5), winter(-12, 0.2, tree="Trial"))
    assert verdict.by_luck > 0.5
    assert verdict.pairs_needed is None


def test_twins_of_different_nights_are_not_compared() -> None:
    with pytest.raises(ValueError, match="judged by one night"):
        compare_twins(winter(-9, 0.2), winter(-12, 0.5, 2027))


def deed(hour: int, minute: int = 0, tree: str = "Porch") -> Deed:
    moment = datetime(2026, 1, 14, tzinfo=UTC) + timedelta(hours=hour, minutes=minute)
    return Deed(tree=tree, kind=DeedKind.CLOSED, state=CoverState.CLOSED, at_utc=moment)


def test_deeds_within_an_hour_of_each_other_were_one_trip() -> None:
    assert trips([]) == 0
    assert trips([deed(16), deed(16, 20, "Wall"), deed(17, 10, "Kaki")]) == 1
    assert trips([deed(40), deed(16), deed(16, 5)]) == 2


def night(day: int, forecast_c: float, came_c: float, told: float, *, too_cold: bool) -> NightLookedBackOn:
    return NightLookedBackOn(
        tree="Porch", evening=date(2026, 1, day), forecast_c=forecast_c, came_c=came_c, chance=told, too_cold=too_cold
    )


def test_the_review_counts_what_was_said_against_what_came() -> None:
    nights = [
        night(1, -5, -7, 0.1, too_cold=False),
        night(2, -8, -12, 0.4, too_cold=True),
        night(3, -6, -9, 0.1, too_cold=True),
        night(4, -9, -8, 0.5, too_cold=False),
    ]
    other = WouldHave(way="closing at -4", trips=9, lost={"Porch": 0.2})
    review = season_review(nights, [deed(16), deed(40)], [winter(-12, 0.3)], {"Porch": 0.2, "Wall": 0.0}, (), [other])
    assert (review.nights, review.warned, review.warned_cold, review.unwarned_cold, review.trips) == (4, 2, 1, 1, 2)
    assert review.bias_c == pytest.approx(2.0)
    assert review.rms_c == pytest.approx(np.sqrt(30 / 4))
    assert review.expected_cold == pytest.approx(1.1)
    assert [(one.tree, one.lost, one.nights_too_cold) for one in review.trees] == [("Porch", 0.3, 2), ("Wall", None, 0)]
    assert review.would_have == (other,)


def test_a_season_without_a_forecast_kept_is_reviewed_without_inventing_one() -> None:
    review = season_review([], [], [], {})
    assert (review.nights, review.bias_c, review.rms_c, review.trips) == (0, None, None, 0)


def test_only_a_shift_worth_saying_is_proposed() -> None:
    def learned(shift: float, outcomes: int = 2) -> Sequence[LearnedHardiness]:
        return [
            LearnedHardiness(
                phase=Phase.RESTING, shift_c=shift, sd_c=1.0, prior_sd_c=1.8, outcomes=outcomes, odd=(), other_phase=0
            )
        ]

    held = {(tree, Phase.RESTING): -9.0 for tree in ("Porch", "Wall", "Kaki")}
    found = proposed({"Porch": learned(-1.2), "Wall": learned(0.2), "Kaki": learned(2.0, 0)}, held)
    assert [one.key for one in found] == ["Porch:resting"]
    assert found[0].lt10_after_c == pytest.approx(-10.2)
    assert found[0].shift_c == pytest.approx(-1.2)
