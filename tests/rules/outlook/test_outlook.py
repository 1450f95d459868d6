"""The front door: the demo's forecasts seen whole, and what must hold of any outlook."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from bot.forecasts import parse_saved
from bot.settings import Garden, read_garden
from rules.garden.cover import STATE_INDEX, CoverState
from rules.garden.doubt import DoubtKind
from rules.garden.records import Deed, DeedKind, Records, state_series
from rules.garden.tree import Standing
from rules.outlook.garden_outlook import Outlook, outlook, outlook_carried
from rules.outlook.inputs import Carried, OutlookInputs, timeline_of, tree_weathers
from rules.outlook.past import carried_on_from, hardiness_now, past_of
from rules.outlook.restated import restated
from rules.outlook.views.week import week_ahead
from rules.plan.garden_plan import NOTHING, SecondBest, SecondThoughts
from rules.weather.daily_minima import DailyMinima
from rules.weather.hourly import HourlyWeather
from rules.weather.timeline import joined_weather, sliced, until
from rules.wood.margins import TreeMargins

DEMO = Path(__file__).parents[3] / "demo_config"
FRIDAY = datetime(2025, 11, 28, 16, tzinfo=UTC)  # 09:00 in the invented garden, the hardest night ahead


@pytest.fixture(scope="module")
def garden() -> Garden:
    return read_garden(DEMO / "larkmoor.toml")


@pytest.fixture(scope="module")
def inputs(garden: Garden) -> OutlookInputs:
    past: HourlyWeather | None = None
    for file in sorted((DEMO / "past").glob("*.json")):
        past = joined_weather(past, parse_saved(file.read_text(), FRIDAY).weather)
    assert past is not None
    forecast = parse_saved((DEMO / "forecasts" / "2025-11-28T1100Z.json").read_text(), FRIDAY)
    deeds = tuple(
        Deed(tree=tree.name, kind=DeedKind.WRAPPED, state=CoverState.VENTED, at_utc=FRIDAY - timedelta(days=4))
        for tree in garden.trees
        if tree.cover and not tree.left_bare
    )
    return OutlookInputs(
        site=garden.site,
        trees=garden.trees,
        covers=garden.covers,
        forecast=forecast,
        past=until(past, FRIDAY),
        records=Records(deeds=deeds),
    )


@pytest.fixture(scope="module")
def friday(inputs: OutlookInputs) -> Outlook:
    """The outlook most tests look at, made once."""
    return outlook(inputs, FRIDAY)


@pytest.fixture(scope="module")
def few(inputs: OutlookInputs) -> OutlookInputs:
    """Three trees of it, to be quick."""
    return replace(inputs, trees=tuple(t for t in inputs.trees if t.name in ("Porch fig", "Bench fig", "Kaki")))


@pytest.fixture(scope="module")
def few_on_friday(few: OutlookInputs) -> tuple[Outlook, Carried | None]:
    return outlook_carried(few, FRIDAY, None)


@pytest.fixture(scope="module")
def few_friday(few_on_friday: tuple[Outlook, Carried | None]) -> Outlook:
    return few_on_friday[0]


@pytest.fixture(scope="module")
def carried(few_on_friday: tuple[Outlook, Carried | None]) -> Carried | None:
    return few_on_friday[1]


@pytest.fixture(scope="module")
def trees(friday: Outlook) -> dict[str, TreeMargins]:
    return {one.tree.name: one for one in friday.trees}


def test_on_the_hardest_night_a_straw_cage_is_asked_to_be_shut(friday: Outlook) -> None:
    acts = {act.tree: act for act in friday.acts if act.night == FRIDAY.date()}
    assert acts["Bench fig"].state == CoverState.CLOSED
    assert acts["Bench fig"].by_utc < datetime(2025, 11, 29, 0, tzinfo=UTC)  # dusk is about 16:50 local


def test_shut_straw_keeps_the_wood_warmer_than_an_open_top_and_that_than_none(trees: dict[str, TreeMargins]) -> None:
    for name in ("Porch fig", "Bench fig", "Kaki"):
        tissue = trees[name].nights[0].tissue
        assert tissue[CoverState.CLOSED].wood_c > tissue[CoverState.VENTED].wood_c > tissue[CoverState.BARE].wood_c


def test_the_tip_under_a_shut_cap_is_colder_than_the_middle(trees: dict[str, TreeMargins]) -> None:
    tissue = trees["Bench fig"].nights[0].tissue[CoverState.CLOSED]
    assert tissue.top_c < tissue.wood_c


def test_a_hollow_is_colder_and_a_house_wall_warmer_than_the_open_on_a_clear_night(
    trees: dict[str, TreeMargins],
) -> None:
    night = {name: one.nights[0].air_c for name, one in trees.items()}
    assert night["Olive"] < night["Bench fig"] < night["Porch fig"]


def test_the_roots_of_a_pot_swing_less_than_the_air_and_no_others_are_told(trees: dict[str, TreeMargins]) -> None:
    for one in trees.values():
        in_pot = one.tree.standing is Standing.POT
        assert all((tissue.roots_c is not None) == in_pot for night in one.nights for tissue in night.tissue.values())
    for night in trees["Satsuma"].nights:
        bare = night.tissue[CoverState.BARE].roots_c
        assert bare is not None
        assert bare > night.air_c


def test_film_alone_is_no_help_by_night(trees: dict[str, TreeMargins]) -> None:
    tissue = trees["Olive"].nights[0].tissue
    assert tissue[CoverState.CLOSED].wood_c < tissue[CoverState.BARE].wood_c + 0.5


def test_a_tree_left_bare_is_seen_but_never_asked_about(
    inputs: OutlookInputs, friday: Outlook, trees: dict[str, TreeMargins]
) -> None:
    assert list(trees["Trial pomegranate"].nights[0].tissue) == [CoverState.BARE]
    asked = friday.acts
    assert all(act.tree != "Trial pomegranate" for act in asked)
    bare, others = ([tree for tree in inputs.trees if tree.left_bare is left] for left in (True, False))
    assert outlook(replace(inputs, trees=others), FRIDAY).acts == asked
    assert outlook(replace(inputs, trees=bare), FRIDAY).plan == NOTHING


def test_the_same_inputs_give_the_same_outlook(few: OutlookInputs, few_friday: Outlook) -> None:
    assert outlook(few, FRIDAY) == few_friday


def test_carrying_the_heat_on_gives_what_a_march_from_the_start_gives(
    few: OutlookInputs, carried: Carried | None
) -> None:
    later = FRIDAY + timedelta(hours=3)
    anew, again = outlook(few, later), outlook_carried(few, later, carried)[0]
    for one, other in zip(anew.trees, again.trees, strict=True):
        assert one.hardiness.lt10_c == pytest.approx(other.hardiness.lt10_c, abs=1e-6)
        for night, twin in zip(one.nights, other.nights, strict=True):
            for state, tissue in night.tissue.items():
                # the two marches split the same hours, so they differ by rounding alone
                assert tissue.wood_c == pytest.approx(twin.tissue[state].wood_c, abs=1e-6)


def test_a_deed_told_late_is_not_lost_to_what_was_carried(few: OutlookInputs, carried: Carried | None) -> None:
    late = Deed(tree="Kaki", kind=DeedKind.CLOSED, state=CoverState.CLOSED, at_utc=FRIDAY - timedelta(days=3))
    told = replace(few, records=Records(deeds=(*few.records.deeds, late)))
    assert outlook_carried(told, FRIDAY, carried)[0] == outlook(told, FRIDAY)


def test_deeds_of_years_gone_by_that_are_read_no_more_do_not_make_the_march_begin_anew(few: OutlookInputs) -> None:
    old = Deed(tree="Kaki", kind=DeedKind.STRIPPED, state=CoverState.BARE, at_utc=FRIDAY - timedelta(days=400))
    told = replace(few, records=Records(deeds=(old, *few.records.deeds)))
    handed_on = outlook_carried(told, FRIDAY, None)[1]
    line = timeline_of(few, FRIDAY)
    assert handed_on is not None
    assert line is not None
    assert line.past is not None
    states = np.stack([state_series(few.records, one.name, line.past.start_utc, line.past.hours) for one in few.trees])
    assert carried_on_from(handed_on, few, line.past, states)
    later = sliced(line.past, 48, line.past.hours)  # and so does a past that begins later
    assert carried_on_from(handed_on, few, later, states[:, 48:])


def test_a_long_past_is_the_same_in_pieces_side_by_side_as_hour_after_hour(
    few: OutlookInputs, monkeypatch: pytest.MonkeyPatch
) -> None:
    line = timeline_of(few, FRIDAY)
    assert line is not None
    shut = Deed(tree=few.trees[0].name, kind=DeedKind.CLOSED, state=CoverState.CLOSED, at_utc=FRIDAY - timedelta(70))
    told = replace(few, records=Records(deeds=(shut, *few.records.deeds)))
    pieces = past_of(told, line, few.trees)
    monkeypatch.setattr("rules.outlook.past.WASHED_OUT_H", 400 * 24)
    whole = past_of(told, line, few.trees)
    assert pieces is not None
    assert whole is not None
    assert pieces.wood_c == pytest.approx(whole.wood_c, abs=1e-3)
    assert pieces.air_c == pytest.approx(whole.air_c, abs=1e-3)
    assert pieces.finish.nodes_c == pytest.approx(whole.finish.nodes_c, abs=2e-3)


def test_a_forecast_colder_by_two_degrees_makes_no_night_safer(few: OutlookInputs, few_friday: Outlook) -> None:
    assert few.forecast is not None
    weather = replace(few.forecast.weather, air_c=few.forecast.weather.air_c - 2.0)
    weather = replace(weather, dew_point_c=np.minimum(weather.dew_point_c, weather.air_c))
    colder = outlook(replace(few, forecast=replace(few.forecast, weather=weather)), FRIDAY)
    for one, other in zip(few_friday.trees, colder.trees, strict=True):
        for night, twin in zip(one.nights[1:], other.nights[1:], strict=True):
            for state, tissue in night.tissue.items():
                assert twin.tissue[state].chance >= tissue.chance - 1e-9


def test_without_a_forecast_it_says_that_it_cannot_see(inputs: OutlookInputs) -> None:
    blind = outlook(replace(inputs, forecast=None), FRIDAY)
    assert all(not one.nights for one in blind.trees)
    assert blind.acts == ()
    assert DoubtKind.NO_FORECAST in {doubt.kind for doubt in blind.doubts}


def test_a_cover_nobody_has_spoken_of_is_said_and_taken_as_off(few: OutlookInputs) -> None:
    untold = outlook(replace(few, records=Records()), FRIDAY).tree("Kaki")
    assert untold.state is None
    assert untold.state_assumed == CoverState.BARE
    assert DoubtKind.STATE_UNKNOWN in {doubt.kind for doubt in untold.doubts}


def test_a_deed_shows_at_once_in_the_words_that_answer_it(inputs: OutlookInputs, friday: Outlook) -> None:
    shut = Deed(tree="Bench fig", kind=DeedKind.CLOSED, state=CoverState.CLOSED, at_utc=FRIDAY)
    now = restated(friday, Records(deeds=(*inputs.records.deeds, shut)), FRIDAY)
    assert now.tree("Bench fig").state == CoverState.CLOSED
    assert all(act.state != CoverState.CLOSED for act in now.acts if act.tree == "Bench fig")


def test_the_next_best_leaves_out_what_is_done(friday: Outlook) -> None:
    done = next(act for act in friday.acts if act.state is CoverState.CLOSED)
    other = SecondBest(acts=(done,), dearer_trips=2.0)
    seen = replace(friday, plan=replace(friday.plan, second_thoughts=lambda: SecondThoughts(second_best=other)))
    shut = Deed(tree=done.tree, kind=DeedKind.CLOSED, state=CoverState.CLOSED, at_utc=FRIDAY)
    assert restated(seen, Records(), FRIDAY).plan.second_thoughts().second_best == other
    assert restated(seen, Records(deeds=(shut,)), FRIDAY).plan.second_thoughts().second_best is None


def test_what_one_tree_bears_is_the_same_alone_as_among_the_others(inputs: OutlookInputs, friday: Outlook) -> None:
    alone = hardiness_now(inputs, inputs.trees[2], FRIDAY)
    assert alone.lt10_c == pytest.approx(friday.trees[2].hardiness.lt10_c, abs=1e-6)


def test_of_a_bare_tree_the_air_stands_against_its_limits_and_under_a_cover_the_wood(inputs: OutlookInputs) -> None:
    # Reports of what a tree lived through know the air beside it; a clear night's stem is colder by a degree or two.
    line, (bench,) = timeline_of(inputs, FRIDAY), [tree for tree in inputs.trees if tree.name == "Bench fig"]
    past = past_of(inputs, line, [bench]) if line else None
    assert past is not None
    bare = past.states[0] == STATE_INDEX[CoverState.BARE]
    at_tree_c = tree_weathers(inputs, past.weather, [bench])[0].air_c
    assert bare.any()
    np.testing.assert_allclose(past.wood_c[0, bare], at_tree_c[bare], atol=1e-12)  # rounding
    under = slice(-48, None)  # the last two nights, wrapped
    assert past.wood_c[0, under].min() > at_tree_c[under].min()


def test_a_tree_shut_in_since_september_hardened_less_than_one_left_open_till_thanksgiving(
    inputs: OutlookInputs,
) -> None:
    # Growers leave the top open in autumn so that wood hardens (common practice).
    bench = next(tree for tree in inputs.trees if tree.name == "Bench fig")
    assert inputs.past is not None
    shut = Deed(tree="Bench fig", kind=DeedKind.CLOSED, state=CoverState.CLOSED, at_utc=inputs.past.start_utc)
    early = hardiness_now(replace(inputs, records=Records(deeds=(shut,))), bench, FRIDAY)
    assert early.lt10_c > hardiness_now(inputs, bench, FRIDAY).lt10_c + 1.0  # 1 °C: half of what is doubtful of it


def test_a_forecast_that_ends_before_the_next_daylight_still_tells_the_night(few: OutlookInputs) -> None:
    assert few.forecast is not None
    evening = datetime(2025, 11, 29, 1, tzinfo=UTC)  # 18:00, dark; the forecast is cut off at 05:00
    short = sliced(few.forecast.weather, 0, few.forecast.weather.index_of(evening) + 12)
    seen = outlook(replace(few, forecast=replace(few.forecast, weather=short, members_air_c=None)), evening)
    assert seen.acts == ()
    assert CoverState.CLOSED in seen.tree("Bench fig").nights[0].tissue


def test_a_tree_whose_cover_was_taken_from_the_garden_file_counts_as_bare(few: OutlookInputs) -> None:
    uncovered = tuple(tree.model_copy(update={"cover": None}) for tree in few.trees)
    shut = Deed(tree="Kaki", kind=DeedKind.CLOSED, state=CoverState.CLOSED, at_utc=FRIDAY)
    seen = outlook(replace(few, trees=uncovered, records=Records(deeds=(shut,))), FRIDAY)
    assert seen.tree("Kaki").state_assumed == CoverState.BARE
    assert seen.chance_if_nothing_is_done()["Kaki", FRIDAY.date()] > 0.5


def test_the_picture_of_the_week_leans_toward_the_usual_as_the_nights_do(
    few: OutlookInputs, few_friday: Outlook
) -> None:
    """Past winters of 6 °C a night, far above this forecast, draw up what lies ahead, and hardly tonight."""
    lows = 6.0 + 4.0 * np.random.default_rng(1).standard_normal(20 * 365)
    mild = replace(few, climate=DailyMinima(first=date(2000, 7, 1), min_c=lows))
    seen = [few_friday, outlook(mild, FRIDAY)]
    plain_c, drawn_c = (
        week_ahead(one, view, "Bench fig").outside.mean_c for one, view in zip((few, mild), seen, strict=True)
    )
    assert drawn_c[:6] == pytest.approx(plain_c[:6], abs=0.75)  # a twentieth of its distance from the usual
    assert drawn_c[-24:].mean() > plain_c[-24:].mean() + 1.0
    told, drawn = (view.tree("Bench fig").nights for view in seen)
    assert drawn[5].air_c > told[5].air_c + 1.0


def test_the_top_that_stands_out_of_a_shut_cage_is_lost_as_bare_wood_and_no_cover_is_worth_it(
    few: OutlookInputs, few_friday: Outlook
) -> None:
    cage = few_friday.tree("Bench fig").cover
    assert cage is not None
    tall = cage.model_copy(update={"tree_height_m": cage.height_m * 2})
    seen = outlook(replace(few, covers={**few.covers, cage.name: tall}), FRIDAY).tree("Bench fig")
    night = min(seen.nights, key=lambda one: one.air_c)
    shut, bare = night.tissue[CoverState.CLOSED], night.tissue[CoverState.BARE]
    assert seen.outside == 0.5
    assert bare.lost / 2 <= shut.lost < bare.lost
    assert seen.cared_for.worth_trips == seen.tree.worth_trips / 2


def test_what_a_question_between_two_looks_stands_on_is_what_the_look_held(
    few: OutlookInputs, carried: Carried | None
) -> None:
    later = FRIDAY + timedelta(hours=5)
    line = timeline_of(few, later)
    assert line is not None
    trees = few.trees[:2]
    anew, again = (past_of(one, line, trees, 400 * 24) for one in (few, replace(few, carried=carried)))
    assert anew is not None
    assert again is not None
    assert again.finish.nodes_c == pytest.approx(anew.finish.nodes_c, abs=1e-6)
    assert again.air_c == pytest.approx(anew.air_c, abs=1e-6)
    assert again.wood_c == pytest.approx(anew.wood_c, abs=1e-6)
    late = Deed(tree=trees[0].name, kind=DeedKind.CLOSED, state=CoverState.CLOSED, at_utc=FRIDAY - timedelta(days=3))
    told = replace(few, records=Records(deeds=(*few.records.deeds, late)), carried=carried)
    mended = past_of(told, line, trees, 400 * 24)
    assert mended is not None
    assert not np.allclose(mended.finish.nodes_c[0], anew.finish.nodes_c[0], atol=1e-3)  # told late, and not lost
