"""Many gardens behind one door: each update goes to the garden of its chat, each garden has its turn."""

import logging
import time
from collections import OrderedDict
from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from threading import Lock, get_ident
from typing import Final
from uuid import uuid4

from bot.answers.answering import answer
from bot.answers.exchange import ANSWER_LIVES, Exchange
from bot.answers.flood import unless_flooded
from bot.hosting.beginnings import Beginnings, FileOfBeginning
from bot.hosting.one_garden import Watch, apology
from bot.inbox import Parse, take
from bot.logbook import Connection, Door, Logbook, LogbookError, Person, garden_of_chat, last_round
from bot.logbook.programs.turns import ask_for_round, cells_due, end_turn, enrol, gardens_due
from bot.messages import Incoming, Outgoing, in_words
from bot.rounds.setting import Setting
from bot.upkeep.alarm import tell_of_silence

AFTER_TROUBLE: Final = timedelta(minutes=10)  # as after a failed look at the services; no source
GOOD_FOR: Final = timedelta(hours=1)  # another program may have had this garden's turns since; no source
WARM: Final = 500  # outlooks kept in memory, of the gardens looked at or talked to last

NEW: Final = (
    "You are let in. I have only just heard of this garden and begin to look after it within a minute or two: "
    "please say that again then. Nothing is noted yet."
)
GONE: Final = "This garden is not looked after here any more. Ask whoever runs this bot."

log = logging.getLogger(__name__)


class GardenGoneError(Exception):
    """A person whose garden is no longer among ours."""


class Gardens:
    """The conversation and the rounds of many gardens in one logbook; any number of programs may share it.

    `settings` are the gardens by name. Nothing of one garden is ever read for another: every question to the logbook
    names the garden, and the garden of an update is that of its chat. Cells may have their turns in several threads,
    so that none waits for the weather of another; they reckon one after the other.
    """

    def __init__(self, logbook: Logbook, settings: Mapping[str, Setting], warm: int = WARM) -> None:
        self.logbook = logbook
        self._settings = dict(settings)
        self._known = set(settings)  # all there ever were since the start
        self._warm = warm
        self.program = uuid4().hex[:12]  # by which others know whose outlooks are kept here
        self._watches: OrderedDict[str, Watch] = OrderedDict()
        self._picking = Lock()  # turns and answers have threads of their own
        self._reckoning = Lock()  # side by side they would take more memory and no less time
        self._beginnings: Beginnings | None = None
        self._begun_s: dict[int, float] = {}  # turns under way, by the thread's number

    def setting_of(self, garden: str) -> Setting | None:
        """What a garden's rounds stand on; None for one that is not among ours."""
        return self._settings.get(garden)

    def begin_with(self, beginnings: Beginnings) -> None:
        """Let whoever is invited begin a garden here."""
        self._beginnings = beginnings

    def beginning_of(self, garden: str) -> FileOfBeginning | None:
        """What is to be fetched for a garden that has not begun; None for any other."""
        return self._beginnings.shelf_of(garden) if self._beginnings else None

    def enrol(self, now: datetime) -> None:
        """Give every garden its turn, and take it from those that are gone."""
        with self.logbook.begin() as c:
            enrol(c, {name: setting.cell for name, setting in self._settings.items()}, now)

    def change(self, settings: Mapping[str, Setting], now: datetime) -> None:
        """Go on with these gardens: new ones, changed ones, and without those that are not among them."""
        changed = {name for name, setting in settings.items() if self._settings.get(name) != setting}
        with self._picking:
            self._settings = dict(settings)
            self._known |= set(settings)
            for name in [name for name in self._watches if name in changed or name not in settings]:
                del self._watches[name]
        self.enrol(now)

    def tick(self, now: datetime) -> None:
        """The rounds of all that is due, one cell after the other: the way where no queue hands them out."""
        with self.logbook.begin() as c:
            cells = cells_due(c, now)
        for cell in cells:
            self.have_turn(cell, now)

    @property
    def slowest_turn_s(self) -> float:
        """How long the longest turn under way has taken so far [s]; 0 where there is none."""
        begun_s = list(self._begun_s.values())
        return time.monotonic() - min(begun_s) if begun_s else 0.0

    def tell_of_silence(self, now: datetime) -> None:
        """Tell the owners of the gardens whose rounds have stopped."""
        for setting in list(self._settings.values()):
            self._tell_of_silence(setting, now)

    def _tell_of_silence(self, setting: Setting, now: datetime) -> None:
        """One garden's owners told, whatever is the matter with another's."""
        try:
            with self.logbook.begin() as c:
                told = tell_of_silence(c, setting, now)
        except Exception as error:  # noqa: BLE001 - what the logbook holds of one garden must not silence the others
            words = in_words(error)
            log.error("the owners of %s can't be told: %s", setting.garden.name, words)  # noqa: TRY400
        else:
            if told:
                log.warning("told the owners of %s that the rounds have stopped", setting.garden.name)

    def have_turn(self, cell: str, now: datetime) -> None:
        """The rounds of those gardens of a weather cell that are due; which program has it, is seen to by the queue."""
        with self.logbook.begin() as c:
            due = gardens_due(c, cell, now)
        self._begun_s[get_ident()] = time.monotonic()
        try:
            for garden, since_utc in due.items():
                self._have_round(garden, since_utc, now)
        finally:
            del self._begun_s[get_ident()]

    def _have_round(self, garden: str, since_utc: datetime, now: datetime) -> None:
        due: list[datetime] = []
        self._alone(garden, "round", lambda watch: due.append(self._ticked(watch, now)))
        with self.logbook.begin() as c:
            end_turn(c, garden, since_utc, due[0] if due else now + AFTER_TROUBLE, self.program)
        if not due and garden in self._settings:  # only this garden's rounds fail: no watchdog sees it
            self._tell_of_silence(self._settings[garden], now)

    def _ticked(self, watch: Watch, now: datetime) -> datetime:
        """When the next turn is due."""
        watch.ask_services(now)
        with self._reckoning:
            watch.write(now)
        watch.ask_winters(now)
        return watch.next_tick_utc(now)

    def _alone(self, garden: str, what: str, work: Callable[[Watch], None]) -> None:
        """Work for one garden; what goes wrong in it is told in the log and holds up no other garden."""
        try:
            work(self._watch(garden))
        except (LogbookError, GardenGoneError) as error:
            log.warning("no %s for %s: %s", what, garden, error)
        except Exception as error:  # noqa: BLE001 - a fault in one garden must not keep the others from their rounds
            words = in_words(error)
            log.error("the %s of %s failed: %s", what, garden, words)  # noqa: TRY400 - a fault told once is enough

    def take_pending(self, read: Parse, now: Callable[[], datetime], door: Door = Door.TELEGRAM) -> None:
        """Answer all that waits in the inbox, each update in its own garden."""
        take(self.logbook, unless_flooded(self._answer(now), read, now), read, now, door=door, apology=apology)

    def _answer(self, now: Callable[[], datetime]) -> Callable[[Connection, Incoming], list[Outgoing]]:
        def exchange(c: Connection, person: Person, incoming: Incoming) -> Exchange:
            ask_for_round(c, person.garden, now())
            return self._watch(person.garden).exchange(c, person, incoming, now())

        def answered(c: Connection, incoming: Incoming) -> list[Outgoing]:
            try:
                return answer(c, lambda person, came: exchange(c, person, came), incoming)
            except GardenGoneError:
                if (begins := self._begins(c, incoming, now())) is not None:
                    return begins
                return [_new(incoming, now()) if self._is_new(c, incoming.chat_id) else _gone(incoming, now())]

        return answered

    def _begins(self, c: Connection, incoming: Incoming, now: datetime) -> list[Outgoing] | None:
        person = garden_of_chat(c, incoming.chat_id)
        return self._beginnings.answers(c, person, incoming, now) if person and self._beginnings else None

    def _is_new(self, c: Connection, chat_id: int) -> bool:
        """Whether this chat's garden was never looked after: somebody is quicker than our reading of the files."""
        person = garden_of_chat(c, chat_id)  # perhaps let in just now
        is_known = person is None or person.garden in self._known or last_round(c, person.garden) is not None
        return not is_known

    def _watch(self, garden: str) -> Watch:
        with self._picking:
            if garden not in self._settings:
                raise GardenGoneError(f"there is no garden file for {garden}")
            watch = self._watches.pop(garden, None) or Watch(self._settings[garden], GOOD_FOR)
            self._watches[garden] = watch  # the newest is last
            while len(self._watches) > self._warm:
                self._watches.popitem(last=False)
            return watch


def _new(incoming: Incoming, now: datetime) -> Outgoing:
    key = f"new:{incoming.update_id}"
    return Outgoing(key=key, chat_id=incoming.chat_id, text=NEW, due_utc=now, expires_utc=now + ANSWER_LIVES)


def _gone(incoming: Incoming, now: datetime) -> Outgoing:
    key = f"gone:{incoming.chat_id}:{now:%Y-%m-%d}"
    return Outgoing(key=key, chat_id=incoming.chat_id, text=GONE, due_utc=now, expires_utc=now + ANSWER_LIVES)
