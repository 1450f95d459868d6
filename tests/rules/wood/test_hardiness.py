"""What a tree can take tonight: what growers know, laws that must hold, what was seen, what is not known."""

from datetime import UTC, date, datetime, timedelta
from typing import Final

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from rules.garden.doubt import DoubtKind
from rules.garden.records import Sighting, SightingKind
from rules.garden.species import Organ, species_row
from rules.garden.tree import Phase, Site, Tree
from rules.wood.course import winters_lt_c
from rules.wood.daily_temperatures import WoodDays
from rules.wood.hardiness import Hardiness, HardinessSource, hardiness, season_of
from tests.rules.wood.kinetics.test_hardening import sine_year

Floats = npt.NDArray[np.float64]

NORTH: Final = Site(latitude_deg=40, longitude_deg=-100, elevation_m=900, time_zone="UTC")
SOUTH: Final = Site(latitude_deg=-40, longitude_deg=-100, elevation_m=900, time_zone="UTC")
FIG: Final = Tree(name="Porch", species="fig")
START: Final = date(2025, 9, 7)


def wood_days(mean_c: Floats, first: date = START, swing_c: float = 6.0) -> WoodDays:
    return WoodDays(first=first, mean_c=mean_c, min_c=mean_c - swing_c, max_c=mean_c + swing_c)


def seen(sight: SightingKind, day: date, tree: str = "Porch") -> Sighting:
    return Sighting(tree=tree, sight=sight, at_utc=datetime(day.year, day.month, day.day, 15, tzinfo=UTC))


def verdict(night_c: float, lt10_c: float, lt50_c: float) -> str:
    """What one night does: under LT10 hurt; under LT90 (as far below LT50 as LT10 is above: a normal curve) killed."""
    return "unhurt" if night_c >= lt10_c else "killed" if night_c <= 2 * lt50_c - lt10_c else "hurt"


# --- what fig growers know (common practice, no source) ---


def test_the_laboratory_value_of_figs_is_a_ceiling_the_table_never_reaches() -> None:
    # Karami et al. 2018 (abstract): mean LT50 of seven cultivars in November, January, March
    hardest_c = min(species_row("fig", name).lt50_c(Phase.RESTING) for name in ("", "Hardy Chicago", "Alma"))
    assert hardest_c > -16.89 > -20.23 > -21.35


def fig_on(day: date, tree: Tree = FIG) -> Hardiness:
    return hardiness(tree, NORTH, wood_days(sine_year(250)), [], day)


def test_nights_at_minus_two_in_late_october_hurt_leaves_not_wood() -> None:
    organs = fig_on(date(2025, 10, 27)).organs
    assert organs[Organ.WOOD].lt10_c < -2.0 < organs[Organ.SHOOTS].lt10_c


def test_minus_seven_kills_unhardened_wood_to_the_ground_and_is_nothing_in_january() -> None:
    september, january = fig_on(date(2025, 9, 25)), fig_on(date(2026, 1, 15))
    assert verdict(-7.0, september.lt10_c, september.lt50_c) == "killed"
    assert verdict(-7.0, january.lt10_c, january.lt50_c) == "unhurt"


def test_a_young_fig_bears_less_and_a_hardy_cultivar_more() -> None:
    young = FIG.model_copy(update={"planted_year": 2025})
    hardy = FIG.model_copy(update={"cultivar": "Hardy Chicago", "planted_year": 2015})
    wood_hardiness = [fig_on(date(2026, 1, 15), tree).lt10_c for tree in (young, FIG, hardy)]
    assert wood_hardiness == pytest.approx(
        [-7.0, -9.0, -12.0], abs=0.2
    )  # within a fifth of a degree of full rest by mid-January


@pytest.mark.parametrize("mean_c", [11.0, 15.0, 22.0])
def test_a_warm_day_late_in_february_costs_between_the_slow_and_the_fast_of_eight_measured_species(
    mean_c: float,
) -> None:
    # Deacclimation of eight woody species at constant temperature, chill met, February 2020 (Arnold Arboretum data):
    # slowest and fastest [°C a day], over a winter range of about 25 °C (assumed, for a share that can be compared).
    slow, fast = {11.0: (0.42, 2.22), 15.0: (0.61, 5.5), 22.0: (0.90, 6.65)}[mean_c]
    spring = sine_year(170)
    spring[-1] = mean_c
    lt50_c = season_of(FIG, NORTH, wood_days(spring), [], START + timedelta(days=169)).lt50_c
    span = species_row("fig").lt50_c(Phase.GROWING) - species_row("fig").lt50_c(Phase.RESTING)
    assert slow / 25.0 <= (lt50_c[-1] - lt50_c[-2]) / span <= fast / 25.0


def test_a_mild_week_in_january_costs_tenths_and_the_next_cold_week_brings_it_back() -> None:
    # Common practice of oceanic winters (highs of 12-16 °C): a few tenths to 1.5 °C, regained in the next cold week;
    # Kalberer et al. 2007 (abstract): early in winter nearly all is regained.
    mean_c = sine_year(150)
    mean_c[129:136], mean_c[136:143] = 10.0, -1.0
    before, after, back = season_of(FIG, NORTH, wood_days(mean_c), [], START + timedelta(days=149)).lt10_c[
        [128, 135, 142]
    ]
    assert 0.2 <= after - before <= 1.5
    assert back - before <= 0.5 * (after - before)


def test_less_is_regained_late_in_winter_than_early() -> None:
    # Kalberer et al. 2007 (abstract). The same warm week and the same cold fortnight, in early January and in March.
    regained = []
    for day in (120, 180):
        mean_c = np.full(day + 21, 0.0)
        mean_c[:100] = sine_year(100)
        mean_c[day : day + 7], mean_c[day + 7 :] = 14.0, -4.0
        lt50_c = season_of(FIG, NORTH, wood_days(mean_c), [], START + timedelta(days=day + 20)).lt50_c
        regained.append((lt50_c[day + 6] - lt50_c[day + 20]) / (lt50_c[day + 6] - lt50_c[day - 1]))
    assert regained[0] > 0.7
    assert regained[1] < regained[0] - 0.05  # only the direction is published


def test_what_buds_have_gone_toward_leaf_out_no_frost_brings_back() -> None:
    # Howell & Weiser 1970 (abstract): a base level rises with every further warm day
    mean_c = sine_year(240)
    mean_c[175:185], mean_c[185:] = 15.0, -12.0
    wood = season_of(FIG, NORTH, wood_days(mean_c), [], START + timedelta(days=215))
    gone = float(wood.course.developed[185, 0])
    assert 0.3 < gone < 0.5  # ten days of 15 °C are 100 of the 260 °C-days to leaf-out
    assert wood.lasting_lt50_c[185:].min() == pytest.approx(
        -12.0 + 6.0 * gone**1.5, abs=0.05
    )  # of the way from -12 to -6


def test_kaki_in_deep_rest_ignores_warmth_and_cold_and_regains_little_of_what_it_loses_after() -> None:
    # Kang et al. 1998 (abstract): in deep dormancy neither 25 nor 4 °C moves hardiness; after release (late November
    # or late December) 25 °C costs at most 4 °C, and 4 °C brings back at most 1.5. Days of treatment are not in the
    # abstract: five assumed.
    kaki, moved = Tree(name="Kaki", species="kaki"), []
    for day in (60, 125):
        mean_c = np.full(day + 10, -3.0)
        mean_c[:40] = sine_year(40)
        mean_c[day : day + 5], mean_c[day + 5 :] = 25.0, 4.0
        lt50_c = season_of(kaki, NORTH, wood_days(mean_c), [], START + timedelta(days=day + 9)).lasting_lt50_c
        moved.append((lt50_c[day + 4] - lt50_c[day - 1], lt50_c[day + 4] - lt50_c[day + 9]))
    (asleep, _), (lost, regained) = moved
    assert asleep == pytest.approx(0.0, abs=0.01)
    assert 1.5 < lost <= 4.0
    assert 0.0 <= regained <= 1.5


def test_the_long_days_of_a_far_northern_september_hold_hardening_back() -> None:
    cool = wood_days(np.full(4, 6.0))
    far = Site(latitude_deg=66, longitude_deg=25, elevation_m=100, time_zone="UTC")
    day = START + timedelta(days=3)
    assert season_of(FIG, far, cool, [], day).lt50_c[-1] == -4.0
    assert season_of(FIG, NORTH, cool, [], day).lt50_c[-1] < -4.2


def test_a_fig_counts_as_ready_to_wake_from_mid_january_and_a_peach_when_its_portions_are_in() -> None:
    # Gu et al. 2001 (abstract): sensitivity grows December to March. Peaches need 8-75 portions by cultivar; at 40 N a
    # cold winter has 60 about the end of January (computed from the Dynamic Model on the record of the high plains).
    peach = Tree(name="Wall", species="peach")
    assert not fig_on(date(2026, 1, 14)).chill_met
    assert fig_on(date(2026, 1, 15)).chill_met
    assert not fig_on(date(2025, 12, 15), peach).chill_met
    assert fig_on(date(2026, 3, 25), peach).chill_met


def test_wood_softens_faster_once_chill_is_met() -> None:
    peach, lost = Tree(name="Wall", species="peach"), []
    for day in (80, 190):  # late November and the middle of March
        mean_c = sine_year(day + 1)
        mean_c[day] = 18.0
        lt50_c = season_of(peach, NORTH, wood_days(mean_c), [], START + timedelta(days=day)).lt50_c
        lost.append(lt50_c[-1] - lt50_c[-2])
    assert lost[1] > 2 * lost[0]


# --- laws ---

SPECIES: Final = st.sampled_from(["fig", "kaki", "pomegranate", "satsuma", "olive", "kiwi", "grape", "peach", "lemon"])


def weathers(days: int, low_c: float = -25.0, high_c: float = 30.0) -> st.SearchStrategy[Floats]:
    def spread(knots: list[float]) -> Floats:
        return np.asarray(np.interp(np.arange(days), np.linspace(0, days - 1, len(knots)), knots))

    return st.lists(st.floats(low_c, high_c), min_size=4, max_size=24).map(spread)


def points_c(species: list[str], mean_c: Floats) -> tuple[Floats, Floats]:
    """Many winters of some species, with the swing of the days `wood_days` has."""
    return winters_lt_c([species_row(name) for name in species], NORTH, START, mean_c, mean_c - 6.0, mean_c + 6.0)


@given(weathers(364), SPECIES)
def test_hardiness_stays_between_its_bounds_through_any_year(mean_c: Floats, species: str) -> None:
    row = species_row(species)
    wood = season_of(Tree(name="any", species=species), NORTH, wood_days(mean_c), [], START + timedelta(days=363))
    assert wood.lt50_c.min() >= row.lt50_c(Phase.RESTING) - 1e-9
    assert wood.lt50_c.max() <= row.lt50_c(Phase.GROWING) + 1e-9
    assert (wood.lt10_c > wood.lt50_c).all()


@given(weathers(85), SPECIES, st.integers(0, 78), st.floats(0.1, 20.0))
@example(np.full(85, 22.0), "fig", 10, 12.0)  # the one cool week of a hot autumn: as published it lets warmth soften
def test_a_colder_week_never_makes_wood_more_tender_in_autumn(
    mean_c: Floats, species: str, first: int, colder_c: float
) -> None:
    colder = mean_c.copy()
    colder[first : first + 7] -= colder_c
    pair, _ = points_c([species], np.stack([mean_c, colder], axis=1))
    assert (pair[:, 1] <= pair[:, 0] + 1e-9).all()  # rounding only


@given(weathers(85), st.lists(st.floats(0.0, 12.0), min_size=85, max_size=85), SPECIES)
def test_vented_wood_hardens_at_least_as_well_as_closed(mean_c: Floats, warmer_c: list[float], species: str) -> None:
    """A closed cover keeps its wood warmer than an open cap, by whatever amount on each day."""
    both = np.stack([mean_c, mean_c + np.array(warmer_c)], axis=1)
    wood_hardiness, _ = points_c([species], both)
    assert (wood_hardiness[:, 0] <= wood_hardiness[:, 1] + 1e-9).all()


@given(
    st.integers(1, 6), st.floats(10.0, 22.0), st.floats(3.0, 20.0), st.sampled_from(["fig", "kaki", "grape", "peach"])
)
def test_after_a_warm_spell_loss_is_faster_than_regain(days: int, warm_c: float, frost_c: float, species: str) -> None:
    mean_c = sine_year(140 + 2 * days)
    mean_c[140 : 140 + days], mean_c[140 + days :] = warm_c, -frost_c
    lt50_c = season_of(
        Tree(name="any", species=species), NORTH, wood_days(mean_c), [], START + timedelta(139 + 2 * days)
    ).lt50_c
    lost, regained = lt50_c[139 + days] - lt50_c[139], lt50_c[139 + days] - lt50_c[-1]
    assert lost > regained >= 0.0


@given(weathers(300), SPECIES)
def test_a_southern_garden_mirrors_a_northern_one_by_half_a_year(mean_c: Floats, species: str) -> None:
    tree, last = Tree(name="any", species=species), timedelta(days=299)
    north = season_of(tree, NORTH, wood_days(mean_c), [], START + last)
    south = season_of(tree, SOUTH, wood_days(mean_c, first=date(2026, 3, 7)), [], date(2026, 3, 7) + last)
    assert south.start == date(2026, 3, 7)
    # 7 March is not quite 7 September for the sun: while days shorten, lengths differ by up to 0.10 h, a tenth of the
    # way from long to short days. Over 753 random winters that left 13 % of the range on the worst day of the worst
    # one, a peach in autumns of 18 °C, and 3.2 % in the mean of its days; the other half of the year is tens of percent
    # off.
    span = species_row(species).lt50_c(Phase.GROWING) - species_row(species).lt50_c(Phase.RESTING)
    off = np.abs(north.lasting_lt50_c - south.lasting_lt50_c)
    assert off.max() <= 0.2 * span
    assert off.mean() <= 0.05 * span


def test_warmth_tomorrow_does_not_change_what_wood_bears_tonight() -> None:
    mean_c = sine_year(140)
    tonight = START + timedelta(days=130)
    warmer = np.where(np.arange(140) > 130, 25.0, mean_c)
    assert hardiness(FIG, NORTH, wood_days(warmer), [], tonight) == hardiness(
        FIG, NORTH, wood_days(mean_c), [], tonight
    )


def test_many_trees_and_winters_at_once_bear_what_each_bears_alone() -> None:
    winters = np.stack([sine_year(240), sine_year(240) + 3.0, sine_year(240) - 2.0], axis=1)
    names = ["fig", "kaki", "grape"]
    wood_hardiness, half = points_c(names, winters)
    for w in range(3):
        for t, name in enumerate(names):
            alone = season_of(
                Tree(name="x", species=name), NORTH, wood_days(winters[:, w]), [], START + timedelta(days=239)
            )
            assert np.array_equal(wood_hardiness[:, w, t], alone.lasting_lt10_c)
            assert np.array_equal(half[:, w, t], alone.lasting_lt50_c)


# --- what the grower says ---


def test_the_growers_own_number_overrides_and_says_so() -> None:
    tree = FIG.model_copy(update={"safe_to_c": {Phase.RESTING: -10.5}})
    january, october = fig_on(date(2026, 1, 15), tree), fig_on(date(2025, 10, 25), tree)
    assert (january.lt10_c, january.source) == (-10.5, HardinessSource.YOUR_NUMBER)
    assert january.organs[Organ.WOOD].lt10_c == -10.5
    assert january.lt50_c == pytest.approx(-13.5, abs=0.01)  # the table's step from 10 to 50 % at rest is 3 °C
    assert all(doubt.kind is not DoubtKind.HARDINESS_GUESSED for doubt in january.doubts)
    assert october.source is HardinessSource.MODEL


def test_an_estimate_travels_as_a_doubt_with_its_size() -> None:
    january = fig_on(date(2026, 1, 15))
    guessed = [doubt for doubt in january.doubts if doubt.kind is DoubtKind.HARDINESS_GUESSED]
    assert [(doubt.subject, doubt.amount) for doubt in guessed] == [("Porch", round(january.sd_c, 1))]


def test_dropped_leaves_move_the_model_to_hardening_and_the_effect_says_how() -> None:
    day = date(2025, 9, 28)
    told = hardiness(FIG, NORTH, wood_days(sine_year(30)), [seen(SightingKind.LEAVES_DROPPED, day)], day)
    (effect,) = told.effects
    assert (effect.phase_before, effect.phase_after) == (Phase.RIPENING, Phase.HARDENING)
    assert effect.lt10_after_c < effect.lt10_before_c
    assert told.lt10_c == pytest.approx(effect.lt10_after_c)
    assert (
        told.lt10_c >= species_row("fig").wood_hardiness(Phase.HARDENING).lt10_c
    )  # a sign, not a measurement: never past it
    assert effect.moved


def test_leaves_reported_off_after_a_thaw_do_not_harden_what_the_thaw_softened() -> None:
    mean_c = sine_year(160)
    mean_c[137:157] = 20.0
    day = START + timedelta(days=157)
    softened = hardiness(FIG, NORTH, wood_days(mean_c), [], day)
    assert softened.lt50_c > -6.5  # about half way from ripening to hardening, what dropped leaves give in autumn
    assert (
        hardiness(FIG, NORTH, wood_days(mean_c), [seen(SightingKind.LEAVES_DROPPED, day)], day).lt50_c
        == softened.lt50_c
    )


def test_leaves_still_yellow_in_late_november_keep_the_wood_from_counting_as_resting() -> None:
    day = date(2025, 11, 25)
    told = hardiness(FIG, NORTH, wood_days(sine_year(90)), [seen(SightingKind.LEAVES_YELLOW, day)], day)
    assert fig_on(day).phase is Phase.RESTING
    assert (told.phase, told.lt50_c) == (Phase.HARDENING, -8.0)


def test_leaves_frozen_green_leave_no_leaves_to_lose_and_no_harder_wood() -> None:
    day = date(2025, 11, 5)
    told = hardiness(FIG, NORTH, wood_days(sine_year(90)), [seen(SightingKind.LEAVES_FROZEN_GREEN, day)], day)
    assert Organ.SHOOTS not in told.organs
    assert told.lt10_c > fig_on(day).lt10_c
    assert told.phase is Phase.HARDENING


def test_swelling_buds_raise_the_wood_to_waking_and_it_hardens_no_further() -> None:
    told = hardiness(
        FIG, NORTH, wood_days(sine_year(180)), [seen(SightingKind.BUDS_SWELLING, date(2026, 2, 1))], date(2026, 2, 20)
    )
    assert (told.phase, told.lt10_c, told.lt50_c) == (Phase.WAKING, -3.5, -6.0)
    assert told.effects[0].phase_before is Phase.RESTING


@pytest.mark.parametrize("sight", [SightingKind.LEAFED_OUT, SightingKind.FRUIT_PEA_SIZE])
def test_green_tissue_ends_hardening_for_good(sight: SightingKind) -> None:
    told = hardiness(FIG, NORTH, wood_days(sine_year(220) - 8.0), [seen(sight, date(2026, 3, 20))], date(2026, 4, 5))
    assert (told.phase, told.lt10_c) == (Phase.GROWING, -1.0)


def test_leaf_drop_in_july_is_kept_said_and_not_believed() -> None:
    drop = seen(SightingKind.LEAVES_DROPPED, date(2026, 7, 10))
    told = hardiness(FIG, NORTH, wood_days(sine_year(320)), [drop], date(2026, 7, 12))
    (effect,) = told.effects
    assert (effect.sighting, effect.believed, effect.moved) == (drop, False, False)
    assert DoubtKind.OBSERVATION_CLASH in {doubt.kind for doubt in told.doubts}
    assert told.phase is Phase.GROWING


def test_sightings_of_another_tree_or_another_year_move_nothing() -> None:
    others = [
        seen(SightingKind.BUDS_SWELLING, date(2026, 2, 1), tree="Wall"),
        seen(SightingKind.LEAVES_DROPPED, date(2024, 10, 1)),
        seen(SightingKind.LEAFED_OUT, date(2026, 4, 30)),  # after the day asked about
    ]
    assert hardiness(FIG, NORTH, wood_days(sine_year(160)), others, date(2026, 2, 10)) == fig_on(date(2026, 2, 10))


# --- what is not known, and what is wrong ---


@pytest.mark.parametrize(
    ("day", "phase", "lt10_c"),
    [
        (date(2025, 9, 20), Phase.RIPENING, -2.5),
        (date(2025, 11, 15), Phase.HARDENING, -5.0),
        (date(2026, 1, 15), Phase.RESTING, -9.0),
        (date(2026, 3, 10), Phase.WAKING, -3.5),
        (date(2026, 6, 1), Phase.GROWING, -1.0),
    ],
)
def test_without_past_weather_the_calendar_and_the_table_answer_and_say_so(
    day: date, phase: Phase, lt10_c: float
) -> None:
    told = hardiness(FIG, NORTH, WoodDays.nothing(day), [], day)
    assert (told.phase, told.lt10_c, told.source) == (phase, lt10_c, HardinessSource.TABLE)
    assert DoubtKind.NO_PAST_WEATHER in {doubt.kind for doubt in told.doubts}


def test_without_past_weather_the_grower_still_moves_the_phase() -> None:
    told = hardiness(
        FIG, NORTH, WoodDays.nothing(START), [seen(SightingKind.BUDS_SWELLING, date(2026, 1, 10))], date(2026, 1, 12)
    )
    assert (told.phase, told.lt10_c) == (Phase.WAKING, -3.5)
    assert told.effects[0].phase_before is Phase.RESTING


def test_a_record_that_begins_in_winter_starts_on_the_calendar_and_says_so() -> None:
    whole = sine_year(160)
    told = hardiness(
        FIG, NORTH, wood_days(whole[100:], first=START + timedelta(days=100)), [], START + timedelta(days=159)
    )
    assert DoubtKind.NO_PAST_WEATHER in {doubt.kind for doubt in told.doubts}
    assert told.sd_c > fig_on(START + timedelta(days=159)).sd_c
    assert told.lt10_c >= fig_on(START + timedelta(days=159)).lt10_c - 1e-9


def test_a_gap_in_autumn_hardens_nothing_and_is_said() -> None:
    gap = sine_year(60)
    gap[40:50] = np.nan
    day = START + timedelta(days=59)
    lt50_c = season_of(FIG, NORTH, wood_days(gap), [], day).lt50_c
    assert (lt50_c[40:50] == lt50_c[39]).all()
    told = hardiness(FIG, NORTH, wood_days(gap), [], day)
    assert told.lt10_c > fig_on(day).lt10_c
    assert [doubt.amount for doubt in told.doubts if doubt.kind is DoubtKind.MISSING_HOURS] == [240.0]


def test_a_gap_in_a_thaw_softens_as_the_days_around_it() -> None:
    thaw = sine_year(150)
    thaw[140:149] = 15.0
    gap = thaw.copy()
    gap[142:147] = np.nan
    day = START + timedelta(days=149)
    assert (
        hardiness(FIG, NORTH, wood_days(gap), [], day).lt10_c
        >= hardiness(FIG, NORTH, wood_days(thaw), [], day).lt10_c - 1e-9
    )


def test_a_day_not_yet_over_is_no_gap() -> None:
    day = START + timedelta(days=60)
    told = hardiness(FIG, NORTH, wood_days(sine_year(60)), [], day)
    assert all(doubt.kind is not DoubtKind.MISSING_HOURS for doubt in told.doubts)


def test_minus_72_fahrenheit_typed_for_minus_7_is_held_out_and_said() -> None:
    right = wood_days(sine_year(130))
    low_c = right.min_c.copy()
    low_c[110] = (-72 - 32) / 1.8  # -57.8 °C in a week of about -11
    wrong = WoodDays(first=START, mean_c=(low_c + right.max_c) / 2, min_c=low_c, max_c=right.max_c)
    told = hardiness(FIG, NORTH, wrong, [], START + timedelta(days=129))
    refused = [doubt.amount for doubt in told.doubts if doubt.kind is DoubtKind.VALUE_REFUSED]
    assert refused == [1.0]
    assert told.lt10_c == pytest.approx(fig_on(START + timedelta(days=129)).lt10_c, abs=0.1)  # one lost January day


def test_a_leap_day_shifts_no_date() -> None:
    told = hardiness(FIG, NORTH, wood_days(sine_year(200), first=date(2027, 9, 7)), [], date(2028, 2, 29))
    assert told.day == date(2028, 2, 29)
    assert told.lt10_c == fig_on(date(2026, 3, 1)).lt10_c  # the 175th day of the season either way
