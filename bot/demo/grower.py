"""An invented grower: does most of what is asked within hours, now and then can't, is late, forgets or misspells."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

import numpy as np

from bot.answers.season.job_marks import jobs_of
from bot.logbook import Logbook, Nudge, messages_of_nudge, open_nudges
from bot.nudges import Stage
from bot.settings import Garden
from rules.garden.records import DeedKind
from rules.jobs import JobKind

SAYS: Final = {
    DeedKind.WRAPPED: ("wrapped {}", "wraped {}", "did the wrapping on {}"),
    DeedKind.CLOSED: ("closed {}", "closd {}", "shut {}"),
    DeedKind.VENTED: ("opened {}", "opend {}", "vented {}"),
    DeedKind.STRIPPED: ("stripped {}", "striped {}", "took the covers off {}"),
    DeedKind.BLANKETED: ("blanket over {}", "blanket on {}", "put a sheet over {}"),
}
SAYS_OF_JOBS: Final = {
    JobKind.TAPER: "stopped feeding",
    JobKind.CHECK_SUPPLIES: "bought the straw and film",
    JobKind.LOCATE_LINES: "called 811",
    JobKind.TAKE_CUTTINGS: "cuttings taken",
    JobKind.TIE_BRANCHES: "tied in the branches",
    JobKind.FILL: "topped up the straw",
    JobKind.CHECK_STRAPS: "straps are fine",
    JobKind.WATER: "watered",
    JobKind.LOOK_FOR_VOLES: "no sign of voles",
    JobKind.DRY_AND_STORE: "dried and stored the covers",
    JobKind.MULCH: "mulched",
    JobKind.SCRATCH_TEST: "scratched the bark",
}


@dataclass(frozen=True, kw_only=True, order=True)
class Line:
    """One thing the invented grower says."""

    at: datetime
    text: str


class InventedGrower:
    """Reads what is open after each look, and makes up what to say of it and when."""

    def __init__(self, garden: Garden, logbook: Logbook, chance: np.random.Generator) -> None:
        self._garden = garden
        self._logbook = logbook
        self._chance = chance
        self._read: set[str] = set()

    def lines(self, now: datetime) -> list[Line]:
        """What the nudges that are new will make the grower say; nothing for many."""
        with self._logbook.begin() as c:
            fresh = [nudge for nudge in open_nudges(c, self._garden.name) if nudge.key not in self._read]
            shown = {nudge.key: _number(messages_of_nudge(c, nudge.key)) for nudge in fresh}
        self._read |= set(shown)
        return [line for nudge in fresh for line in self._lines_of(nudge, shown[nudge.key], now)]

    def _lines_of(self, nudge: Nudge, number: int | None, now: datetime) -> list[Line]:
        if nudge.stage == Stage.JOBS:
            return self._of_jobs(nudge, number, now)
        if nudge.stage == Stage.HEADS_UP or not nudge.ask:
            return []
        if nudge.trees == ("Olive",) and self._chance.random() < 0.7:
            return [Line(at=self._soon(now, nudge.expires_utc), text="can't do the olive")]
        return self._of_ask(nudge, now)

    def _of_ask(self, nudge: Nudge, now: datetime) -> list[Line]:
        roll, at = self._chance.random(), self._soon(now, nudge.expires_utc)
        verb, trees = DeedKind(nudge.ask), _spoken(self._garden, nudge.trees)
        if roll < 0.74:
            return [Line(at=at, text=self._said(verb).format(trees))]
        if roll < 0.82:
            return [Line(at=at, text="can't today")]
        if roll < 0.92:
            local = nudge.expires_utc.astimezone(self._garden.site.zone)
            late = (local + timedelta(days=1)).replace(hour=7, minute=50)
            return [Line(at=late, text=f"{SAYS[verb][0].format(trees)} yesterday at {local.hour}")]
        return []

    def _said(self, verb: DeedKind) -> str:
        return SAYS[verb][int(self._chance.choice(3, p=(0.8, 0.1, 0.1)))]

    def _of_jobs(self, nudge: Nudge, number: int | None, now: datetime) -> list[Line]:
        jobs = jobs_of(nudge)
        if len(jobs) == 1 and number is not None and self._chance.random() < 0.5:
            word = str(self._chance.choice(["done", "later", "skip"], p=(0.7, 0.2, 0.1)))
            return [Line(at=self._days_on(now), text=f"re {number} {word}")]
        told = [self._said_of_job(kind, trees) for kind, trees in jobs]
        return [Line(at=self._days_on(now), text=text) for text in dict.fromkeys(told) if text]

    def _said_of_job(self, kind: JobKind, trees: Sequence[str]) -> str:
        """What is said of a job once done; empty for one that is left undone, or not spoken of."""
        if kind is JobKind.STRIP:
            return f"stripped {_spoken(self._garden, trees)}" if self._chance.random() < 0.9 else ""
        return SAYS_OF_JOBS.get(kind, "") if self._chance.random() < 0.6 else ""

    def _soon(self, now: datetime, until: datetime) -> datetime:
        """Some hours on, before it is too late; whole minutes."""
        latest = max(now + timedelta(minutes=2), until - timedelta(minutes=5))
        wished = now + timedelta(minutes=int(self._chance.integers(5, 240)))
        return min(wished, latest).replace(second=0)

    def _days_on(self, now: datetime) -> datetime:
        local = (now + timedelta(days=int(self._chance.integers(0, 4)))).astimezone(self._garden.site.zone)
        return max(now + timedelta(minutes=5), local.replace(hour=17, minute=int(self._chance.integers(0, 60))))


def _number(messages: Sequence[object]) -> int | None:
    return next((getattr(one, "message_id", None) for one in messages), None)


def _spoken(garden: Garden, names: Iterable[str]) -> str:
    short = {tree.name: (tree.short_names or (tree.name.lower(),))[0] for tree in garden.trees}
    *most, last = [short[name] for name in names]
    return f"{', '.join(most)} and {last}" if most else last
