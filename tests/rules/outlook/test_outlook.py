"""The front door: the demo's forecasts seen whole, and what must hold of any outlook."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from bot.forecasts import parse_saved
from bot.settings import Garden, read_garden
from rules.garden.cover import CoverState
from rules.garden.doubt import DoubtKind
from rules.garden.records import Deed, DeedKind, Records
from rules.outlook.garden_outlook import outlook, outlook_carried, restated
from rules.outlook.inputs import Ground
from rules.outlook.past import bears_now
from rules.outlook.week import week_ahead
from rules.weather.daily_minima import DailyMinima
from rules.weather.hourly import HourlyWeather
from rules.weather.timeline import joined_weather, sliced, until
from rules.wood.margins import TreeMargins

DEMO = Path(__file__).parents[3] / "demo_config"
FRIDAY = datetime(2025, 11, 28, 16, tzinfo=UTC)  # 09:00 in the invented garden, the hardest night ahead


@pytest.fixture(scope="module")
def garden() -> Garden:
    return read_garden(DEMO / "kestrel_bench.toml")


@pytest.fixture(scope="module")
def ground(garden: Garden) -> Ground:
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
    return Ground(
        site=garden.site,
        trees=garden.trees,
        covers=garden.covers,
        forecast=forecast,
        past=until(past, FRIDAY),
        records=Records(deeds=deeds),
    )


@pytest.fixture(scope="module")
def trees(ground: Ground) -> dict[str, TreeMargins]:
    return {one.tree.name: one for one in outlook(ground, FRIDAY).trees}


def test_on_the_hardest_night_a_straw_cage_is_asked_to_be_shut(ground: Ground) -> None:
    acts = {act.tree: act for act in outlook(ground, FRIDAY).acts if act.night == FRIDAY.date()}
    assert acts["Bench fig"].state == CoverState.CLOSED
    assert acts["Bench fig"].by_utc < datetime(2025, 11, 29, 0, tzinfo=UTC)  # dusk is about 16:50 local


def test_shut_straw_keeps_the_wood_warmer_than_an_open_top_and_that_than_none(trees: dict[str, TreeMargins]) -> None:
    for name in ("Porch fig", "Bench fig", "Kaki"):
        felt = trees[name].nights[0].felt
        assert felt[CoverState.CLOSED].wood_c > felt[CoverState.VENTED].wood_c > felt[CoverState.BARE].wood_c


def test_the_tip_under_a_shut_cap_is_colder_than_the_middle(trees: dict[str, TreeMargins]) -> None:
    felt = trees["Bench fig"].nights[0].felt[CoverState.CLOSED]
    assert felt.top_c < felt.wood_c


def test_a_hollow_is_colder_and_a_house_wall_warmer_than_the_open_on_a_clear_night(
    trees: dict[str, TreeMargins],
) -> None:
    night = {name: one.nights[0].air_c for name, one in trees.items()}
    assert night["Olive"] < night["Bench fig"] < night["Porch fig"]


def test_film_alone_is_no_help_by_night(trees: dict[str, TreeMargins]) -> None:
    felt = trees["Olive"].nights[0].felt
    assert felt[CoverState.CLOSED].wood_c < felt[CoverState.BARE].wood_c + 0.5


def test_a_tree_left_bare_is_seen_but_never_asked_about(ground: Ground, trees: dict[str, TreeMargins]) -> None:
    assert list(trees["Trial fig"].nights[0].felt) == [CoverState.BARE]
    assert all(act.tree != "Trial fig" for act in outlook(ground, FRIDAY).acts)


def test_the_same_inputs_give_the_same_outlook(ground: Ground) -> None:
    assert outlook(ground, FRIDAY) == outlook(ground, FRIDAY)


def test_carrying_the_heat_on_gives_what_a_march_from_the_start_gives(ground: Ground) -> None:
    _, carried = outlook_carried(ground, FRIDAY, None)
    later = FRIDAY + timedelta(hours=3)
    anew, again = outlook(ground, later), outlook_carried(ground, later, carried)[0]
    for one, other in zip(anew.trees, again.trees, strict=True):
        assert one.hardiness.bears_c == pytest.approx(other.hardiness.bears_c, abs=1e-6)
        for night, twin in zip(one.nights, other.nights, strict=True):
            for state, felt in night.felt.items():
                # the two marches split the same hours, so they differ by rounding alone
                assert felt.wood_c == pytest.approx(twin.felt[state].wood_c, abs=1e-6)


def test_a_deed_told_late_is_not_lost_to_what_was_carried(ground: Ground) -> None:
    _, carried = outlook_carried(ground, FRIDAY, None)
    late = Deed(tree="Kaki", kind=DeedKind.CLOSED, state=CoverState.CLOSED, at_utc=FRIDAY - timedelta(days=3))
    told = replace(ground, records=Records(deeds=(*ground.records.deeds, late)))
    assert outlook_carried(told, FRIDAY, carried)[0] == outlook(told, FRIDAY)


def test_a_forecast_colder_by_two_degrees_makes_no_night_safer(ground: Ground) -> None:
    assert ground.forecast is not None
    weather = replace(ground.forecast.weather, air_c=ground.forecast.weather.air_c - 2.0)
    weather = replace(weather, dew_point_c=np.minimum(weather.dew_point_c, weather.air_c))
    colder = outlook(replace(ground, forecast=replace(ground.forecast, weather=weather)), FRIDAY)
    for one, other in zip(outlook(ground, FRIDAY).trees, colder.trees, strict=True):
        for night, twin in zip(one.nights[1:], other.nights[1:], strict=True):
            for state, felt in night.felt.items():
                assert twin.felt[state].chance >= felt.chance - 1e-9


def test_without_a_forecast_it_says_that_it_cannot_see(ground: Ground) -> None:
    blind = outlook(replace(ground, forecast=None), FRIDAY)
    assert all(not one.nights for one in blind.trees)
    assert blind.acts == ()
    assert DoubtKind.NO_FORECAST in {doubt.kind for doubt in blind.doubts}


def test_a_cover_nobody_has_spoken_of_is_said_and_taken_as_off(ground: Ground) -> None:
    untold = outlook(replace(ground, records=Records()), FRIDAY).tree("Kaki")
    assert untold.state is None
    assert untold.state_assumed == CoverState.BARE
    assert DoubtKind.STATE_UNKNOWN in {doubt.kind for doubt in untold.doubts}


def test_a_deed_shows_at_once_in_the_words_that_answer_it(ground: Ground) -> None:
    seen = outlook(ground, FRIDAY)
    shut = Deed(tree="Bench fig", kind=DeedKind.CLOSED, state=CoverState.CLOSED, at_utc=FRIDAY)
    now = restated(seen, Records(deeds=(*ground.records.deeds, shut)), FRIDAY)
    assert now.tree("Bench fig").state == CoverState.CLOSED
    assert all(act.state != CoverState.CLOSED for act in now.acts if act.tree == "Bench fig")


def test_what_one_tree_bears_is_the_same_alone_as_among_the_others(ground: Ground) -> None:
    alone = bears_now(ground, ground.trees[2], FRIDAY)
    assert alone.bears_c == pytest.approx(outlook(ground, FRIDAY).trees[2].hardiness.bears_c, abs=1e-6)


def test_a_forecast_that_ends_before_the_next_daylight_still_tells_the_night(ground: Ground) -> None:
    assert ground.forecast is not None
    evening = datetime(2025, 11, 29, 1, tzinfo=UTC)  # 18:00, dark; the forecast is cut off at 05:00
    short = sliced(ground.forecast.weather, 0, ground.forecast.weather.index_of(evening) + 12)
    seen = outlook(replace(ground, forecast=replace(ground.forecast, weather=short, members_air_c=None)), evening)
    assert seen.acts == ()
    assert CoverState.CLOSED in seen.tree("Bench fig").nights[0].felt


def test_a_tree_whose_cover_was_taken_from_the_garden_file_counts_as_bare(ground: Ground) -> None:
    uncovered = tuple(tree.model_copy(update={"cover": None}) for tree in ground.trees)
    shut = Deed(tree="Kaki", kind=DeedKind.CLOSED, state=CoverState.CLOSED, at_utc=FRIDAY)
    seen = outlook(replace(ground, trees=uncovered, records=Records(deeds=(shut,))), FRIDAY)
    assert seen.tree("Kaki").state_assumed == CoverState.BARE
    assert seen.chance_if_nothing_is_done()["Kaki", FRIDAY.date()] > 0.5


def test_the_picture_of_the_week_leans_toward_the_usual_as_the_nights_do(ground: Ground) -> None:
    """Past winters of 10 °C every night, far above this forecast, draw up what lies ahead, and hardly tonight."""
    mild = replace(ground, climate=DailyMinima(first=date(2000, 7, 1), min_c=np.full(20 * 365, 10.0)))
    seen = [outlook(one, FRIDAY) for one in (ground, mild)]
    plain_c, drawn_c = (
        week_ahead(one, view, "Bench fig").outside.mean_c for one, view in zip((ground, mild), seen, strict=True)
    )
    assert drawn_c[:6] == pytest.approx(plain_c[:6], abs=0.4)  # a fiftieth of its distance from the usual
    assert drawn_c[-24:].mean() > plain_c[-24:].mean() + 1.0
    told, drawn = (view.tree("Bench fig").nights for view in seen)
    assert drawn[5].air_c > told[5].air_c + 1.0
