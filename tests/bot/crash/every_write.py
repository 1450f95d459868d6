"""A simulated deployment that dies at every write and every send of a round, an answer and a send, by its seed.

Beside the kills of real processes: here each place where a program may die is died at, one after the other, and the
same seed dies the same deaths. A death before a statement, before a commit, before a message reached the messenger and
after it did are all there are as far as the logbook and the messenger can tell.
"""

import json
import random
from collections import Counter
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

import sqlalchemy as sa

from bot import logbook as lb
from bot.forecasts import Transport, dump_forecast
from bot.hosting.many_gardens import Gardens
from bot.logbook import open_logbook
from bot.logbook.database.tables import inbox, outbox, records
from bot.logbook.messages.unheard import HEAD
from bot.outbox import REPEAT_WORDS, Claimed, Outcome, SendOutcome, deliver, recover
from bot.rounds import Setting
from bot.settings import Service
from bot.upkeep.housekeeping import keep_house
from tests.bot.invented_gardens import Clock, cold_forecast, garden, said
from tests.bot.talk import keep, read_said

START = datetime(2026, 12, 2, 18, tzinfo=UTC)  # 11:00 in the garden
NAME, CHAT, TREE = "Larkmoor", 11, "Porch fig"
DEEDS = ("closed porch", "opened porch", "wrapped porch")
WORDS = (*DEEDS, "can't today", "-6.5 at porch", "undo", "why porch", "thanks")
MATTERS = ("Noted", "Already noted", "Undone", "All right")  # how answers begin that tell of something noted
WORKS = ("round", "answer", "send")
MOST_IN_A_ROW = 5  # deaths at one message: more than an answer is sent


class KilledError(BaseException):
    """kill -9 as far as a transaction can tell: it never ends."""


@dataclass
class Found:
    """What a course came to; `wrong` are sentences, and there should be none."""

    kills: int = 0
    said: int = 0
    told_late: int = 0
    wrong: list[str] = field(default_factory=list)


class Deployment:
    """One garden, one person, and programs that die one after the other."""

    def __init__(self, place: Path | str, folder: Path, seed: int) -> None:
        self.place, self.folder = place, folder
        self.chance = random.Random(seed)
        self.clock = Clock(START)
        self.fuse: int | None = None  # events until the program dies
        self.is_send_fatal = False  # dies before the next message arrives
        self.arrived: list[tuple[str, str, bool]] = []  # key, text, whether it was an edit
        self.found = Found()
        self._forecast(-9.0)
        self._born()
        with self.logbook.begin() as c:
            lb.note_person(c, NAME, CHAT, "Rowan", "owner")

    def _born(self) -> None:
        """A new process: nothing but the logbook is left of the old one."""
        self.logbook = open_logbook(self.place)
        sa.event.listen(self.logbook._database, "before_cursor_execute", self._burn)
        sa.event.listen(self.logbook._database, "commit", self._burn)
        one = garden(NAME, TREE).model_copy(update={"services": (Service.SAVED,)})
        transport = Transport(saved_path=self.folder / "forecast.json")
        setting = Setting(garden=one, logbook=self.logbook, transport=transport, cell="here")
        self.gardens = Gardens(self.logbook, {NAME: setting})
        self.gardens.enrol(self.clock())
        recover(self.logbook, "door", self.clock())

    def _burn(self, *_: object, **__: object) -> None:
        if self.fuse is None:
            return
        self.fuse -= 1
        if self.fuse < 0:
            self.fuse = None
            raise KilledError

    def _forecast(self, low_c: float) -> None:
        (self.folder / "forecast.json").write_text(dump_forecast(cold_forecast(self.clock(), low_c)))

    def run(self, stride: int) -> Found:
        """Die at each event of each kind of work in turn, then be well again, and tell what came of it.

        With a `stride` above 1 some events are passed over, by chance.
        """
        for work in WORKS:
            events = self.chance.randrange(stride)
            while self._dies(work, events):
                for _ in range(self.chance.choice((0, 0, 1, MOST_IN_A_ROW)) if work == "send" else 0):
                    self.is_send_fatal = True  # at the same message, again and again
                    self._work("send")
                if self.chance.random() < 0.5:  # else people go on talking, and nothing reaches them
                    self._work("answer")
                    self._work("send")
                events += self.chance.randint(1, stride)
        self._is_well_again()
        self.logbook.close()
        return self.found

    def _dies(self, work: str, events: int) -> bool:
        """Whether the program died after so many events of its work, and another one took its place."""
        self.clock.pass_(timedelta(minutes=self.chance.choice((5, 40, 180))))
        if work == "round":
            self._forecast(self.chance.choice((-15.0, -9.0, 3.0)))
        else:
            self.says(self.chance.choice(WORDS))
        if work == "send":
            self._work("answer")
        died = self._work(work, events)
        if not died:
            self._work("send")
        return died

    def _work(self, work: str, events: int | None = None) -> bool:
        self.fuse = events
        try:
            match work:
                case "round":
                    self._round(self.clock())
                case "answer":
                    self.gardens.take_pending(read_said, self.clock)
                case _:
                    deliver(self.logbook, self._send, self._later, "door", limit=50)
        except KilledError:
            self.found.kills += 1
            self.logbook.close()
            self._born()
            return True
        finally:
            self.fuse, self.is_send_fatal = None, False
        return False

    def _round(self, now: datetime) -> None:
        keep_house(self.logbook, now)
        self.gardens.tick(now)

    def _send(self, claimed: Claimed) -> SendOutcome:
        self._burn()
        if self.is_send_fatal:
            raise KilledError
        self.arrived.append((claimed.key, claimed.text, claimed.edits_message_id is not None))
        self._burn()  # it arrived, and the program dies before it is told so
        return SendOutcome(outcome=Outcome.SENT, message_id=claimed.edits_message_id or claimed.row_id)

    def _later(self) -> datetime:
        self.clock.pass_(timedelta(seconds=2))  # the outbox paces a chat
        return self.clock()

    def says(self, words: str) -> None:
        """Rowan sends something; the messenger hands it over once it is stored."""
        self.found.said += 1
        incoming = said(self.found.said, CHAT, words, self.clock())
        keep(self.logbook, incoming, self.clock())

    def _is_well_again(self) -> None:
        """A last word as a sign of life, all of it answered and sent; then what must hold is looked at."""
        self._work("answer")
        self.clock.pass_(timedelta(minutes=10))
        self._work("send")
        self.says("thanks")
        self._work("answer")
        for _ in range(20):  # what was given up is told in as many messages as it takes
            self._work("send")
        with self.logbook.begin() as c:
            self._look_at_answers(c)
            self._look_at_records(c)
        twice = Counter(key for key, text, edit in self.arrived if not edit and not text.startswith(REPEAT_WORDS))
        self.found.wrong += [f"{key} came {n} times unmarked" for key, n in twice.items() if n > 1]

    def _look_at_answers(self, c: sa.Connection) -> None:
        pending = c.scalar(sa.select(sa.func.count()).where(inbox.c.state != "done"))
        self.found.wrong += [f"{pending} updates are not answered"] if pending else []
        came = {key for key, _, _ in self.arrived}
        late = "\n".join(text for _, text, _ in self.arrived if HEAD.strip() in text)
        for row in c.execute(sa.select(outbox).where(outbox.c.key.startswith("reply:"))):
            if row.key in came or not row.text.startswith(MATTERS):
                continue
            if row.text in late:
                self.found.told_late += 1
            else:
                self.found.wrong.append(f"{row.key} was never heard: {row.text}")

    def _look_at_records(self, c: sa.Connection) -> None:
        same = records.c.update_id, records.c.kind, records.c.tree, records.c.what
        twice = c.execute(sa.select(*same).group_by(*same).having(sa.func.count() > 1)).all()
        self.found.wrong += [f"noted twice: {row}" for row in twice]
        answers = dict(c.execute(sa.select(outbox.c.key, outbox.c.text).where(outbox.c.key.startswith("reply:"))).all())
        noted = set(c.scalars(sa.select(records.c.update_id).where(records.c.kind == "deed")))
        for update_id, raw in c.execute(sa.select(inbox.c.update_id, inbox.c.raw)):
            answer = answers.get(f"reply:{update_id}:0", "")
            if json.loads(raw)["text"] in DEEDS and not answer.startswith("Already noted") and update_id not in noted:
                self.found.wrong.append(f"update {update_id} was lost: {raw}")


def course(place: Path | str, folder: Path, seed: int, stride: int = 1) -> Found:
    """What a course of this seed comes to, in a new logbook at `place`; its forecasts lie in `folder`."""
    return Deployment(place, folder, seed).run(stride)
