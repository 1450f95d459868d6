"""The watch over one garden: ticks with the clock, answers what comes in. Its only memory is the logbook."""

import logging
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from functools import cache, partial
from threading import Lock
from typing import Final

from bot.answers.answering import answer
from bot.answers.exchange import ANSWER_LIVES, Exchange
from bot.answers.questions.calendar_file import calendar_of_facts
from bot.hosting.at_hand import AtHand
from bot.hosting.flood import unless_flooded
from bot.hosting.saturday_page import write_saturday_page
from bot.hosting.season_tables import keep_tables, read_tables
from bot.inbox import Parse, take
from bot.logbook import Connection, Door, KeptRecords, Logbook, LogbookError, Person, note_round
from bot.messages import Incoming, IncomingKind, Outgoing, in_words
from bot.rounds.deciding import first_due_utc, write_due
from bot.rounds.file_trouble import tell_of_trouble
from bot.rounds.garden_on_disk import GardenOnDisk, Home, home_folder
from bot.rounds.gathering import RECORDS_READ, RoundInputs, Setting, gather, next_ask_utc, refresh_forecast
from bot.rounds.inputs import inputs_of, style_of
from bot.rounds.job_facts import job_facts
from bot.rounds.jobs_news import write_jobs_news
from bot.rounds.kept_forecast import tells_the_same
from bot.rounds.learning.garden import Learner
from bot.rounds.past_winters import refresh_past_winters
from bot.settings import Garden
from bot.upkeep.alarm import note_round_ended
from bot.upkeep.housekeeping import keep_house
from bot.upkeep.soundness import Soundness
from bot.wording.document import outlook_document
from rules.garden.records import Records
from rules.jobs import GardenFacts
from rules.outlook.garden_outlook import Outlook, outlook_carried
from rules.outlook.inputs import Carried, OutlookInputs
from rules.outlook.little_things import LittleThing, little_things
from rules.outlook.restated import restated
from rules.plan.season.table import SeasonTable
from rules.wood.margins import TreeMargins

SOON: Final = timedelta(minutes=5)  # how late a nudge may be where many gardens are tended; no source
LOOK_EVERY: Final = timedelta(hours=12)  # the clock alone changes little between two forecasts; no source

log = logging.getLogger(__name__)


class Watch:
    """One garden's rounds and conversation.

    Keeps the last outlook only to spare its work: from the same logbook a new process comes to the same one.
    """

    def __init__(self, setting: Setting, good_for: timedelta = LOOK_EVERY) -> None:
        """`good_for` is how long an outlook serves for answers before it is asked whether a newer one is due."""
        self._setting = setting
        self._good_for = good_for
        self._at_hand = AtHand()
        self.logbook: Logbook = setting.logbook
        self._learner = Learner()
        self._records = KeptRecords()
        self._tables: dict[str, SeasonTable] | None = None
        self._round_inputs: RoundInputs | None = None
        self._seen: Outlook | None = None
        self._carried: Carried | None = None
        self._round_id: int | None = None
        self._on_disk = GardenOnDisk(setting.path) if setting.path else None
        self._soundness = Soundness()
        self._things: tuple[Carried | None, list[tuple[object, dict[str, list[LittleThing]]]]] = None, []
        self._is_forgotten = False
        self._changing = Lock()  # whoever takes a changed file: tick, answers, or somebody who asked for it
        self._looking = Lock()  # tick and answers have threads of their own; one look is enough for both

    @property
    def looked_utc(self) -> datetime | None:
        """When the outlook at hand was made; None where there is none yet."""
        return self._seen.now if self._seen is not None else None

    @property
    def garden(self) -> Garden | None:
        """The garden as its file had it last; None once it was deleted."""
        return None if self._is_forgotten else self._setting.garden

    def tick(self, now: datetime) -> None:
        """Look at the services if it is time, look ahead if something changed, and write what is due."""
        self._soundness.look(self._setting, now)
        self.ask_services(now)
        self.write(now)
        self.ask_winters(now)  # last: nothing waits for them

    def ask_services(self, now: datetime) -> None:
        """Ask for the weather if it is time: the part of a tick that waits for others, and reckons nothing."""
        if not self._is_forgotten:
            self.reread()
            self._tell_of_file(now)
            refresh_forecast(self._setting, now)

    def _tell_of_file(self, now: datetime) -> None:
        """Tell the owners of a garden file that cannot be used any more."""
        if self._on_disk is not None and self._on_disk.trouble:
            with self.logbook.begin() as c:
                tell_of_trouble(c, self._setting.garden.name, self._on_disk.trouble, now)
            self._on_disk.trouble = ""

    def ask_winters(self, now: datetime) -> None:
        """Ask for past winters if they are not known yet; waits for others too."""
        own = self._setting
        if not self._is_forgotten:
            refresh_past_winters(own.garden, self.logbook, own.transport, now, own.weather_of, own.weather_site)

    def write(self, now: datetime) -> None:
        """Look ahead if something changed, and write what is due."""
        if self._is_forgotten:
            return
        self.look(now)
        if self._seen is None:
            return
        with self.logbook.begin() as c:
            records = self._records.read(c, self._setting.garden.name, now - RECORDS_READ)
            seen = restated(self._seen, records, now)
            facts = cache(partial(self._job_facts, c, seen, records, now))
            things = partial(self._things_tonight, c, records, now)
            due = write_due(c, self._setting.garden, seen, records, self._round_id, now, facts, things)
            due += write_jobs_news(c, self._setting.garden, self._round_id, now, facts)
            note_round_ended(c, self._setting, now)
            for nudge in due:
                log.info("due: %s", nudge.key)
        write_saturday_page(self.logbook, self._setting.garden, self.exchange, now)
        keep_house(self.logbook, now)

    def next_tick_utc(self, now: datetime) -> datetime:
        """When a tick will have something to do again, if nobody says anything until then.

        For a deployment that can't tick every garden every half a minute: at the next look at the services, or when
        something falls due before it.
        """
        with self.logbook.begin() as c:
            until = max(next_ask_utc(c, self._setting, now), now + SOON)
            times = [now + SOON * step for step in range(1, int((until - now) / SOON) + 1)]
            if self._seen is None or self._round_inputs is None:
                return until
            due = first_due_utc(c, self._setting.garden, self._seen, self._round_inputs.records, times)
        return due or until

    def _job_facts(self, c: Connection, seen: Outlook, records: Records, now: datetime) -> GardenFacts:
        """What the year's jobs are reckoned from, on the inputs of the last look."""
        garden = self._setting.garden
        inputs = inputs_of(garden, self._round_inputs or self._gathered(c, now))
        return job_facts(c, garden, seen, inputs, records, now)

    def calendar(self, now: datetime) -> bytes | None:
        """The weeks ahead as the last outlook has them; None while there is none."""
        if self._seen is None or self._is_forgotten:
            return None
        garden = self._setting.garden
        with self.logbook.begin() as c:
            records = self._records.read(c, garden.name, now - RECORDS_READ)
            seen = restated(self._seen, records, now)
            return calendar_of_facts(garden, self._job_facts(c, seen, records, now), seen)

    def _inputs(self, c: Connection, now: datetime) -> OutlookInputs:
        """What the last look stood on."""
        found = inputs_of(self._setting.garden, self._round_inputs or self._gathered(c, now))
        return replace(found, carried=self._carried)

    def _little_things(
        self, inputs: OutlookInputs, trees: Sequence[TreeMargins], evening: date, now: datetime
    ) -> dict[str, list[LittleThing]]:
        """What little can still be done for some trees tonight; every tick asks again, and many an answer."""
        hour = now.replace(minute=0, second=0, microsecond=0)
        asked = [evening, hour, *((one.tree.name, one.state_assumed, one.cover) for one in trees)]
        if self._things[0] is not self._carried:
            self._things = self._carried, []
        found = next((things for before, things in self._things[1] if before == asked), None)
        if found is None:
            found = little_things(inputs, trees, evening, now)
            self._things[1].append((asked, found))
        return found

    def _things_tonight(
        self, c: Connection, records: Records, now: datetime, trees: Sequence[TreeMargins]
    ) -> dict[str, list[LittleThing]]:
        inputs = replace(self._inputs(c, now), records=records)
        return self._little_things(inputs, trees, style_of(self._setting.garden).evening(now), now)

    def take_pending(self, read: Parse, now: Callable[[], datetime], door: Door = Door.TELEGRAM) -> None:
        """Answer all that waits in the inbox of a door."""

        def answered(c: Connection, incoming: Incoming) -> list[Outgoing]:
            return answer(c, lambda person, came: self.exchange(c, person, came, now()), incoming)

        unless_many = unless_flooded(answered, read, now)
        while True:
            self.reread()  # between two answers: a file is never read while a transaction is open
            taken = take(self.logbook, unless_many, read, now, door=door, apology=apology, limit=1)
            if taken.done + taken.failed == 0:
                return

    def _outlook_for(self, update_id: int, now: datetime) -> Outlook | None:
        """The outlook an answer stands on; None where a look ahead made for it failed: then it says that we can't see.

        It is made first where it is missing or old, whatever was at hand when the update was looked for: meanwhile the
        garden file may have changed, or the update be another's, of whose garden this program has made no round.
        """
        seen = self._seen
        if self._is_forgotten or (seen is not None and timedelta(0) <= now - seen.now < self._good_for):
            return seen
        self._at_hand.made(update_id, "outlook", partial(self._look_if_possible, now))
        return self._seen

    def _look_anew(self, update_id: int, now: datetime) -> Outlook | None:
        """The outlook after what was said until now; made between two transactions, and only where something was."""
        self._at_hand.made(update_id, "outlook anew", partial(self._look_if_possible, now))
        return self._seen

    def _look_if_possible(self, now: datetime) -> None:
        try:
            self.reread()
            self.look(now)
        except LogbookError:
            raise
        except Exception as error:  # noqa: BLE001 - a fault in the outlook must not keep people from being heard
            words = in_words(error)
            log.error("no look ahead for %s: %s", self._setting.garden.name, words)  # noqa: TRY400 - once is enough

    def exchange(self, c: Connection, person: Person, incoming: Incoming, now: datetime) -> Exchange:
        """What is at hand to answer one person of this garden; raises NotAtHandError where that is too little."""
        seen = self._outlook_for(incoming.update_id, now)

        return Exchange(
            c=c,
            garden=self._setting.garden,
            person=person,
            incoming=incoming,
            now=_said_at(incoming, now),
            heard_utc=now,
            records=self._records.read(c, self._setting.garden.name, now - RECORDS_READ),
            kept_records=self._records,
            look=lambda: seen,
            inputs=partial(self._inputs, c, now),
            little_things=self._little_things,
            style=style_of(self._setting.garden),
            made=partial(self._at_hand.made, incoming.update_id),
            anew=partial(self._look_anew, incoming.update_id, now),
            home=self._home(),
            weather_of=self._setting.weather_of,
        )

    def _home(self) -> Home | None:
        path = self._setting.path
        if path is None:
            return None
        return Home(garden_file=path, folder=home_folder(self._setting, path), forget=self._forget,
                    bounds=self._setting.bounds)  # fmt: skip

    def reread(self) -> None:
        """Take the garden as its file has it now; what was seen ahead was seen for the old one."""
        with self._changing:
            changed = self._on_disk.changed(self._setting) if self._on_disk else None
            if changed is not None:
                self._setting = changed
                self._round_inputs = self._seen = self._carried = None

    def _forget(self) -> None:
        """No more rounds: the owner deleted the garden."""
        self._is_forgotten = True
        self._round_inputs = self._seen = self._carried = None

    def look(self, now: datetime) -> None:
        """A new outlook, kept with its numbers, where it rests on something new, or the time for an act has passed.

        The clock alone asks for one every twelve hours.

        Looking ahead takes a while, so no transaction is open meanwhile: the inbox must never wait for it.
        """
        with self._looking:
            self._look_alone(now)

    def _look_alone(self, now: datetime) -> None:
        setting = self._setting
        with self.logbook.begin() as c:
            self._records.keep(c, setting.garden.name, now - RECORDS_READ)
            round_inputs = self._gathered(c, now)
        if not self._is_stale(round_inputs, now) and self._round_inputs is not None:
            looked_at = self._round_inputs  # its word stays, so that many small changes add up
            self._round_inputs = replace(
                round_inputs, forecast=looked_at.forecast, forecast_id=looked_at.forecast_id
            )  # readings that taught nothing new are kept at hand
            return
        tables = self._kept_tables(setting.garden)
        inputs = replace(inputs_of(setting.garden, round_inputs), tables=tables)
        seen, carried = outlook_carried(inputs, now, self._carried)
        document = outlook_document(seen).model_dump_json()
        with self.logbook.begin() as c:
            round_id = note_round(c, setting.garden.name, now, round_inputs.forecast_id, document)
            keep_tables(c, setting.garden.name, tables, now)
        with self._changing:
            if setting is self._setting:  # else the file was changed meanwhile, and this was seen for the old garden
                self._round_inputs, self._seen, self._carried, self._round_id = round_inputs, seen, carried, round_id

    def _kept_tables(self, garden: Garden) -> dict[str, SeasonTable]:
        """What seasons past were worth to this garden's trees: read once, so that a new process need not reckon it."""
        if self._tables is None:
            with self.logbook.begin() as c:
                self._tables = read_tables(c, garden.name)
        return self._tables

    def _gathered(self, c: Connection, now: datetime) -> RoundInputs:
        return gather(c, self._setting.garden, now, self._setting.weather_of, self._learner, self._records)

    def _is_stale(self, round_inputs: RoundInputs, now: datetime) -> bool:
        if self._round_inputs is None or self._seen is None:
            return True
        before = self._round_inputs
        changed = _rests_on(self._setting.garden, round_inputs) != _rests_on(self._setting.garden, before)
        changed = changed or round_inputs.climate is not before.climate
        if round_inputs.forecast_id != before.forecast_id:
            changed = changed or not tells_the_same(round_inputs.forecast, before.forecast)
        missed = any(self._seen.now < act.by_utc <= now for act in self._seen.acts)  # what now, if it was not done?
        return changed or missed or not timedelta(0) <= now - self._seen.now < LOOK_EVERY


def _rests_on(garden: Garden, round_inputs: RoundInputs) -> tuple[object, ...]:
    """What a look ahead rests on; of readings what they taught, so that a sensor by day stirs nothing."""
    said = replace(round_inputs.records, readings=())
    taught = inputs_of(garden, round_inputs)
    covers = taught.covers_read
    return (
        said,
        round_inputs.away,
        taught.offsets,
        covers,
        taught.forecast_error,
        round_inputs.accepted,
    )


def _said_at(incoming: Incoming, now: datetime) -> datetime:
    """When it was said: "closed" typed at four and read at six was done at four. A tap carries no time of its own."""
    return now if incoming.kind is IncomingKind.TAP else min(incoming.at_utc, now)


def apology(_: Connection, incoming: Incoming) -> list[Outgoing]:
    """The answer to what we failed to take: never silence."""
    return [
        Outgoing(
            key=f"apology:{incoming.update_id}",
            chat_id=incoming.chat_id,
            text="Sorry, I stumbled over that and noted nothing. Please say it another way.",
            due_utc=incoming.at_utc,
            expires_utc=incoming.at_utc + ANSWER_LIVES,
        )
    ]
