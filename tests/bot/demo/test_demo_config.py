"""The demo garden and its invented weather: enough of everything, and the story it tells."""

import json
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from bot.forecasts import file_name, parse_saved
from bot.settings import Garden, Role, Service, doubtful, in_plain_words, read_garden
from rules.garden.species import species_row
from rules.garden.tree import Phase
from rules.weather.hourly import Forecast
from rules.wood.season import phase_by_date

FOLDER = Path(__file__).parents[3] / "demo_config"
FREEZE, FALSE_ALARM, GALE = date(2025, 11, 28), date(2025, 12, 3), date(2025, 11, 27)
ZONE = ZoneInfo("America/Denver")


@pytest.fixture(scope="module")
def garden() -> Garden:
    return read_garden(FOLDER / "larkmoor.toml", today=date(2025, 11, 25))


def forecasts_in(folder: str) -> list[Forecast]:
    later = datetime(2025, 12, 31, tzinfo=UTC)
    return [parse_saved(path.read_text(encoding="utf-8"), later) for path in sorted((FOLDER / folder).glob("*.json"))]


def issued(forecast: Forecast) -> datetime:
    assert forecast.issued_utc is not None
    return forecast.issued_utc


def night(forecast: Forecast, evening: date) -> slice:
    """The hours from noon of a day to noon of the next, local."""
    noon = datetime.combine(evening, datetime.min.time(), ZONE).replace(hour=12)
    first = forecast.weather.index_of(noon)
    return slice(max(first, 0), max(first + 24, 0))


def low_c(forecast: Forecast, evening: date) -> float:
    return float(forecast.weather.air_c[night(forecast, evening)].min())


def test_the_demo_garden_has_something_of_everything(garden: Garden) -> None:
    assert len(garden.trees) >= 6
    assert len({tree.species for tree in garden.trees}) >= 4
    assert len({tree.standing for tree in garden.trees}) >= 4
    assert len({tree.purpose for tree in garden.trees}) == 3
    assert {person.role for person in garden.people} == set(Role)
    assert garden.services == (Service.SAVED,)
    assert not doubtful(garden)


def test_one_tree_is_left_bare_beside_its_covered_twin(garden: Garden) -> None:
    bare = [tree for tree in garden.trees if tree.left_bare]
    assert [tree.name for tree in bare] == ["Trial pomegranate"]
    twin = garden.tree_called(bare[0].twin or "")
    assert twin is not None
    assert garden.cover_of(twin) is not None
    same = ("species", "cultivar", "planted_year", "standing")
    assert all(getattr(twin, what) == getattr(bare[0], what) for what in same)


def test_check_tells_every_tree_and_cover_of_it(garden: Garden) -> None:
    said = in_plain_words(garden)
    assert all(tree.name in said for tree in garden.trees)
    assert all(f"  {name}: " in said for name in garden.covers)
    assert "left bare on purpose beside its twin Pomegranate" in said


def test_the_file_explains_each_of_its_keys_to_a_newcomer(garden: Garden) -> None:
    remarks = "\n".join(line.partition("#")[2] for line in (FOLDER / "larkmoor.toml").read_text().split("\n"))
    for key in ("elevation", "safe_to", "standing", "worth_trips", "twin", "left_bare", "past_winters", "contact"):
        assert key in remarks


def test_forecasts_are_named_by_their_issue_and_reach_ten_days() -> None:
    paths = sorted((FOLDER / "forecasts").glob("*.json"))
    series = forecasts_in("forecasts")
    assert len(series) == 10
    for path, forecast in zip(paths, series, strict=True):
        assert path.name == file_name(issued(forecast))
        assert forecast.weather.end_utc - issued(forecast) == timedelta(hours=239)
        assert not forecast.doubts
    steps = {later - earlier for earlier, later in pairwise(map(issued, series))}
    assert steps == {timedelta(hours=12), timedelta(hours=24)}


def test_no_file_is_heavy_and_all_is_marked_as_invented() -> None:
    for path in FOLDER.rglob("*.json"):
        assert path.stat().st_size < 60_000
        assert json.loads(path.read_text(encoding="utf-8"))["credit"] == "Invented weather of the Larkmoor demo"


def test_the_past_runs_without_a_gap_from_the_start_of_hardening_and_never_looks_ahead(garden: Garden) -> None:
    past = forecasts_in("past")
    assert past[0].weather.start_utc.astimezone(ZONE).date() <= date(2025, 9, 7)
    for earlier, later in pairwise(past):
        assert later.weather.start_utc - earlier.weather.end_utc == timedelta(hours=1)
    for series in past:
        assert series.weather.end_utc < issued(series)
    assert past[-1].weather.end_utc > issued(forecasts_in("forecasts")[-1])
    assert phase_by_date(FREEZE, garden.site) in (Phase.HARDENING, Phase.RESTING)


def test_each_forecast_agrees_with_the_hours_it_has_already_seen() -> None:
    past = forecasts_in("past")
    start = past[0].weather.start_utc
    real_c = np.concatenate([series.weather.air_c for series in past])
    for forecast in forecasts_in("forecasts"):
        at = int((forecast.weather.start_utc - start).total_seconds() // 3600)
        np.testing.assert_allclose(forecast.weather.air_c[:24], real_c[at : at + 24])


def test_the_freeze_is_far_below_what_every_fig_bears_and_comes_nearer_with_each_forecast(garden: Garden) -> None:
    fig = garden.trees[0]
    resting_c = species_row(fig.species, fig.cultivar, 6).wood_hardiness(Phase.RESTING).lt10_c
    lows = [low_c(forecast, FREEZE) for forecast in forecasts_in("forecasts")[:6]]
    assert lows == sorted(lows, reverse=True)
    assert lows[-1] < resting_c


def test_no_night_before_the_freeze_hurts_hardening_figs() -> None:
    hardening_c = species_row("fig", "", 6).wood_hardiness(Phase.HARDENING).lt10_c
    for series in forecasts_in("past"):
        if series.weather.end_utc < datetime(2025, 11, 28, tzinfo=UTC):
            assert series.weather.air_c.min() > hardening_c


def test_a_freeze_seen_for_days_is_gone_on_its_own_morning() -> None:
    *before, last = forecasts_in("forecasts")
    assert [low_c(forecast, FALSE_ALARM) for forecast in before[-3:]] == sorted(
        (low_c(forecast, FALSE_ALARM) for forecast in before[-3:]), reverse=True
    )
    assert low_c(before[-1], FALSE_ALARM) < -10
    assert low_c(last, FALSE_ALARM) > -3
    assert low_c(forecasts_in("past")[-1], FALSE_ALARM) > -3  # and it did not come


def test_a_gale_blows_through_a_night_and_the_freeze_after_it_is_still() -> None:
    seen = forecasts_in("forecasts")[2].weather
    forecast = forecasts_in("forecasts")[2]
    assert seen.gust_m_s[night(forecast, GALE)].max() > 17.2  # Beaufort 8 begins at 17.2 m/s
    still = night(forecast, FREEZE)
    assert np.median(seen.wind_m_s[still]) < 2.0  # a radiation night (FAO limit of 2 m/s)
    assert np.median(seen.cloud_fraction[still]) < 0.25


def test_after_the_freeze_the_sun_shines_on_closed_covers() -> None:
    forecast = forecasts_in("forecasts")[6]  # issued on Sunday 30 November
    for day in (date(2025, 12, 1), date(2025, 12, 2)):
        hours = night(forecast, day - timedelta(days=1))
        morning_to_noon, sun = forecast.weather.air_c[hours], forecast.weather.sun_w_m2[hours]
        assert morning_to_noon.max() > 5
        assert sun.max() > 400
