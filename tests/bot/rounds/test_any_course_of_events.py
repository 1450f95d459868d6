"""Whatever happens in whatever order, on both databases: nothing lost, nothing twice, nothing after an answer.

People talk, tap and mend what they said; the clock strikes, jumps ahead and back; forecasts change and fail; sends
fail in every way; a second program works along; and the first dies before any statement it sends to the database. Two
gardens share the logbook, and neither ever hears a word of the other's.
"""

import gc
import json
import shutil
import tempfile
from collections import Counter
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule, run_state_machine_as_test

from bot import logbook as lb
from bot.forecasts import Transport, dump_forecast
from bot.hosting.many_gardens import Gardens
from bot.logbook import Logbook, open_logbook
from bot.logbook.database.tables import inbox, nudges, outbox, records
from bot.messages import IncomingKind
from bot.outbox import REPEAT_WORDS, Claimed, Outcome, SendOutcome, claim, finish, recover
from bot.rounds import Setting
from bot.rounds.inputs import quiet_of
from bot.settings import Service
from rules.garden.cover import CoverState
from rules.garden.records import Deed, DeedKind
from tests.bot.invented_gardens import Clock, cold_forecast, garden, said
from tests.bot.migrated import new_file
from tests.bot.talk import keep, read_said

START = datetime(2026, 12, 2, 18, tzinfo=UTC)  # 11:00 in both gardens
CHATS = {"Larkmoor": 11, "Heron Yard": 22}
TREES = {"Larkmoor": "Porch", "Heron Yard": "Gate"}
WORDS = (
    "wrapped {}", "closed {}", "vented {}", "done", "can't today", "later", "undo", "due", "why", "trees", "not done",
    "-6.5 at {}", "hello", "closed {} and also the moon", "",
)  # fmt: skip
FATES = (
    "sent", "lost without a word", "arrived without a word", "no connection", "refused", "killed before",
    "killed after", "asked to wait", "blocked", "heard of too late",
)  # fmt: skip
ARRIVED = ("sent", "arrived without a word", "killed after", "heard of too late")
OUTCOMES = {
    "sent": Outcome.SENT, "heard of too late": Outcome.SENT, "no connection": Outcome.NOT_SENT,
    "asked to wait": Outcome.NOT_SENT, "refused": Outcome.REFUSED, "blocked": Outcome.CHAT_GONE,
}  # fmt: skip
LONGER_THAN_A_LEASE = timedelta(seconds=120)


QUIET = quiet_of(garden("Larkmoor", "Porch fig"))


class KilledError(BaseException):
    """kill -9 as far as a transaction can tell: it never ends."""


class AnyCourse(RuleBasedStateMachine):
    """One deployment of two gardens, whose programs may die at any moment."""

    place: Callable[[], str]  # where the next logbook may lie; given by the test

    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp(prefix="course-"))
        self.url = type(self).place() or str(new_file(self.folder / "a.logbook"))
        self.clock = Clock(START)
        self.updates: dict[int, str] = {}
        self.arrived: list[tuple[str, str, int, bool]] = []  # key, text, chat, whether it was an edit
        self.after_answer: list[str] = []
        self.rang_at_night: list[str] = []
        self.out_of_date: list[str] = []
        self.births = 0
        self.fuse: int | None = None  # statements that are still sent before the program dies
        self.logbook: Logbook
        self.gardens: Gardens

    def burn(self, *_: object, **__: object) -> None:
        if self.fuse is None:
            return
        self.fuse -= 1
        if self.fuse < 0:
            self.fuse = None
            raise KilledError

    @initialize(low_c=st.sampled_from([-12.0, 2.0]))
    def begin(self, low_c: float) -> None:
        self.forecast(low_c)
        self.born()
        with self.logbook.begin() as c:
            for name, chat in CHATS.items():
                lb.note_person(c, name, chat, "Rowan", "owner")
                source = lb.Source(garden=name, person="Rowan", update_id=None, noted_utc=START)
                wrapped = Deed(tree=f"{TREES[name]} fig", kind=DeedKind.WRAPPED, state=CoverState.VENTED, at_utc=START)
                lb.note_entry(c, source, wrapped)
        with_it = open_logbook(self.url)
        self.other = Gardens(with_it, self.settings_on(with_it))
        self.gardens.tick(START)  # from here on there is something to ask for where it is cold

    def born(self) -> None:
        """A new process: nothing but the logbook is left of the old one."""
        self.births += 1
        self.who = f"program {self.births}"
        self.logbook = open_logbook(self.url)
        sa.event.listen(self.logbook._database, "before_cursor_execute", self.burn)
        sa.event.listen(self.logbook._database, "commit", self.burn)
        self.gardens = Gardens(self.logbook, self.settings_on(self.logbook))
        self.gardens.enrol(self.clock())
        recover(self.logbook, "door", self.clock())

    def settings_on(self, logbook: Logbook) -> dict[str, Setting]:
        transport = Transport(saved_path=self.folder / "forecast.json")
        made = {}
        for name, tree in TREES.items():
            one = garden(name, f"{tree} fig").model_copy(update={"services": (Service.SAVED,)})
            made[name] = Setting(garden=one, logbook=logbook, transport=transport, cell=f"garden {name}")
        return made

    # what may happen

    @rule(low_c=st.sampled_from([-15.0, -7.0, 3.0]))
    def forecast(self, low_c: float) -> None:
        (self.folder / "forecast.json").write_text(dump_forecast(cold_forecast(self.clock(), low_c)))

    @rule()
    def forecast_fails(self) -> None:
        (self.folder / "forecast.json").write_text('{"torn')

    @rule(name=st.sampled_from(sorted(CHATS)), words=st.sampled_from(WORDS))
    def says(self, name: str, words: str) -> None:
        self.hears(name, text=words.format(TREES[name].lower()))

    @rule(name=st.sampled_from(sorted(CHATS)), words=st.sampled_from(WORDS), back=st.integers(0, 3))
    def mends(self, name: str, words: str, back: int) -> None:
        """An earlier message, perhaps of the other chat, in other words."""
        text, earlier = words.format(TREES[name].lower()), max(1, len(self.updates) - back)
        self.hears(name, text=text, kind=IncomingKind.EDITED, message_id=earlier)

    @rule(name=st.sampled_from(sorted(CHATS)), whose=st.sampled_from(sorted(CHATS)), which=st.integers(0, 9))
    def taps(self, name: str, whose: str, which: int) -> None:
        """A button that is on the screen, or on that of the other garden."""
        shown = sa.select(outbox.c.buttons).where(outbox.c.chat_id == CHATS[whose], outbox.c.buttons != "[]")
        with self.logbook.begin() as c:
            buttons = [data for row in c.scalars(shown.order_by(outbox.c.id)) for _, data in json.loads(row)]
        if buttons:
            self.hears(name, kind=IncomingKind.TAP, button=buttons[-1 - which % len(buttons)])

    def hears(self, name: str, text: str = "", **more: Any) -> None:
        number = len(self.updates) + 1
        incoming = said(number, CHATS[name], text, self.clock(), **more)
        keep(self.logbook, incoming, self.clock())
        self.updates[number] = name

    @rule()
    def answers(self) -> None:
        self.gardens.take_pending(read_said, self.clock)

    @rule(hours=st.sampled_from([0, 0, 1, 3]))
    def strikes(self, hours: int) -> None:
        self.clock.pass_(timedelta(hours=hours))
        self.gardens.tick(self.clock())

    @rule()
    def another_program_works_along(self) -> None:
        self.other.take_pending(read_said, self.clock)
        self.other.tick(self.clock())

    @rule(work=st.sampled_from(["answers", "strikes", "sends"]), statements=st.integers(0, 60))
    def dies_in_the_middle(self, work: str, statements: int) -> None:
        """kill -9 before any statement, and before any commit."""
        self.fuse = statements
        try:
            match work:
                case "answers":
                    self.gardens.take_pending(read_said, self.clock)
                case "strikes":
                    self.clock.pass_(timedelta(hours=1))
                    self.gardens.tick(self.clock())
                case "sends":
                    self.send_all(["sent"] * 3)
        except KilledError:
            self.dies()
        self.fuse = None

    @rule()
    def dies(self) -> None:
        self.logbook.close()
        self.born()

    @rule(minutes=st.sampled_from([1, 10, 45, 180, 14 * 60, -24 * 60, 24 * 60]))
    def clock_moves(self, minutes: int) -> None:
        self.clock.pass_(timedelta(minutes=minutes))

    @rule(fates=st.lists(st.sampled_from(FATES), min_size=1, max_size=4))
    def sends(self, fates: list[str]) -> None:
        self.send_all(fates)

    def send_all(self, fates: list[str]) -> None:
        for fate in fates:
            batch = claim(self.logbook, self.clock(), 1, "door")
            if not batch:
                return
            self.sends_one(batch[0], fate)
            self.clock.pass_(timedelta(seconds=2))

    def sends_one(self, claimed: Claimed, fate: str) -> None:
        self.look_at(claimed)
        if fate in ARRIVED:
            edit = claimed.edits_message_id is not None
            self.arrived.append((claimed.key, claimed.text, claimed.chat_id, edit))
        if fate.startswith("killed"):
            self.dies()
            return
        if fate == "heard of too late":
            self.clock.pass_(LONGER_THAN_A_LEASE)
        wait = 7.0 if fate == "asked to wait" else None
        outcome = OUTCOMES.get(fate, Outcome.UNKNOWN)
        how = SendOutcome(outcome=outcome, message_id=len(self.arrived), reason=fate, retry_after_s=wait)
        finish(self.logbook, claimed, how, self.clock())

    def look_at(self, claimed: Claimed) -> None:
        """What must not be on its way."""
        with self.logbook.begin() as c:
            expires = c.scalar(sa.select(outbox.c.expires_utc).where(outbox.c.key == claimed.key))
            nudge = c.execute(sa.select(nudges).where(nudges.c.key == claimed.nudge_key)).first()
        if expires is None or expires <= self.clock():
            self.out_of_date.append(claimed.key)
        if nudge is None or claimed.edits_message_id is not None:
            return
        if not claimed.silent and QUIET.holds(self.clock()):
            self.rang_at_night.append(claimed.key)
        if nudge.ask and nudge.state == lb.NudgeState.ANSWERED.value:
            self.after_answer.append(claimed.key)

    # what must hold

    @invariant()
    def no_update_is_lost(self) -> None:
        if not hasattr(self, "logbook"):
            return
        with self.logbook.begin() as c:
            rows = {row.update_id: row.state for row in c.execute(sa.select(inbox.c.update_id, inbox.c.state))}
            keys = set(c.scalars(sa.select(outbox.c.key)))
        assert "failed" not in rows.values()
        for number in self.updates:  # what is no longer there was let go two days after its answer
            assert rows.get(number) == "pending" or f"reply:{number}:0" in keys

    @invariant()
    def nothing_comes_twice_unmarked(self) -> None:
        counted = Counter(key for key, text, _, edit in self.arrived if not edit and not text.startswith(REPEAT_WORDS))
        assert [key for key, count in counted.items() if count > 1] == []

    @invariant()
    def nothing_is_noted_twice(self) -> None:
        if not hasattr(self, "logbook"):
            return
        same = records.c.garden, records.c.update_id, records.c.kind, records.c.tree, records.c.what
        twice = sa.select(*same).where(records.c.update_id.is_not(None)).group_by(*same).having(sa.func.count() > 1)
        with self.logbook.begin() as c:
            assert c.execute(twice).all() == []

    @invariant()
    def nothing_comes_out_of_date(self) -> None:
        assert self.out_of_date == []

    @invariant()
    def nothing_comes_after_an_answer(self) -> None:
        assert self.after_answer == []

    @invariant()
    def nothing_rings_in_the_quiet_hours(self) -> None:
        assert self.rang_at_night == []

    @invariant()
    def no_garden_hears_another_s_words(self) -> None:
        for name, chat in CHATS.items():
            for other, tree in TREES.items():
                mine = [text for _, text, to, _ in self.arrived if to == chat]
                assert other == name or not [text for text in mine if tree in text or other in text]

    def teardown(self) -> None:
        """In the end, with everything well again, every update has been answered and nothing is stuck."""
        if hasattr(self, "logbook"):
            self.gardens.take_pending(read_said, self.clock)
            for _ in range(80):  # longer than the longest pause after failed sends
                batch = claim(self.logbook, self.clock(), 20, "door")
                self.clock.pass_(timedelta(seconds=10))
                for claimed in batch:
                    self.sends_one(claimed, "sent")
            with self.logbook.begin() as c:
                assert not c.scalar(sa.select(sa.func.count()).where(inbox.c.state == "pending"))
                reached = [chat for chat in CHATS.values() if lb.is_reachable(c, chat)]
                late = sa.and_(outbox.c.state.in_(["queued", "sending"]), outbox.c.due_utc <= self.clock())
                assert not list(c.scalars(sa.select(outbox.c.key).where(late, outbox.c.chat_id.in_(reached))))
            self.nothing_comes_twice_unmarked()
            self.nothing_comes_after_an_answer()
            self.logbook.close()
            self.other.logbook.close()
        shutil.rmtree(self.folder, ignore_errors=True)


FEW = settings(max_examples=2, stateful_step_count=20, deadline=None, suppress_health_check=list(HealthCheck))


def test_on_sqlite() -> None:
    machine = type("OnSqlite", (AnyCourse,), {"place": staticmethod(lambda: "")})
    run_state_machine_as_test(machine, settings=FEW)


@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")  # a killed program closes nothing
def test_on_postgresql(new_database: Callable[[], str]) -> None:
    machine = type("OnPostgresql", (AnyCourse,), {"place": staticmethod(new_database)})
    run_state_machine_as_test(machine, settings=FEW)
    gc.collect()  # what was left open ends here and in no other test
