"""No answer is lost for good: what was given up is told at the next sign of life, once."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import sqlalchemy as sa

from bot import logbook as lb
from bot import outbox
from bot.logbook import Logbook
from bot.logbook.database.tables import outbox as table
from bot.logbook.messages.sendable import MOST_REPEATS
from bot.logbook.messages.unheard import HEAD
from bot.messages import Button, OnUnknown, Outgoing
from bot.outbox import Claimed, Outcome, SendOutcome
from tests.bot.household_phones import Phones, demo_garden

NOW = datetime(2026, 11, 25, 16, 10, tzinfo=UTC)
LATER = NOW + timedelta(hours=1)
UNKNOWN = SendOutcome(outcome=Outcome.UNKNOWN, reason="ReadTimeout")
SENT = SendOutcome(outcome=Outcome.SENT, message_id=100)
UNDO = (Button(label="Undo", data="undo:u1:0"),)


def noted(number: int = 1, on_unknown: OnUnknown = OnUnknown.RESEND) -> Outgoing:
    return Outgoing(
        key=f"reply:{number}:0", chat_id=5, text=f"Noted: deed {number}.", buttons=UNDO, due_utc=NOW,
        expires_utc=NOW + timedelta(hours=12), on_unknown=on_unknown,
    )  # fmt: skip


def put(logbook: Logbook, *messages: Outgoing) -> None:
    with logbook.begin() as c:
        for one in messages:
            lb.enqueue(c, one, "Larkmoor")


def claimed(logbook: Logbook, at: datetime) -> list[Claimed]:
    return outbox.claim(logbook, at, 10, "door")


def die_at_every_send(logbook: Logbook) -> datetime:
    """A program that dies of each send until no more is tried; when that is."""
    at = NOW
    while claimed(logbook, at):
        at += timedelta(seconds=5)
        outbox.recover(logbook, "door", at)
    return at


def lost(logbook: Logbook, at: datetime) -> Outgoing | None:
    with logbook.begin() as c:
        return lb.unheard(c, 5, at)


def test_an_answer_given_up_after_a_few_deaths_is_told_once_with_its_buttons(logbook: Logbook) -> None:
    put(logbook, noted())
    at = die_at_every_send(logbook)
    with logbook.begin() as c:
        row = c.execute(sa.select(table)).one()
    assert (row.state, row.repeats, row.attempts) == ("unknown", MOST_REPEATS, MOST_REPEATS + 1)
    told = lost(logbook, at)
    assert told is not None
    assert (told.text, told.buttons, told.on_unknown) == (f"{HEAD}Noted: deed 1.", UNDO, OnUnknown.RESEND)
    assert lost(logbook, at) is None


def test_an_answer_whose_repeat_had_no_answer_either_is_told(logbook: Logbook) -> None:
    put(logbook, noted())
    for at in (NOW, NOW + timedelta(seconds=5)):
        (one,) = claimed(logbook, at)
        outbox.finish(logbook, one, UNKNOWN, at)
    assert claimed(logbook, NOW + timedelta(minutes=5)) == []
    assert lost(logbook, LATER) is not None


def test_what_will_still_be_repeated_and_small_talk_are_not_told(logbook: Logbook) -> None:
    put(logbook, noted(1), noted(2, OnUnknown.HOLD))
    for seconds in (0, 5):
        (one,) = claimed(logbook, NOW + timedelta(seconds=seconds))
        outbox.finish(logbook, one, UNKNOWN, NOW + timedelta(seconds=seconds))
        if seconds == 0:
            assert lost(logbook, NOW) is None  # it goes once more
            with logbook.begin() as c:
                c.execute(sa.update(table).where(table.c.key == "reply:1:0").values(state="sent"))
    assert lost(logbook, LATER) is None


def test_an_answer_that_was_out_of_date_before_it_left_is_told(logbook: Logbook) -> None:
    put(logbook, noted())
    at = NOW + timedelta(hours=13)
    (catch_up,) = claimed(logbook, at)
    assert catch_up.key.startswith("catch-up")
    outbox.finish(logbook, catch_up, SENT, at)  # the chat is reached again: a sign of life
    (told,) = claimed(logbook, at + timedelta(seconds=5))
    assert told.text == f"{HEAD}Noted: deed 1."
    outbox.finish(logbook, told, SENT, at + timedelta(seconds=5))
    assert claimed(logbook, at + timedelta(minutes=5)) == []


def test_the_next_message_that_arrives_brings_the_lost_answers_along_in_one(logbook: Logbook) -> None:
    put(logbook, noted(1), noted(2))
    at = die_at_every_send(logbook)
    nudge = Outgoing(key="n:1", chat_id=5, text="Close the cap.", due_utc=at, expires_utc=at + timedelta(hours=5))
    put(logbook, nudge)
    (one,) = claimed(logbook, at)
    outbox.finish(logbook, one, SENT, at)
    (told,) = claimed(logbook, at + timedelta(seconds=5))
    assert told.text == f"{HEAD}Noted: deed 1.\nNoted: deed 2."
    outbox.finish(logbook, told, SENT, at)


def test_the_telling_itself_is_never_lost(logbook: Logbook) -> None:
    put(logbook, noted())
    at = die_at_every_send(logbook)
    first = lost(logbook, at)
    assert first is not None
    put(logbook, first)
    while claimed(logbook, at):
        at += timedelta(seconds=5)
        outbox.recover(logbook, "door", at)
    again = lost(logbook, at)
    assert again is not None
    assert (again.text, again.key != first.key) == (first.text, True)  # no head upon a head


def test_what_is_noted_asked_or_changed_is_sent_again_and_small_talk_is_not(tmp_path: Path) -> None:
    phones = Phones(demo_garden(tmp_path, "Porch fig", "Wall fig"), NOW)
    said = {
        "closed porch": "resend",
        "closed porch again": "resend",  # that it stands already
        "closed fig": "resend",  # which tree?
        "away until sunday": "resend",
        "back": "resend",
        "let someone in": "resend",
        "undo": "resend",
        "thanks": "hold",
        "trees": "hold",
    }
    for text in said:
        phones.say(text)
    with phones.logbook.begin() as c:
        rows = c.execute(sa.select(table.c.on_unknown).where(table.c.key.startswith("reply:")).order_by(table.c.id))
        assert dict(zip(said, rows.scalars(), strict=True)) == said
    phones.close()


def test_the_next_word_of_the_person_brings_what_they_never_heard(tmp_path: Path) -> None:
    phones = Phones(demo_garden(tmp_path, "Porch fig"), NOW)
    phones.say("closed porch")
    with phones.logbook.begin() as c:
        c.execute(sa.update(table).values(state="unknown", repeats=MOST_REPEATS))
    told = phones.say("thanks").splitlines()
    assert told[0] == HEAD.strip()
    assert told[1].startswith("Noted: Porch fig closed")
    assert told[-1] == "You are welcome."
    phones.close()
