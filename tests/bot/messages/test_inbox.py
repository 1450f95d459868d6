"""The inbox: every update stored once, taken once, and none that holds up another."""

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import sqlalchemy as sa

from bot import inbox
from bot.hosting.at_hand import AtHand
from bot.inbox import RawUpdate, Taken
from bot.logbook import Door, Logbook, LogbookError, note_person, note_state, open_logbook, read_state
from bot.logbook.database.tables import inbox as table
from bot.logbook.database.tables import outbox
from bot.messages import Incoming, IncomingKind, Outgoing

NOW = datetime(2026, 11, 25, 16, 10, tzinfo=UTC)
TOKEN = "12345678:AAbbCCddEEffGGhhIIjjKKllMMnnOOpp"  # noqa: S105 - invented


@pytest.fixture
def logbook(place: Path | str) -> Iterator[Logbook]:
    opened = open_logbook(place)
    with opened.begin() as c:
        note_person(c, "Larkmoor", 5, "Rowan", "owner")
    yield opened
    opened.close()


def update(update_id: int, text: str, chat_id: int | None = 5) -> RawUpdate:
    return RawUpdate(update_id, json.dumps({"id": update_id, "text": text, "chat": chat_id or 5}), NOW, chat_id)


def parse(raw: str) -> Incoming | None:
    said = json.loads(raw)
    if said["text"] == "not for us":
        return None
    text, chat_id = said["text"], said["chat"]
    kind = IncomingKind.TEXT
    return Incoming(update_id=said["id"], chat_id=chat_id, person="Rowan", kind=kind, text=text, at_utc=NOW)


def answer(c: sa.Connection, incoming: Incoming) -> list[Outgoing]:
    """Counts what it hears, like any answer that changes state, and raises after having written."""
    heard = json.loads(read_state(c, "Larkmoor", "heard") or "[]")
    note_state(c, "Larkmoor", "heard", json.dumps([*heard, incoming.text]))
    if incoming.text == "poison":
        raise RuntimeError(f"POST https://chat.invalid/bot{TOKEN}/sendMessage failed")
    return [reply(incoming, f"Noted: {incoming.text}")]


def reply(incoming: Incoming, text: str) -> Outgoing:
    key, until = f"reply:{incoming.update_id}:0", NOW + timedelta(days=1)
    return Outgoing(key=key, chat_id=incoming.chat_id, text=text, due_utc=NOW, expires_utc=until)


def now() -> datetime:
    return NOW


def store(logbook: Logbook, *updates: RawUpdate | tuple[int, str, datetime], door: Door = Door.TELEGRAM) -> int:
    with logbook.begin() as c:
        return inbox.store(c, updates, door)


def heard(logbook: Logbook) -> list[str]:
    with logbook.begin() as c:
        return list(json.loads(read_state(c, "Larkmoor", "heard") or "[]"))


def replies(logbook: Logbook) -> list[str]:
    with logbook.begin() as c:
        return list(c.scalars(sa.select(outbox.c.text).order_by(outbox.c.id)))


def test_an_update_offered_twice_is_stored_and_answered_once(logbook: Logbook) -> None:
    assert store(logbook, update(1, "wrapped porch"), update(2, "vented wall")) == 2
    assert store(logbook, update(2, "vented wall"), update(3, "why")) == 1
    assert inbox.take(logbook, answer, parse, now) == Taken(done=3, failed=0)
    assert store(logbook, update(3, "why")) == 0
    assert inbox.take(logbook, answer, parse, now) == Taken(done=0, failed=0)
    assert heard(logbook) == ["wrapped porch", "vented wall", "why"]
    assert replies(logbook) == ["Noted: wrapped porch", "Noted: vented wall", "Noted: why"]


def test_updates_are_taken_in_the_order_they_came_even_when_ids_start_anew(logbook: Logbook) -> None:
    store(logbook, update(900, "closed porch"))
    store(logbook, update(17, "undo"))  # after a quiet week the server's ids are random
    inbox.take(logbook, answer, parse, now)
    assert heard(logbook) == ["closed porch", "undo"]


def test_each_chat_offers_only_its_first_update(logbook: Logbook) -> None:
    store(logbook, update(1, "a", 5), update(2, "b", 5), update(3, "c", 6), update(4, "d", None), update(5, "e", None))
    with logbook.begin() as c:
        assert [waiting.update_id for waiting in inbox.pending(c)] == [1, 3, 4, 5]


def test_a_reply_goes_to_the_outbox_under_its_garden(logbook: Logbook) -> None:
    store(logbook, update(1, "trees", 5), update(2, "hello", 99))
    inbox.take(logbook, answer, parse, now)
    with logbook.begin() as c:
        assert list(c.scalars(sa.select(outbox.c.garden).order_by(outbox.c.id))) == ["Larkmoor", None]


def test_a_poisoned_update_changes_nothing_and_holds_up_nobody(logbook: Logbook) -> None:
    store(logbook, update(1, "poison"), (2, "<html>", NOW), update(3, "closed porch"))
    assert inbox.take(logbook, answer, parse, now) == Taken(done=1, failed=2)
    assert heard(logbook) == ["closed porch"]
    with logbook.begin() as c:
        failed = c.execute(sa.select(table.c.update_id, table.c.error).where(table.c.state == "failed")).all()
    assert [row.update_id for row in failed] == [1, 2]
    assert "sendMessage failed" in failed[0].error


def test_no_token_is_stored_or_logged_with_an_error(logbook: Logbook, caplog: pytest.LogCaptureFixture) -> None:
    store(logbook, update(1, "poison"))
    inbox.take(logbook, answer, parse, now)
    with logbook.begin() as c:
        (error,) = c.scalars(sa.select(table.c.error))
    assert TOKEN not in error
    assert "12345678:<secret>" in error
    assert TOKEN not in caplog.text
    assert "could not be taken" in caplog.text


def test_an_apology_answers_in_place_of_a_reply_that_failed(logbook: Logbook) -> None:
    def apology(_c: sa.Connection, incoming: Incoming) -> list[Outgoing]:
        return [reply(incoming, "Something went wrong on my side; nothing was noted.")]

    store(logbook, update(1, "poison"), (2, "<html>", NOW))
    assert inbox.take(logbook, answer, parse, now, apology=apology) == Taken(done=0, failed=2)
    assert replies(logbook) == ["Something went wrong on my side; nothing was noted."]
    assert heard(logbook) == []


def test_what_does_not_concern_us_is_done_without_a_word(logbook: Logbook) -> None:
    store(logbook, update(1, "not for us"))
    assert inbox.take(logbook, answer, parse, now) == Taken(done=1, failed=0)
    assert replies(logbook) == []


def test_a_failing_logbook_leaves_the_update_to_be_taken_later(logbook: Logbook) -> None:
    def full(_c: sa.Connection, _incoming: Incoming) -> list[Outgoing]:
        raise sa.exc.OperationalError("INSERT", {}, Exception("database or disk is full"))

    store(logbook, update(1, "closed porch"))
    with pytest.raises(LogbookError, match="disk is full"):
        inbox.take(logbook, full, parse, now)
    assert inbox.take(logbook, answer, parse, now) == Taken(done=1, failed=0)


def test_the_doors_do_not_take_each_other_s_updates(logbook: Logbook) -> None:
    store(logbook, update(1, "from the phone"))
    store(logbook, update(1, "from the terminal"), door=Door.TERMINAL)
    inbox.take(logbook, answer, parse, now, door=Door.TERMINAL)
    assert heard(logbook) == ["from the terminal"]
    inbox.take(logbook, answer, parse, now)
    assert heard(logbook) == ["from the terminal", "from the phone"]


def test_settled_updates_are_known_for_two_days_and_pending_ones_for_ever(logbook: Logbook) -> None:
    store(logbook, update(1, "closed porch"), update(2, "poison"))
    inbox.take(logbook, answer, parse, now)
    store(logbook, update(3, "vented wall"))
    with logbook.begin() as c:
        assert inbox.purge(c, NOW + timedelta(hours=48)) == 0
        assert inbox.purge(c, NOW + timedelta(hours=48, seconds=1)) == 2
    assert inbox.take(logbook, answer, parse, now) == Taken(done=1, failed=0)


def test_what_an_answer_lacks_is_made_while_others_write_and_then_it_is_answered_once(logbook: Logbook) -> None:
    at_hand = AtHand()

    def dear() -> str:
        with logbook.begin() as c:  # would be locked out of SQLite, were the update's own transaction still open
            note_state(c, "Larkmoor", "written meanwhile", "1")
        return "made"

    def standing_on_it(c: sa.Connection, incoming: Incoming) -> list[Outgoing]:
        answers = answer(c, incoming)
        return [replace(answers[0], text=at_hand.made(incoming.update_id, "dear", dear))]

    store(logbook, update(1, "closed porch"))
    assert inbox.take(logbook, standing_on_it, parse, now) == Taken(done=1, failed=0)
    assert (heard(logbook), replies(logbook)) == (["closed porch"], ["made"])


def test_what_failed_in_the_making_fails_in_the_answer_and_is_made_anew_the_next_time(logbook: Logbook) -> None:
    at_hand, tries = AtHand(), list[int]()

    def out_of_reach() -> str:
        tries.append(1)
        if len(tries) == 1:
            raise LogbookError("the logbook is locked")
        return "made"

    def standing_on_it(_: sa.Connection, incoming: Incoming) -> list[Outgoing]:
        return [reply(incoming, at_hand.made(incoming.update_id, "dear", out_of_reach))]

    store(logbook, update(1, "closed porch"))
    with pytest.raises(LogbookError, match="locked"):
        inbox.take(logbook, standing_on_it, parse, now)
    assert inbox.take(logbook, standing_on_it, parse, now) == Taken(done=1, failed=0)
    assert replies(logbook) == ["made"]
