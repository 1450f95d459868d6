"""Past winters from the archive: asked once, kept in the logbook, never in the way; and who hears the nudges."""

import json
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
import responses

from bot.forecasts import Transport
from bot.logbook import (
    AnswerRow,
    Logbook,
    Person,
    kept_answer_times,
    list_people,
    mark_unreachable,
    note_kept_answer,
    note_person,
    open_logbook,
)
from bot.rounds.presence import away_days, away_until, come_back, go_away, listeners, mute
from bot.rounds.weather.past_winters import past_winters, refresh_past_winters
from bot.settings import Garden, Service
from tests.bot.phone import larkmoor
from tests.bot.talk import JUNIPER, ROWAN

ARCHIVE = "https://archive-api.open-meteo.com/v1/archive"
NOW = datetime(2025, 11, 28, 16, 20, tzinfo=UTC)
DENVER = ZoneInfo("America/Denver")
TRANSPORT = Transport(pause=lambda _: None)


@pytest.fixture
def logbook(tmp_path: Path) -> Iterator[Logbook]:
    opened = open_logbook(tmp_path / "logbook.db")
    yield opened
    opened.close()


def online() -> Garden:
    return larkmoor("Porch fig").model_copy(update={"services": (Service.US_NWS, Service.OPEN_METEO)})


def archived(garden: Garden) -> str:
    """Two days in the shape of the archive's answer (open-meteo.com, archive documentation)."""
    site = garden.site
    daily = {
        "time": ["2024-01-01", "2024-01-02"],
        "temperature_2m_min": [-11.3, None],
        "temperature_2m_max": [2.5, None],
        "temperature_2m_mean": [-4.0, None],
    }
    units = {name: "°C" for name in daily if name != "time"}
    place = {"latitude": site.latitude_deg, "longitude": site.longitude_deg, "elevation": site.elevation_m}
    return json.dumps({**place, "utc_offset_seconds": -25200, "daily_units": units, "daily": daily})


@responses.activate
def test_the_archive_is_asked_once_and_its_days_are_known_from_then_on(logbook: Logbook) -> None:
    garden = online()
    responses.get(ARCHIVE, body=archived(garden), content_type="application/json")
    assert refresh_past_winters(garden, logbook, TRANSPORT, NOW)
    assert not refresh_past_winters(garden, logbook, TRANSPORT, NOW + timedelta(days=300))
    with logbook.begin() as c:
        past = past_winters(c, garden)
    assert past is not None
    assert past.minima_between(date(2024, 1, 1), date(2024, 1, 1)).tolist() == [-11.3]
    assert len(responses.calls) == 1


@responses.activate
def test_gardens_of_one_weather_cell_ask_once_and_hold_the_same_winters(logbook: Logbook) -> None:
    porch, wall = online(), online().model_copy(update={"name": "Heron Row"})
    responses.get(ARCHIVE, body=archived(porch), content_type="application/json")
    assert refresh_past_winters(porch, logbook, TRANSPORT, NOW, "cell 1", porch.site)
    assert not refresh_past_winters(wall, logbook, TRANSPORT, NOW, "cell 1", porch.site)
    with logbook.begin() as c:
        held = past_winters(c, porch, "cell 1")
        others = [past_winters(c, porch, f"cell {number}") for number in range(2, 20)]
        assert past_winters(c, wall, "cell 1") is held  # or each round would take the winters for new ones
    assert held is not None
    assert others == [None] * 18
    assert len(responses.calls) == 1


@responses.activate
def test_winters_kept_by_an_older_bedstraw_are_checked_once_and_read_the_same(logbook: Logbook) -> None:
    garden = online()
    site = garden.site
    cell = f"{site.latitude_deg:.4f},{site.longitude_deg:.4f} winters"
    with logbook.begin() as c:
        note_kept_answer(c, cell, AnswerRow(service="open-meteo/archive", body=archived(garden), fetched_utc=NOW))
        before = past_winters(c, garden)
    assert before is not None
    days = before.first, before.min_c.tolist()[:1], before.half_unit_c, before.refused
    del before  # nobody holds it, so it is read anew
    assert not refresh_past_winters(garden, logbook, TRANSPORT, NOW)
    with logbook.begin() as c:
        after = past_winters(c, garden)
        assert "checked winters" in kept_answer_times(c, cell)
    assert after is not None
    assert (after.first, after.min_c.tolist()[:1], after.half_unit_c, after.refused) == days
    assert not responses.calls


@responses.activate
def test_an_archive_that_is_down_is_left_alone_for_half_a_day_and_tried_once(logbook: Logbook) -> None:
    garden = online()
    responses.get(ARCHIVE, status=503)
    assert refresh_past_winters(garden, logbook, TRANSPORT, NOW)
    assert not refresh_past_winters(garden, logbook, TRANSPORT, NOW + timedelta(hours=11))
    assert refresh_past_winters(garden, logbook, TRANSPORT, NOW + timedelta(hours=12))
    assert len(responses.calls) == 2
    with logbook.begin() as c:
        assert past_winters(c, garden) is None


@responses.activate
def test_nobody_is_asked_where_the_grower_did_not_name_the_service_or_has_a_file(
    logbook: Logbook, tmp_path: Path
) -> None:
    own = online().model_copy(update={"past_winters": tmp_path / "minima.csv"})
    for garden in (larkmoor("Porch fig"), own):
        assert not refresh_past_winters(garden, logbook, TRANSPORT, NOW)
    assert not responses.calls


def test_a_file_that_changed_is_read_anew(logbook: Logbook, tmp_path: Path) -> None:
    path = tmp_path / "minima.csv"
    garden = larkmoor("Porch fig", winters=path)
    for low in ("-3.0", "-14.25"):
        path.write_text(f"date,min_c\n2024-01-01,{low}\n", encoding="utf-8")
        with logbook.begin() as c:
            past = past_winters(c, garden)
        assert past is not None
        assert past.min_c.tolist() == [float(low)]


@pytest.fixture
def people(logbook: Logbook) -> dict[int, Person]:
    with logbook.begin() as c:
        note_person(c, "g", ROWAN, "Rowan", "owner")
        note_person(c, "g", JUNIPER, "Juniper", "helper")
        return {person.chat_id: person for person in list_people(c, "g")}


def test_nudges_go_to_who_is_there_and_to_all_who_listen_where_nobody_is(
    logbook: Logbook, people: dict[int, Person]
) -> None:
    def hear() -> set[int]:
        return {person.chat_id for person in listeners(c, "g", NOW)}

    with logbook.begin() as c:
        assert hear() == {ROWAN, JUNIPER}
        go_away(c, people[ROWAN], NOW + timedelta(days=3))
        assert hear() == {JUNIPER}
        mute(c, people[JUNIPER], muted=True)
        assert hear() == {ROWAN}  # away, but the only one who listens
        mute(c, people[JUNIPER], muted=False)
        mark_unreachable(c, JUNIPER, NOW)
        assert hear() == {ROWAN}


def test_an_absence_ends_by_itself_or_with_back(logbook: Logbook, people: dict[int, Person]) -> None:
    with logbook.begin() as c:
        go_away(c, people[ROWAN], NOW + timedelta(days=1))
        assert len(listeners(c, "g", NOW + timedelta(days=1))) == 2
        go_away(c, people[ROWAN], None)
        assert len(listeners(c, "g", NOW + timedelta(days=90))) == 1
        assert come_back(c, people[ROWAN], NOW)
        assert not come_back(c, people[ROWAN], NOW)
        assert len(listeners(c, "g", NOW)) == 2


def test_who_goes_on_monday_is_there_until_then_and_the_plan_knows(logbook: Logbook, people: dict[int, Person]) -> None:
    monday, friday = datetime(2025, 12, 1, 8, tzinfo=DENVER), datetime(2025, 12, 5, 8, tzinfo=DENVER)
    with logbook.begin() as c:
        for person in people.values():
            go_away(c, person, friday, monday)
        mute(c, people[JUNIPER], muted=True)
        assert away_until(c, people[ROWAN], NOW) is None
        assert away_until(c, people[ROWAN], monday) == friday
        assert away_days(c, "g", DENVER, NOW) == ((date(2025, 12, 2), date(2025, 12, 4)),)
        assert come_back(c, people[ROWAN], NOW)  # called off
        assert away_days(c, "g", DENVER, NOW) == ()


def test_the_plan_hears_of_absence_only_where_everyone_who_listens_is_away(
    logbook: Logbook, people: dict[int, Person]
) -> None:
    with logbook.begin() as c:
        go_away(c, people[ROWAN], datetime(2025, 12, 3, 8, tzinfo=DENVER))
        assert away_days(c, "g", DENVER, NOW) == ()
        mute(c, people[JUNIPER], muted=True)
        assert away_days(c, "g", DENVER, NOW) == ((date(2025, 11, 29), date(2025, 12, 2)),)
        mute(c, people[ROWAN], muted=True)
        assert away_days(c, "g", DENVER, NOW) == ()  # nobody listens: the plan is for whoever asks
