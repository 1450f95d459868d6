"""The outbox: sent once, in order and paced; repeated only when marked; given up only with a reason."""

import threading
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta

import pytest
import sqlalchemy as sa
from hypothesis import given, settings
from hypothesis import strategies as st

from bot import logbook as lb
from bot import outbox
from bot.logbook import Door, Logbook, open_logbook
from bot.logbook.database.tables import outbox as table
from bot.messages import Button, OnUnknown, Outgoing
from bot.outbox import REPEAT_WORDS, Claimed, Outcome, SendOutcome

NOW = datetime(2026, 11, 25, 16, 10, tzinfo=UTC)
SECOND = timedelta(seconds=1)
TOKEN = "12345678:AAbbCCddEEffGGhhIIjjKKllMMnnOOpp"  # noqa: S105 - invented
SENT = SendOutcome(outcome=Outcome.SENT, message_id=100)
UNKNOWN = SendOutcome(outcome=Outcome.UNKNOWN, reason="ReadTimeout")


def message(key: str, chat_id: int = 5, **options: object) -> Outgoing:
    fields = {"text": f"text of {key}", "due_utc": NOW, "expires_utc": NOW + timedelta(hours=5), **options}
    return Outgoing(key=key, chat_id=chat_id, **fields)  # type: ignore[arg-type]  # keywords vary by test


def put(logbook: Logbook, *messages: Outgoing, nudge_key: str | None = None) -> list[bool]:
    with logbook.begin() as c:
        return [outbox.enqueue(c, each, "Larkmoor", nudge_key) for each in messages]


def claim(logbook: Logbook, at: datetime, who: str = "a", limit: int = 50, **options: object) -> list[Claimed]:
    return outbox.claim(logbook, at, limit, who, **options)  # type: ignore[arg-type]  # keywords vary by test


def claim_one(logbook: Logbook, at: datetime, who: str = "a") -> Claimed:
    (claimed,) = claim(logbook, at, who)
    return claimed


def states(logbook: Logbook) -> dict[str, str]:
    with logbook.begin() as c:
        return {row.key: row.state for row in c.execute(sa.select(table.c.key, table.c.state).order_by(table.c.id))}


def error_of(logbook: Logbook, key: str) -> str | None:
    with logbook.begin() as c:
        return c.scalar(sa.select(table.c.error).where(table.c.key == key))


# once


def test_a_key_is_enqueued_once_for_ever(logbook: Logbook) -> None:
    assert put(logbook, message("n:1"), message("n:1", text="other words")) == [True, False]
    outbox.finish(logbook, claim_one(logbook, NOW), SENT, NOW)
    assert put(logbook, message("n:1")) == [False]
    assert claim(logbook, NOW + 10 * SECOND) == []
    assert states(logbook) == {"n:1": "sent"}


def test_a_message_comes_out_as_it_went_in(logbook: Logbook) -> None:
    buttons = (Button(label="Closed", data="closed:1:0"), Button(label="Can't today", data="cannot:1:0"))
    put(logbook, message("n:1", text="Tonight −8 °C", buttons=buttons, silent=True, picture="/p.png"), nudge_key="n")
    claimed = claim_one(logbook, NOW)
    assert (claimed.text, claimed.buttons, claimed.silent) == ("Tonight −8 °C", buttons, True)
    assert (claimed.picture, claimed.nudge_key, claimed.garden) == ("/p.png", "n", "Larkmoor")
    assert (claimed.edits_message_id, claimed.is_repeat) == (None, False)


def test_nothing_is_sent_before_it_is_due(logbook: Logbook) -> None:
    put(logbook, message("n:1", due_utc=NOW + SECOND))
    assert claim(logbook, NOW) == []
    assert claim_one(logbook, NOW + SECOND).key == "n:1"


def test_an_answer_goes_before_the_nudges_of_a_freeze_evening(logbook: Logbook) -> None:
    put(logbook, *(message(f"n:{chat}", chat) for chat in range(100, 140)), nudge_key="n")
    put(logbook, message("reply", 5, due_utc=NOW + SECOND))
    assert claim_one_of(logbook, NOW + SECOND) == "reply"
    put(logbook, message("reply to one who has a nudge waiting", 139, due_utc=NOW + SECOND))
    assert claim_one_of(logbook, NOW + SECOND) == "n:100"  # within a chat the order stays


def claim_one_of(logbook: Logbook, at: datetime) -> str:
    (claimed,) = claim(logbook, at, limit=1)
    return claimed.key


def test_two_workers_never_hold_the_same_message(logbook: Logbook) -> None:
    put(logbook, *(message(f"n:{chat}", chat) for chat in range(1, 9)))
    first, second = claim(logbook, NOW, "a", 3), claim(logbook, NOW, "b", 50)
    assert len(first) == 3
    assert len(second) == 2  # five leave at a moment
    assert {m.key for m in first}.isdisjoint(m.key for m in second)


def test_four_workers_at_once_send_each_message_once_and_each_chat_in_order(logbook: Logbook) -> None:
    put(logbook, *(message(f"n:{i}", 1 + i % 10) for i in range(60)))
    sent: list[Claimed] = []

    def work(who: str) -> None:
        for second in range(2, 60, 2):
            for claimed in claim(logbook, NOW + second * SECOND, who, 4, lease=timedelta(days=1)):
                sent.append(claimed)
                outbox.finish(logbook, claimed, SENT, NOW + second * SECOND)

    workers = [threading.Thread(target=work, args=(f"w{i}",)) for i in range(4)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    assert len({m.key for m in sent}) == len(sent) == 60
    for chat in range(1, 11):
        rows = [m.row_id for m in sent if m.chat_id == chat]
        assert rows == sorted(rows)


# order and pace


def test_a_chat_is_kept_in_order_even_while_one_message_backs_off(logbook: Logbook) -> None:
    put(logbook, message("n:1"), message("n:2"), message("tomorrow", due_utc=NOW - SECOND))
    first = claim_one(logbook, NOW)
    assert first.key == "tomorrow"  # due earlier, though written later
    assert claim(logbook, NOW + 5 * SECOND) == []  # the next waits for the outcome
    outbox.finish(logbook, first, SendOutcome(outcome=Outcome.NOT_SENT, reason="no route"), NOW + 5 * SECOND)
    assert claim(logbook, NOW + 6 * SECOND) == []  # backs off 2 s, and n:1 does not overtake it
    assert claim_one(logbook, NOW + 7 * SECOND).key == "tomorrow"


@pytest.mark.parametrize(("chat_id", "pause"), [(5, timedelta(seconds=1.05)), (-5, timedelta(seconds=3.1))])
def test_people_and_groups_have_their_pause(logbook: Logbook, chat_id: int, pause: timedelta) -> None:
    put(logbook, message("n:1", chat_id), message("n:2", chat_id))
    outbox.finish(logbook, claim_one(logbook, NOW), SENT, NOW)
    assert claim(logbook, NOW + pause - timedelta(milliseconds=1)) == []
    assert claim_one(logbook, NOW + pause).key == "n:2"


@pytest.fixture
def in_memory() -> Iterator[Logbook]:
    """For the pace, which is reckoned by us and not by a database."""
    opened = open_logbook("sqlite://")
    yield opened
    opened.close()


def left_at(logbook: Logbook, begin: datetime, seconds: int, a_second: int = 50) -> list[datetime]:
    """When each message left for a door that looks so many times a second, and sends at once."""
    left = []
    for look in range(seconds * a_second):
        at = begin + look * SECOND / a_second
        for claimed in claim(logbook, at):
            outbox.finish(logbook, claimed, SENT, at)
            left.append(at)
    return left


def most_within(left: list[datetime], span: timedelta) -> int:
    return max(sum(begin <= at < begin + span for at in left) for begin in left)


def test_messages_leave_evenly_at_95_percent_of_what_the_server_allows(in_memory: Logbook) -> None:
    put(in_memory, *(message(f"n:{chat}", chat) for chat in range(1, 200)))
    assert most_within(left_at(in_memory, NOW, 1), SECOND) == 20  # from a standing start
    left_at(in_memory, NOW + SECOND, 1)
    left = left_at(in_memory, NOW + 2 * SECOND, 4)
    assert len(left) >= 0.95 * 4 * 30  # Bot API: 30 a second
    assert most_within(left, SECOND) < 30
    assert most_within(left, SECOND / 10) <= 5  # nor in bursts, which a slow and a fast way would push together


def test_who_was_told_to_wait_sends_fewer_for_a_minute(in_memory: Logbook) -> None:
    put(in_memory, *(message(f"n:{chat}", chat) for chat in range(1, 300)))
    told = claim(in_memory, NOW, limit=1)[0]
    outbox.finish(in_memory, told, SendOutcome(outcome=Outcome.NOT_SENT, retry_after_s=3), NOW)
    left = left_at(in_memory, NOW + 4 * SECOND, 2)
    assert 40 <= len(left) <= 45
    assert most_within(left_at(in_memory, NOW + 6 * SECOND, 3), SECOND) == 27
    assert most_within(left_at(in_memory, NOW + timedelta(minutes=2), 3), SECOND) == 29


def test_the_terminal_is_not_paced_and_not_the_messenger_s(logbook: Logbook) -> None:
    put(logbook, message("t:1", lb.TERMINAL_CHAT), message("t:2", lb.TERMINAL_CHAT), message("n:1", 5))
    sent: list[str] = []

    def send(claimed: Claimed) -> SendOutcome:
        sent.append(claimed.key)
        return SENT

    while outbox.deliver(logbook, send, lambda: NOW, "here", door=Door.TERMINAL):
        pass
    assert sent == ["t:1", "t:2"]
    assert claim_one(logbook, NOW).key == "n:1"


def test_after_429_the_whole_bot_waits(logbook: Logbook) -> None:
    put(logbook, message("n:1", 5), message("n:2", 6))
    first = claim(logbook, NOW, limit=1)[0]
    outbox.finish(logbook, first, SendOutcome(outcome=Outcome.NOT_SENT, retry_after_s=7), NOW)
    assert claim(logbook, NOW + 7 * SECOND) == []
    assert [m.key for m in claim(logbook, NOW + 7.5 * SECOND)] == ["n:1", "n:2"]


def test_a_clock_set_back_by_a_day_silences_nobody(logbook: Logbook) -> None:
    tomorrow = NOW + timedelta(days=1)
    long_ago, later = NOW - timedelta(days=9), NOW + timedelta(days=3)
    put(logbook, *(message(f"n:{i}", due_utc=long_ago, expires_utc=later) for i in range(4)))
    outbox.finish(logbook, claim_one(logbook, tomorrow), SENT, tomorrow)
    held = claim_one(logbook, tomorrow + 2 * SECOND)
    outbox.finish(logbook, held, SendOutcome(outcome=Outcome.NOT_SENT, retry_after_s=600), tomorrow)
    assert claim_one(logbook, NOW).key == "n:1"  # neither last send, nor pause, nor back-off lie in the future
    (after,) = claim(logbook, NOW - timedelta(days=1), "b")  # and a lease from the future is given up
    assert after.key == "n:2"


# outcomes


def test_no_connection_backs_off_doubling_up_to_five_minutes(logbook: Logbook) -> None:
    put(logbook, message("n:1", expires_utc=NOW + timedelta(days=2)))
    at, waits = NOW, []
    for _ in range(10):
        outbox.finish(logbook, claim_one(logbook, at), SendOutcome(outcome=Outcome.NOT_SENT), at)
        with logbook.begin() as c:
            retry = c.scalar(sa.select(table.c.retry_utc))
        assert retry is not None
        waits.append((retry - at) / SECOND)
        at = retry
    assert waits == [2, 4, 8, 16, 32, 64, 128, 256, 300, 300]


def test_what_the_server_will_never_take_is_given_up_with_the_reason(logbook: Logbook) -> None:
    put(logbook, message("n:1"))
    refusal = SendOutcome(outcome=Outcome.REFUSED, reason=f"text too long for bot{TOKEN}")
    outbox.finish(logbook, claim_one(logbook, NOW), refusal, NOW)
    assert states(logbook) == {"n:1": "dead"}
    assert error_of(logbook, "n:1") == "text too long for bot12345678:<secret>"


def test_a_closed_chat_gets_nothing_more_until_it_opens_again(logbook: Logbook) -> None:
    put(logbook, message("n:1"), message("n:2"))
    outbox.finish(logbook, claim_one(logbook, NOW), SendOutcome(outcome=Outcome.CHAT_GONE, reason="blocked"), NOW)
    assert claim(logbook, NOW + 60 * SECOND) == []
    with logbook.begin() as c:
        lb.mark_reachable(c, 5)
    assert claim_one(logbook, NOW + 60 * SECOND).key == "n:2"
    assert states(logbook)["n:1"] == "dead"


def test_a_group_that_moved_gets_its_message_under_the_new_id(logbook: Logbook) -> None:
    put(logbook, message("n:1", -5), message("n:2", -5))
    moved = SendOutcome(outcome=Outcome.CHAT_MOVED, new_chat_id=-1005)
    outbox.finish(logbook, claim_one(logbook, NOW), moved, NOW)
    again = claim_one(logbook, NOW + 4 * SECOND)
    assert (again.key, again.chat_id) == ("n:1", -1005)
    with pytest.raises(ValueError, match="needs its new_chat_id"):
        SendOutcome(outcome=Outcome.CHAT_MOVED)


def test_a_wrong_token_costs_no_message(logbook: Logbook) -> None:
    put(logbook, message("n:1"))
    outbox.finish(logbook, claim_one(logbook, NOW), SendOutcome(outcome=Outcome.FORBIDDEN_TOKEN), NOW)
    assert claim_one(logbook, NOW + 2 * SECOND).key == "n:1"


# unknown outcomes


def test_an_unknown_nudge_goes_out_once_more_and_says_so(logbook: Logbook) -> None:
    put(logbook, message("n:1", text="Close the cap.", on_unknown=OnUnknown.RESEND))
    outbox.finish(logbook, claim_one(logbook, NOW), UNKNOWN, NOW)
    again = claim_one(logbook, NOW + 2 * SECOND)
    assert again.is_repeat
    assert again.text == f"{REPEAT_WORDS}\nClose the cap."
    outbox.finish(logbook, again, UNKNOWN, NOW + 2 * SECOND)
    assert claim(logbook, NOW + 60 * SECOND) == []  # once, not for ever
    assert states(logbook) == {"n:1": "unknown"}


def test_a_nudge_whose_sender_dies_each_time_is_tried_a_few_times_and_then_no_more(logbook: Logbook) -> None:
    put(logbook, message("n:1", on_unknown=OnUnknown.RESEND))
    tries = [claim(logbook, NOW + i * 100 * SECOND) for i in range(6)]
    assert [[m.is_repeat for m in each] for each in tries] == [[False], [True], [True], [True], [], []]
    assert states(logbook) == {"n:1": "unknown"}


def test_unknown_small_talk_is_held(logbook: Logbook) -> None:
    put(logbook, message("n:1"))
    outbox.finish(logbook, claim_one(logbook, NOW), UNKNOWN, NOW)
    assert claim(logbook, NOW + 60 * SECOND) == []
    assert states(logbook) == {"n:1": "unknown"}
    assert error_of(logbook, "n:1") == "ReadTimeout"


def test_a_lease_that_ran_out_is_unknown_not_unsent(logbook: Logbook) -> None:
    put(logbook, message("small talk", 5), message("nudge", 6, on_unknown=OnUnknown.RESEND))
    claim(logbook, NOW, lease=60 * SECOND)
    assert claim(logbook, NOW + 59 * SECOND, "b") == []
    (repeat,) = claim(logbook, NOW + 60 * SECOND, "b")
    assert (repeat.key, repeat.is_repeat) == ("nudge", True)
    assert states(logbook)["small talk"] == "unknown"


def test_a_worker_that_restarts_need_not_wait_for_its_own_leases(logbook: Logbook) -> None:
    put(logbook, message("n:1", 5, on_unknown=OnUnknown.RESEND), message("n:2", 6, on_unknown=OnUnknown.RESEND))
    claim(logbook, NOW, "a", 1)
    claim(logbook, NOW, "b", 1)
    assert outbox.recover(logbook, "a", NOW + SECOND) == 1
    assert [(m.key, m.is_repeat) for m in claim(logbook, NOW + 2 * SECOND, "a")] == [("n:1", True)]


def test_a_worker_whose_lease_was_given_up_cannot_overwrite_the_next_one_s_outcome(logbook: Logbook) -> None:
    put(logbook, message("n:1", on_unknown=OnUnknown.RESEND))
    slow = claim_one(logbook, NOW, "a")
    quick = claim_one(logbook, NOW + 100 * SECOND, "a")  # even a worker of the same name
    assert not outbox.finish(logbook, slow, SendOutcome(outcome=Outcome.REFUSED), NOW + 101 * SECOND)
    assert not outbox.finish(logbook, slow, SENT, NOW + 101 * SECOND)
    assert outbox.finish(logbook, quick, SENT, NOW + 101 * SECOND)
    assert states(logbook) == {"n:1": "sent"}


def test_good_news_that_comes_late_spares_the_repeat(logbook: Logbook) -> None:
    put(logbook, message("n:1", on_unknown=OnUnknown.RESEND), message("n:2", 6))
    slow = next(m for m in claim(logbook, NOW, "a") if m.key == "n:1")
    late = NOW + 100 * SECOND
    with logbook.begin() as c:
        lb.mark_unreachable(c, 5, NOW)  # so that the repeat is queued, but not claimed
    assert claim(logbook, late, "b") == []
    assert states(logbook)["n:1"] == "queued"
    assert outbox.finish(logbook, slow, SENT, late)
    assert states(logbook)["n:1"] == "sent"


def test_after_an_answer_an_unknown_nudge_is_not_repeated(logbook: Logbook) -> None:
    nudge = lb.Nudge(
        key="n",
        garden="Larkmoor",
        stage="evening",
        ask="close",
        trees=("Porch fig",),
        night=date(2026, 11, 25),
        opened_utc=NOW,
        expires_utc=NOW + timedelta(hours=5),
    )
    put(logbook, message("n:1", on_unknown=OnUnknown.RESEND), nudge_key="n")
    under_way = claim_one(logbook, NOW)
    with logbook.begin() as c:
        lb.open_nudge(c, nudge)
        lb.settle_nudge(c, "n", lb.NudgeState.ANSWERED, "Rowan", NOW)
    outbox.finish(logbook, under_way, UNKNOWN, NOW)
    assert claim(logbook, NOW + 60 * SECOND) == []


def test_a_send_that_raises_is_unknown_and_leaks_no_token(logbook: Logbook, caplog: pytest.LogCaptureFixture) -> None:
    def send(_claimed: Claimed) -> SendOutcome:
        raise ConnectionResetError(f"https://chat.invalid/bot{TOKEN}/sendMessage")

    put(logbook, message("n:1"))
    assert outbox.deliver(logbook, send, lambda: NOW, "a") == 1
    assert states(logbook) == {"n:1": "unknown"}
    assert TOKEN not in f"{error_of(logbook, 'n:1')}{caplog.text}"


def test_a_sender_that_dies_leaves_one_message_unclear_not_all(logbook: Logbook) -> None:
    def die(_claimed: Claimed) -> SendOutcome:
        raise SystemExit

    put(logbook, message("n:1", 5), message("n:2", 6), message("n:3", 7))
    with pytest.raises(SystemExit):
        outbox.deliver(logbook, die, lambda: NOW, "a")
    assert list(states(logbook).values()) == ["sending", "queued", "queued"]


# edits


def test_an_edit_replaces_the_message_that_was_sent(logbook: Logbook) -> None:
    put(logbook, message("n:1"), message("e:1", edits="n:1"), nudge_key="nudge")
    original = claim_one(logbook, NOW)
    assert claim(logbook, NOW + 2 * SECOND) == []  # not before there is something to edit
    outbox.finish(logbook, original, SENT, NOW)
    edit = claim_one(logbook, NOW + 2 * SECOND)
    assert (edit.key, edit.edits_message_id) == ("e:1", 100)
    outbox.finish(logbook, edit, UNKNOWN, NOW + 2 * SECOND)
    edit = claim_one(logbook, NOW + 10 * SECOND)  # the same edit twice does no harm, so it is tried until it is sure
    assert not edit.is_repeat
    outbox.finish(logbook, edit, SendOutcome(outcome=Outcome.SENT), NOW + 10 * SECOND)
    with logbook.begin() as c:
        assert lb.nudge_of_message(c, 5, 100) == "nudge"
        assert lb.nudge_of_message(c, 6, 100) is None
        assert [m.message_id for m in lb.messages_of_nudge(c, "nudge")] == [100]


def test_an_edit_waits_for_its_message_even_when_it_was_due_before_it(logbook: Logbook) -> None:
    put(logbook, message("n:1", due_utc=NOW + 9 * SECOND), message("e:1", edits="n:1"))
    assert claim(logbook, NOW) == []
    outbox.finish(logbook, claim_one(logbook, NOW + 9 * SECOND), SENT, NOW + 9 * SECOND)
    edit = claim_one(logbook, NOW + 11 * SECOND)
    assert (edit.key, edit.edits_message_id) == ("e:1", 100)


def test_an_edit_of_what_never_arrived_or_is_gone_is_a_new_message(logbook: Logbook) -> None:
    put(logbook, message("n:1"), message("e:1", edits="n:1"), message("n:2", 6), message("e:2", 6, edits="n:2"))
    for claimed in claim(logbook, NOW):
        outcome = SENT if claimed.key == "n:2" else SendOutcome(outcome=Outcome.REFUSED)
        outbox.finish(logbook, claimed, outcome, NOW)
    new, edit = claim(logbook, NOW + 2 * SECOND)
    assert (new.key, new.edits_message_id) == ("e:1", None)
    assert (edit.key, edit.edits_message_id) == ("e:2", 100)
    too_old = SendOutcome(outcome=Outcome.REFUSED, reason="message can't be edited")
    outbox.finish(logbook, edit, too_old, NOW + 2 * SECOND)
    assert [(m.key, m.edits_message_id) for m in claim(logbook, NOW + 4 * SECOND)] == [("e:2", None)]


def test_an_edit_whose_sender_died_is_made_again_unmarked(logbook: Logbook) -> None:
    put(logbook, message("n:1"), message("e:1", edits="n:1"))
    outbox.finish(logbook, claim_one(logbook, NOW), SENT, NOW)
    claim_one(logbook, NOW + 2 * SECOND)
    again = claim_one(logbook, NOW + 200 * SECOND)
    assert (again.key, again.is_repeat, again.edits_message_id) == ("e:1", False, 100)


# out of date


def test_an_outage_never_delivers_tonight_s_freeze_next_morning(logbook: Logbook) -> None:
    put(logbook, *(message(f"n:{i}") for i in range(3)))
    morning = NOW + timedelta(hours=15)
    (only,) = claim(logbook, morning)
    assert "out of date" in only.text  # three stale messages, one line
    assert only.silent
    assert list(states(logbook).values()) == ["dead", "dead", "dead", "sending"]
    assert error_of(logbook, "n:0") == "out of date before it could be sent"


def test_a_long_outage_leaves_one_line_not_one_an_evening(logbook: Logbook) -> None:
    for day in range(4):
        at = NOW + timedelta(days=day)
        put(logbook, message(f"n:{day}", due_utc=at, expires_utc=at + timedelta(hours=5)))
        for claimed in claim(logbook, at + timedelta(hours=6)):
            outbox.finish(logbook, claimed, SendOutcome(outcome=Outcome.NOT_SENT), at + timedelta(hours=6))
    assert list(states(logbook).values()).count("queued") == 1


def test_an_unknown_nudge_is_not_repeated_when_it_is_too_late(logbook: Logbook) -> None:
    put(logbook, message("n:1", on_unknown=OnUnknown.RESEND))
    claim_one(logbook, NOW)
    assert claim(logbook, NOW + timedelta(hours=6)) == []
    assert states(logbook) == {"n:1": "unknown"}


def test_who_closed_the_chat_is_not_told_what_was_missed(logbook: Logbook) -> None:
    put(logbook, message("n:1"))
    with logbook.begin() as c:
        lb.mark_unreachable(c, 5, NOW)
    assert claim(logbook, NOW + timedelta(hours=15)) == []
    assert states(logbook) == {"n:1": "dead"}


def test_the_caller_may_leave_the_catch_up_line_out(logbook: Logbook) -> None:
    put(logbook, message("n:1"))
    assert claim(logbook, NOW + timedelta(hours=15), catch_up=lambda _chat, _now: None) == []


# whatever happens

FAULTS = st.sampled_from([Outcome.SENT, Outcome.NOT_SENT, Outcome.UNKNOWN, Outcome.FORBIDDEN_TOKEN, None])


@given(faults=st.lists(st.tuples(FAULTS, st.booleans(), st.integers(0, 120)), max_size=25))
@settings(max_examples=10)  # thousand_kills and million_messages of the benchmarks prove it with many
def test_whatever_fails_a_nudge_arrives_and_any_second_time_is_marked(
    faults: list[tuple[Outcome | None, bool, int]],
) -> None:
    """None is a crash in mid-send; the flag says whether an unclear send had arrived."""
    logbook = open_logbook("sqlite://")
    put(logbook, message("n:1", expires_utc=NOW + timedelta(days=1), on_unknown=OnUnknown.RESEND))
    arrived: list[Claimed] = []
    at = NOW
    for outcome, unclear_arrived, wait_s in [*faults, (Outcome.SENT, True, 600), (Outcome.SENT, True, 600)]:
        at += wait_s * SECOND
        for claimed in claim(logbook, at):
            if outcome is Outcome.SENT or (outcome in (Outcome.UNKNOWN, None) and unclear_arrived):
                arrived.append(claimed)
            if outcome is not None:
                outbox.finish(logbook, claimed, SendOutcome(outcome=outcome, message_id=1), at)
    final = states(logbook)["n:1"]
    logbook.close()
    assert all(m.is_repeat for m in arrived[1:])
    assert len(arrived) <= 4
    assert arrived or final == "unknown"  # never lost without a trace
