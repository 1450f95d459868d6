"""What the logbook remembers of a garden: people, records, weather, rounds and nudges."""

import json
import zlib
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
import sqlalchemy as sa

from bot import logbook as lb
from bot.logbook import Logbook, NudgeState, open_logbook
from bot.logbook.database.tables import let_in_codes, let_in_tries, metadata, past_days
from bot.messages import OnUnknown, Outgoing
from rules.garden.cover import CoverState
from rules.garden.records import Deed, DeedKind, Place, Reading, Sighting, SightingKind, state_now
from rules.weather.hourly import HourlyWeather
from tests.hourly import hours_of

NOW = datetime(2026, 11, 25, 16, 10, tzinfo=UTC)
HOUR = timedelta(hours=1)
GARDEN, OTHER = "Larkmoor", "Heron Yard"


def said(update_id: int | None, garden: str = GARDEN, at: datetime = NOW) -> lb.Source:
    return lb.Source(garden=garden, person="Rowan", update_id=update_id, noted_utc=at)


def deed(tree: str, kind: DeedKind, at: datetime = NOW) -> Deed:
    state = {DeedKind.CLOSED: CoverState.CLOSED, DeedKind.VENTED: CoverState.VENTED}.get(kind, CoverState.BARE)
    return Deed(tree=tree, kind=kind, state=state, at_utc=at)


def nudge(key: str, garden: str = GARDEN, opened: datetime = NOW) -> lb.Nudge:
    return lb.Nudge(
        key=key,
        garden=garden,
        stage="evening",
        ask="close",
        trees=("Porch fig", "Wall fig"),
        night=date(2026, 11, 25),
        opened_utc=opened,
        expires_utc=opened + 5 * HOUR,
        numbers='{"low_c": -8.0}',
    )


def message(key: str, chat_id: int = 5, **options: object) -> Outgoing:
    fields = {"text": "Close the cap by 16:50.", "due_utc": NOW, "expires_utc": NOW + 5 * HOUR, **options}
    return Outgoing(key=key, chat_id=chat_id, **fields)  # type: ignore[arg-type]  # keywords vary by test


# people


def test_a_stranger_belongs_to_no_garden_and_a_let_in_chat_to_its_own(c: sa.Connection) -> None:
    lb.note_person(c, GARDEN, 5, "Rowan", "owner")
    lb.note_person(c, OTHER, 6, "Linnet", "owner")
    lb.note_person(c, GARDEN, 5, "Rowan A", "owner")
    assert lb.garden_of_chat(c, 7) is None
    assert [person.name for person in lb.list_people(c, GARDEN)] == ["Rowan A"]
    assert lb.garden_of_chat(c, 6) == lb.Person(garden=OTHER, chat_id=6, name="Linnet", role="owner")
    lb.forget_person(c, OTHER, 6)
    assert lb.garden_of_chat(c, 6) is None


def test_a_code_lets_one_phone_in_once_and_is_nowhere_written_down(logbook: Logbook) -> None:
    with logbook.begin() as c:
        code = lb.make_let_in_code(c, GARDEN, NOW, HOUR)
        person = lb.use_code_hash(c, lb.hash_of_code(f" {code.upper().replace('-', ' ')} "), 5, "Rowan", NOW + HOUR / 2)
        again = lb.use_code_hash(c, lb.hash_of_code(code), 6, "Linnet", NOW + HOUR / 2)
    assert person == lb.Person(garden=GARDEN, chat_id=5, name="Rowan", role="household")
    assert again is None
    with logbook.begin() as c:
        rows = [str(row) for table in metadata.sorted_tables for row in c.execute(sa.select(table))]
    assert rows
    assert not [row for row in rows if code in row or code.replace("-", "") in row]
    logbook.close()
    if logbook.path is not None:
        for file in logbook.path.parent.iterdir():
            assert code.replace("-", "").encode() not in file.read_bytes()


def test_a_code_out_of_date_lets_nobody_in(c: sa.Connection) -> None:
    code = lb.make_let_in_code(c, GARDEN, NOW, HOUR)
    assert lb.use_code_hash(c, lb.hash_of_code(code), 5, "Rowan", NOW + HOUR) is None


def test_codes_differ_and_fit_a_link(c: sa.Connection) -> None:
    codes = {lb.make_let_in_code(c, GARDEN, NOW, HOUR) for _ in range(50)}
    assert len(codes) == 50
    assert all(set(code) <= set("abcdefghijklmnopqrstuvwxyz0123456789-") and len(code) <= 64 for code in codes)


def test_five_wrong_codes_an_hour_and_then_even_the_right_one_waits(c: sa.Connection) -> None:
    code = lb.make_let_in_code(c, GARDEN, NOW, 3 * HOUR)
    for _ in range(5):
        assert lb.use_code_hash(c, lb.hash_of_code("aaaa-bbbb-cccc"), 5, "Stranger", NOW) is None
    assert lb.let_in_tries_left(c, 5, NOW) == 0
    assert lb.use_code_hash(c, lb.hash_of_code(code), 5, "Stranger", NOW) is None
    assert c.scalar(sa.select(sa.func.count()).select_from(let_in_tries)) == 5  # a flood adds no rows
    assert lb.use_code_hash(c, lb.hash_of_code(code), 6, "Linnet", NOW) is not None  # nobody else is held up
    assert lb.let_in_tries_left(c, 5, NOW + HOUR) == 5


def test_a_chat_that_closed_keeps_its_garden_and_may_come_back(c: sa.Connection) -> None:
    lb.note_person(c, GARDEN, 5, "Rowan", "owner")
    lb.mark_unreachable(c, 5, NOW)
    assert not lb.is_reachable(c, 5)
    assert [person.is_reachable for person in lb.list_people(c, GARDEN)] == [False]
    lb.mark_reachable(c, 5)
    assert lb.is_reachable(c, 5)


def test_a_group_that_moved_is_found_under_its_new_id_everywhere(c: sa.Connection) -> None:
    lb.note_person(c, GARDEN, -5, "The house", "household")
    lb.note_person(c, GARDEN, -1005, "The house", "household")  # the new id spoke before we heard of the move
    lb.enqueue(c, message("nudge:1", -5), GARDEN, "nudge:1")
    lb.move_chat(c, -5, -1005)
    assert lb.garden_of_chat(c, -5) is None
    assert [person.chat_id for person in lb.list_people(c, GARDEN)] == [-1005]
    assert [m.chat_id for m in lb.messages_of_nudge(c, "nudge:1")] == [-1005]


def test_a_nudge_that_changed_an_earlier_message_is_carried_by_that_however_often_it_was_changed(
    c: sa.Connection,
) -> None:
    lb.enqueue(c, message("first", 5), GARDEN, "heads-up:1")
    for later in ("heads-up:2", "heads-up:3"):
        (carrier,) = lb.messages_of_nudge(c, "heads-up:1" if later.endswith("2") else "heads-up:2")
        lb.enqueue(c, replace(message(later, 5), edits=carrier.key), GARDEN, later)
    assert [m.key for m in lb.messages_of_nudge(c, "heads-up:3")] == ["first"]
    assert [m.key for m in lb.messages_of_nudge(c, "heads-up:1")] == ["first"]


# records


def test_records_come_back_as_they_were_said_in_the_order_they_happened(c: sa.Connection) -> None:
    closed, vented = deed("Porch fig", DeedKind.CLOSED), deed("Porch fig", DeedKind.VENTED, NOW - 5 * HOUR)
    seen = Sighting(tree="Wall fig", sight=SightingKind.LEAVES_DROPPED, at_utc=NOW)
    read = Reading(tree="Wall fig", air_c=-6.5, at_utc=NOW - HOUR, place=Place.INSIDE, is_minimum=True)
    lb.note_entry(c, said(1), closed)
    lb.note_entry(c, said(2), vented)  # "vented it at eleven", said later
    lb.note_entry(c, said(3), seen)
    lb.note_entry(c, said(4), read)
    records = lb.read_records(c, GARDEN)
    assert list(records.deeds) == [vented, closed]
    assert list(records.sightings) == [seen]
    assert list(records.readings) == [read]
    assert state_now(records, "Porch fig", NOW) is CoverState.CLOSED
    assert list(lb.read_records(c, GARDEN, NOW - 2 * HOUR).deeds) == [closed]


def test_no_garden_reads_another_s_records_or_undoes_them(c: sa.Connection) -> None:
    mine = lb.note_entry(c, said(1), deed("Porch fig", DeedKind.CLOSED))
    lb.note_entry(c, said(2, OTHER), deed("Porch fig", DeedKind.VENTED))
    assert lb.undo(c, OTHER, [mine], NOW) == 0
    assert [d.kind for d in lb.read_records(c, GARDEN).deeds] == [DeedKind.CLOSED]
    assert [d.kind for d in lb.read_records(c, OTHER).deeds] == [DeedKind.VENTED]


def test_undo_takes_back_a_whole_reply_and_survives_a_restart(logbook: Logbook, place: Path | str) -> None:
    with logbook.begin() as c:
        lb.note_entry(c, said(1), deed("Porch fig", DeedKind.VENTED, NOW - HOUR))
        lb.note_entry(c, said(2), deed("Porch fig", DeedKind.CLOSED))
        lb.note_entry(c, said(2), deed("Wall fig", DeedKind.CLOSED))
    logbook.close()
    restarted = open_logbook(place)
    with restarted.begin() as c:
        last = lb.last_said(c, GARDEN)
        assert last is not None
        assert (last.update_id, len(last.record_ids)) == (2, 2)
        assert lb.undo(c, GARDEN, last.record_ids, NOW + HOUR) == 2
    restarted.close()
    again = open_logbook(place)
    with again.begin() as c:
        records = lb.read_records(c, GARDEN)
        assert state_now(records, "Porch fig", NOW + HOUR) is CoverState.VENTED
        assert state_now(records, "Wall fig", NOW + HOUR) is None
        before = lb.last_said(c, GARDEN)
        assert before is not None
        assert before.update_id == 1
        assert lb.undo(c, GARDEN, last.record_ids, NOW + HOUR) == 0  # a second tap takes nothing more back
    again.close()


def test_a_refusal_holds_until_its_time_and_notes_stay(c: sa.Connection) -> None:
    refusal = lb.Refusal(tree="Kaki", ask="wrap", at_utc=NOW, until_utc=NOW + 8 * HOUR)
    note = lb.Note(tree="", text="Straw is in the barn", at_utc=NOW)
    batch = lb.note_entry(c, said(1), refusal)
    lb.note_entry(c, said(2), note)
    assert lb.read_refusals(c, GARDEN, NOW + 7 * HOUR) == [refusal]
    assert lb.read_refusals(c, GARDEN, NOW + 8 * HOUR) == []
    assert note in [told.entry for told in lb.read_told(c, GARDEN)]
    lb.undo(c, GARDEN, [batch], NOW)
    assert lb.read_refusals(c, GARDEN, NOW) == []


# weather


def test_the_same_forecast_twice_running_is_kept_once(c: sa.Connection) -> None:
    body = json.dumps({"air_c": [-8.0, -7.5]})
    first = lb.note_forecast(c, GARDEN, body, "met-norway", NOW, NOW)
    assert lb.note_forecast(c, GARDEN, body, "met-norway", NOW, NOW + HOUR) == first
    changed = lb.note_forecast(c, GARDEN, body + " ", "met-norway", NOW + HOUR, NOW + 2 * HOUR)
    assert changed != first
    assert lb.note_forecast(c, GARDEN, body, "met-norway", NOW, NOW + 3 * HOUR) not in (first, changed)
    [kept] = lb.forecasts_of_half_days(c, GARDEN, "met-norway", [NOW.date()])
    assert (kept.body, kept.issued_utc, kept.fetched_utc) == (body, NOW, NOW)


def test_the_latest_forecast_is_the_one_seen_last(c: sa.Connection) -> None:
    assert lb.latest_forecast(c, GARDEN) is None
    first = lb.note_forecast(c, GARDEN, "a", "met-norway", None, NOW)
    lb.note_forecast(c, GARDEN, "b", "open-meteo", None, NOW + HOUR)
    lb.note_forecast(c, GARDEN, "a", "met-norway", None, NOW + 2 * HOUR)
    latest = lb.latest_forecast(c, GARDEN)
    assert latest is not None
    assert latest.forecast_id == first


def test_to_look_back_two_forecasts_of_a_day_are_read_and_none_of_another_day_service_or_garden(
    c: sa.Connection,
) -> None:
    midnight = NOW.replace(hour=0, minute=0)
    for garden, service in ((GARDEN, "met-norway"), (GARDEN, "open-meteo"), (OTHER, "met-norway")):
        for hour in range(-3, 30, 3):
            at = midnight + hour * HOUR
            lb.note_forecast(c, garden, f"{hour}", service, None, at)
    found = lb.forecasts_of_half_days(c, GARDEN, "met-norway", {midnight.date()})
    assert [(one.body, one.garden, one.service) for one in found] == [
        ("0", GARDEN, "met-norway"),
        ("12", GARDEN, "met-norway"),
    ]
    assert lb.forecasts_of_half_days(c, GARDEN, "met-norway", set()) == []
    two = lb.forecasts_of_half_days(c, GARDEN, "met-norway", {midnight.date(), (midnight + 24 * HOUR).date()})
    assert [one.body for one in two] == ["0", "12", "24"]


def test_a_raw_answer_replaces_the_one_before_for_its_cell_only(c: sa.Connection) -> None:
    old = lb.AnswerRow(service="open-meteo/ensemble", body="{}", fetched_utc=NOW, etag='"1"')
    new = lb.AnswerRow(service="open-meteo/ensemble", body="[0]", fetched_utc=NOW + HOUR, expires_utc=NOW + 2 * HOUR)
    lb.note_kept_answer(c, "a", old)
    lb.note_kept_answer(c, "b", old)
    lb.note_kept_answer(c, "a", new)
    assert lb.read_kept_answers(c, "a") == [new]
    assert lb.read_kept_answers(c, "b") == [old]


def hours(start: datetime, *air_c: float) -> HourlyWeather:
    return hours_of(start, air_c, wind_m_s=np.arange(len(air_c), dtype=np.float64) * 0.1)


def test_past_hours_come_back_as_told_with_gaps_left_open(c: sa.Connection) -> None:
    start = datetime(2026, 11, 24, 22, tzinfo=UTC)
    lb.note_past_hours(c, GARDEN, hours(start, 1.5, 0.25, -1.0, -2.0), NOW, start + 10 * HOUR)
    lb.note_past_hours(c, GARDEN, hours(start + 6 * HOUR, -7.0), NOW, start + 10 * HOUR)
    past = lb.past_weather(c, GARDEN, start - 100 * HOUR)
    assert past is not None
    assert past.start_utc == start
    np.testing.assert_array_equal(past.air_c, [1.5, 0.25, -1.0, -2.0, np.nan, np.nan, -7.0])
    np.testing.assert_array_equal(past.wind_m_s[:4], np.arange(4) * 0.1)
    assert lb.past_weather(c, OTHER, start) is None


def test_rain_and_snow_are_kept_with_the_hours_and_old_rows_without_them_are_read(c: sa.Connection) -> None:
    start = datetime(2026, 11, 24, tzinfo=UTC)
    old = np.arange(7 * 24, dtype="<f8").reshape(7, 24) / 200  # six series and when each hour was fetched
    row = {"garden": GARDEN, "day": start.date(), "hours": zlib.compress(old.tobytes())}
    c.execute(sa.insert(past_days).values(**row))
    before = lb.past_weather(c, GARDEN, start)
    assert before is not None
    np.testing.assert_array_equal(before.sun_w_m2, old[5])
    assert np.isnan(before.precipitation_mm).all()
    told = replace(before, precipitation_mm=np.full(24, 0.5), new_snow_m=np.full(24, 0.01))
    lb.note_past_hours(c, GARDEN, told, NOW, start + 10 * HOUR)
    after = lb.past_weather(c, GARDEN, start)
    assert after is not None
    np.testing.assert_array_equal(after.precipitation_mm[:11], [0.5] * 11)
    np.testing.assert_array_equal(after.new_snow_m[:11], [0.01] * 11)
    assert np.isnan(after.precipitation_mm[11:]).all()
    np.testing.assert_array_equal(after.air_c, old[0])


def test_past_weather_starts_no_earlier_than_asked(c: sa.Connection) -> None:
    start = datetime(2026, 11, 24, 22, tzinfo=UTC)
    lb.note_past_hours(c, GARDEN, hours(start, 1.0, 2.0, 3.0, 4.0), NOW, start + 10 * HOUR)
    half_past = lb.past_weather(c, GARDEN, start + HOUR / 2)
    assert half_past is not None
    assert half_past.start_utc == start + HOUR
    assert lb.past_weather(c, GARDEN, start + 4 * HOUR) is None


def test_hours_still_to_come_are_not_kept_as_past(c: sa.Connection) -> None:
    start = datetime(2026, 11, 24, 22, tzinfo=UTC)
    lb.note_past_hours(c, GARDEN, hours(start, 1.0, 2.0, 3.0, 4.0), NOW, start + 2 * HOUR + HOUR / 2)
    past = lb.past_weather(c, GARDEN, start)
    assert past is not None
    np.testing.assert_array_equal(past.air_c, [1.0, 2.0, 3.0])
    lb.note_past_hours(c, OTHER, hours(start, 1.0), NOW, start - HOUR)
    assert lb.past_weather(c, OTHER, start) is None


def test_of_two_tellings_the_later_fetched_stands_and_a_gap_wipes_nothing_out(c: sa.Connection) -> None:
    start = datetime(2026, 11, 24, 22, tzinfo=UTC)
    lb.note_past_hours(c, GARDEN, hours(start, 1.0, 2.0, 3.0), NOW, NOW)
    lb.note_past_hours(c, GARDEN, hours(start, 1.5, np.nan, 3.5), NOW + HOUR, NOW)
    lb.note_past_hours(c, GARDEN, hours(start, 9.0, 9.0, 9.0, 4.0), NOW - HOUR, NOW)  # an old answer, come late
    past = lb.past_weather(c, GARDEN, start)
    assert past is not None
    np.testing.assert_array_equal(past.air_c, [1.5, 2.0, 3.5, 4.0])


def test_a_whole_day_told_again_unchanged_is_written_once_a_day(c: sa.Connection) -> None:
    start = datetime(2026, 11, 24, tzinfo=UTC)
    told = hours(start, *([1.0] * 24))
    kept = []
    for later_h in (0, 1, 23, 25):
        lb.note_past_hours(c, GARDEN, told, NOW + later_h * HOUR, NOW)
        kept.append(c.scalar(sa.select(past_days.c.hours).where(past_days.c.garden == GARDEN)))
    assert kept[0] == kept[1] == kept[2] != kept[3]
    lb.note_past_hours(c, GARDEN, hours(start, 1.5), NOW + 26 * HOUR, NOW)
    past = lb.past_weather(c, GARDEN, start)
    assert past is not None
    np.testing.assert_array_equal(past.air_c[:2], [1.5, 1.0])


def test_hours_off_the_full_hour_are_refused(c: sa.Connection) -> None:
    with pytest.raises(ValueError, match="full hours of UTC, got 22:30:00"):
        lb.note_past_hours(c, GARDEN, hours(datetime(2026, 11, 24, 22, 30, tzinfo=UTC), 1.0), NOW, NOW)


# rounds and states


def test_advice_can_be_replayed_from_its_round(c: sa.Connection) -> None:
    forecast = lb.note_forecast(c, GARDEN, "a", "saved", None, NOW)
    made = lb.note_round(c, GARDEN, NOW, forecast, '{"bears_c": -4.0}')
    lb.note_round(c, OTHER, NOW + HOUR, None, "{}")
    assert lb.last_round(c, GARDEN) == lb.round_by_id(c, GARDEN, made)
    kept = lb.round_by_id(c, GARDEN, made)
    assert kept is not None
    assert (kept.at_utc, kept.forecast_id, kept.numbers) == (NOW, forecast, '{"bears_c": -4.0}')
    assert lb.round_by_id(c, OTHER, made) is None


def test_a_state_is_replaced_by_the_next(c: sa.Connection) -> None:
    lb.note_state(c, GARDEN, "heat", "[1]")
    lb.note_state(c, GARDEN, "heat", "[2]")
    assert lb.read_state(c, GARDEN, "heat") == "[2]"
    assert lb.read_state(c, OTHER, "heat") is None


def test_old_rounds_go_but_what_a_nudge_rests_on_stays(c: sa.Connection) -> None:
    shown = lb.note_round(c, GARDEN, NOW, lb.note_forecast(c, GARDEN, "a", "saved", None, NOW), "{}")
    idle = lb.note_round(c, GARDEN, NOW, lb.note_forecast(c, GARDEN, "b", "saved", None, NOW - 6 * HOUR), "{}")
    lb.open_nudge(c, lb.Nudge(**{**vars(nudge("nudge:1")), "round_id": shown}))
    lb.make_let_in_code(c, GARDEN, NOW, HOUR)
    assert lb.purge(c, NOW + timedelta(days=399)) == 1  # only the code is past its use
    assert lb.purge(c, NOW + timedelta(days=401)) == 2
    kept = lb.round_by_id(c, GARDEN, shown)
    assert kept is not None
    assert kept.forecast_id is not None
    assert [one.body for one in lb.forecasts_of_half_days(c, GARDEN, "saved", [NOW.date()])] == ["a"]
    assert lb.round_by_id(c, GARDEN, idle) is None
    assert c.scalar(sa.select(sa.func.count()).select_from(let_in_codes)) == 0


# nudges


def test_a_nudge_is_opened_once_however_often_the_tick_says_so(c: sa.Connection) -> None:
    assert lb.open_nudge(c, nudge("nudge:1"))
    assert not lb.open_nudge(c, nudge("nudge:1", opened=NOW + HOUR))
    (kept,) = lb.open_nudges(c, GARDEN)
    assert lb.Nudge(**{**vars(kept), "nudge_id": None}) == nudge("nudge:1")
    assert kept.nudge_id is not None
    assert lb.nudge_by_id(c, GARDEN, kept.nudge_id) == kept == lb.nudge_by_key(c, "nudge:1")
    assert lb.nudge_by_id(c, OTHER, kept.nudge_id) is None


def test_the_first_answer_counts_and_undo_opens_the_nudge_again(c: sa.Connection) -> None:
    lb.open_nudge(c, nudge("nudge:1"))
    assert lb.settle_nudge(c, "nudge:1", NudgeState.ANSWERED, "Rowan", NOW, update_id=7)
    assert not lb.settle_nudge(c, "nudge:1", NudgeState.STOOD_DOWN, None, NOW)
    settled = lb.nudge_by_key(c, "nudge:1")
    assert settled is not None
    assert (settled.state, settled.settled_by, settled.settled_utc) == (NudgeState.ANSWERED, "Rowan", NOW)
    assert lb.open_nudges(c, GARDEN) == []
    assert lb.reopen_nudges(c, OTHER, 7) == []
    assert lb.reopen_nudges(c, GARDEN, 7) == ["nudge:1"]
    assert [n.key for n in lb.open_nudges(c, GARDEN)] == ["nudge:1"]


def test_a_nudge_for_which_it_is_too_late_expires(c: sa.Connection) -> None:
    lb.open_nudge(c, nudge("nudge:1"))
    lb.open_nudge(c, nudge("nudge:2", opened=NOW + HOUR))
    assert lb.expire_nudges(c, GARDEN, NOW + 5 * HOUR - HOUR / 60) == []
    assert [n.key for n in lb.expire_nudges(c, GARDEN, NOW + 5 * HOUR)] == ["nudge:1"]
    assert [n.state for n in lb.nudges_since(c, GARDEN, NOW)] == [NudgeState.EXPIRED, NudgeState.OPEN]
    assert [n.key for n in lb.nudges_since(c, GARDEN, NOW + HOUR)] == ["nudge:2"]


def test_after_an_answer_what_still_waits_of_the_nudge_is_withdrawn(c: sa.Connection) -> None:
    lb.open_nudge(c, nudge("nudge:1"))
    lb.enqueue(c, message("nudge:1:5", 5, on_unknown=OnUnknown.RESEND), GARDEN, "nudge:1")
    lb.enqueue(c, message("nudge:1:6", 6), GARDEN, "nudge:1")
    lb.enqueue(c, message("nudge:2:5", 5), GARDEN, "nudge:2")
    lb.enqueue(c, message("edit:1:5", 5, edits="nudge:1:5"), GARDEN, "nudge:1")
    lb.settle_nudge(c, "nudge:1", NudgeState.ANSWERED, "Rowan", NOW)
    assert [m.state for m in lb.messages_of_nudge(c, "nudge:1")] == [lb.SendState.DEAD, lb.SendState.DEAD]
    assert [m.state for m in lb.messages_of_nudge(c, "nudge:2")] == [lb.SendState.QUEUED]
    queued = set(
        c.scalars(sa.select(lb.database.tables.outbox.c.key).where(lb.database.tables.outbox.c.state == "queued"))
    )
    assert queued == {"nudge:2:5", "edit:1:5"}  # an edit that says "taken" still goes out
