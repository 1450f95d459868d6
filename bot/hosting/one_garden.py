"""The watch over one garden: ticks with the clock, answers what comes in. Its only memory is the logbook."""

import logging
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from functools import cache, partial
from threading import Lock
from typing import Final

from bot.answers.answering import answer
from bot.answers.exchange import ANSWER_LIVES, Exchange
from bot.answers.flood import unless_flooded
from bot.answers.garden_file.tending import TOLD_PRICES
from bot.answers.questions.calendar_file import calendar_of_facts
from bot.hosting.at_hand import AtHand
from bot.hosting.looking_ahead import LOOK_EVERY, LookAhead
from bot.hosting.saturday_page import write_saturday_page
from bot.inbox import Parse, take
from bot.logbook import Connection, Door, Logbook, LogbookError, Person
from bot.messages import Incoming, IncomingKind, Outgoing, in_words
from bot.replies import get_ready
from bot.rounds.deciding import first_due_utc, write_due
from bot.rounds.file_trouble import tell_of_trouble
from bot.rounds.garden_on_disk import GardenOnDisk, Home, home_folder
from bot.rounds.inputs import style_of
from bot.rounds.jobs_news import write_jobs_news
from bot.rounds.setting import Setting
from bot.rounds.weather.asking import next_ask_utc, refresh_forecast
from bot.rounds.weather.past_winters import refresh_past_winters
from bot.settings import Garden
from bot.upkeep.alarm import note_round_ended
from bot.upkeep.housekeeping import keep_house
from bot.upkeep.soundness import Soundness
from bot.wording.people.tending import price_line
from rules.garden.records import Records
from rules.garden.tree import Tending
from rules.outlook.garden_outlook import Outlook
from rules.outlook.little_things import LittleThing
from rules.outlook.restated import restated
from rules.plan.grower.way_price import own_way_price
from rules.wood.margins import TreeMargins

SOON: Final = timedelta(minutes=5)  # how late a nudge may be where many gardens are tended; no source

log = logging.getLogger(__name__)


class Watch:
    """One garden's rounds and conversation."""

    def __init__(self, setting: Setting, good_for: timedelta = LOOK_EVERY) -> None:
        """`good_for` is how long an outlook serves for answers before it is asked whether a newer one is due."""
        self.ahead = LookAhead(setting)
        self.logbook: Logbook = setting.logbook
        self._good_for = good_for
        self._at_hand = AtHand()
        self._on_disk = GardenOnDisk(setting.path) if setting.path else None
        self._soundness = Soundness()
        self._is_forgotten = False
        get_ready()
        self._rereading = Lock()  # whoever takes a changed file: tick, answers, or somebody who asked for it

    @property
    def setting(self) -> Setting:
        """What it stands on, as the garden file had it last."""
        return self.ahead.setting

    @property
    def looked_utc(self) -> datetime | None:
        """When the outlook at hand was made; None where there is none yet."""
        return self.ahead.seen.now if self.ahead.seen is not None else None

    @property
    def garden(self) -> Garden | None:
        """The garden as its file had it last; None once it was deleted."""
        return None if self._is_forgotten else self.setting.garden

    def tick(self, now: datetime) -> None:
        """Look at the services if it is time, look ahead if something changed, and write what is due."""
        self._soundness.look(self.setting, now)
        self.ask_services(now)
        self.write(now)
        self.ask_winters(now)  # last: nothing waits for them

    def ask_services(self, now: datetime) -> None:
        """Ask for the weather if it is time: the part of a tick that waits for others, and reckons nothing."""
        if not self._is_forgotten:
            self.reread()
            self._tell_of_file(now)
            refresh_forecast(self.setting, now)

    def _tell_of_file(self, now: datetime) -> None:
        """Tell the owners of a garden file that cannot be used any more."""
        if self._on_disk is not None and self._on_disk.trouble:
            with self.logbook.begin() as c:
                tell_of_trouble(c, self.setting.garden.name, self._on_disk.trouble, now)
            self._on_disk.trouble = ""

    def ask_winters(self, now: datetime) -> None:
        """Ask for past winters if they are not known yet; waits for others too."""
        own = self.setting
        if not self._is_forgotten:
            refresh_past_winters(own.garden, self.logbook, own.transport, now, own.weather_of, own.weather_site)

    def write(self, now: datetime) -> None:
        """Look ahead if something changed, and write what is due."""
        if self._is_forgotten:
            return
        self.ahead.look(now)
        if self.ahead.seen is None:
            return
        with self.logbook.begin() as c:
            records = self.ahead.records(c, now)
            seen = restated(self.ahead.seen, records, now)
            facts = cache(partial(self.ahead.job_facts, c, seen, records, now))
            things = partial(self._things_tonight, c, records, now)
            prices, round_id = partial(self._way_prices, c, now), self.ahead.round_id
            due = write_due(c, self.setting.garden, seen, records, round_id, now, facts, things, prices)
            due += write_jobs_news(c, self.setting.garden, self.ahead.round_id, now, facts)
            note_round_ended(c, self.setting, now)
            for nudge in due:
                log.info("due: %s", nudge.key)
        write_saturday_page(self.logbook, self.setting.garden, self.exchange, now)
        keep_house(self.logbook, now)

    def next_tick_utc(self, now: datetime) -> datetime:
        """When a tick will have something to do again, if nobody says anything until then.

        For a deployment that can't tick every garden every half a minute: at the next look at the services, or when
        something falls due before it.
        """
        with self.logbook.begin() as c:
            until = max(next_ask_utc(c, self.setting, now), now + SOON)
            times = [now + SOON * step for step in range(1, int((until - now) / SOON) + 1)]
            if self.ahead.seen is None or self.ahead.round_inputs is None:
                return until
            due = first_due_utc(c, self.setting.garden, self.ahead.seen, self.ahead.round_inputs.records, times)
        return due or until

    def calendar(self, now: datetime) -> bytes | None:
        """The weeks ahead as the last outlook has them; None while there is none."""
        if self.ahead.seen is None or self._is_forgotten:
            return None
        garden = self.setting.garden
        with self.logbook.begin() as c:
            records = self.ahead.records(c, now)
            seen = restated(self.ahead.seen, records, now)
            return calendar_of_facts(garden, self.ahead.job_facts(c, seen, records, now), seen)

    def _things_tonight(
        self, c: Connection, records: Records, now: datetime, trees: Sequence[TreeMargins]
    ) -> dict[str, list[LittleThing]]:
        inputs = replace(self.ahead.inputs(c, now), records=records)
        return self.ahead.little_things(inputs, trees, style_of(self.setting.garden).evening(now), now)

    def _way_prices(self, c: Connection, now: datetime, tending: Tending, trees: Sequence[str]) -> list[str]:
        """What a way of tending costs some trees more, a line each; none while past winters are not known."""
        garden, climate = self.setting.garden, self.ahead.inputs(c, now).climate
        today = now.astimezone(garden.site.zone).date()
        asked = [tree for tree in garden.trees if tree.name in trees and tree.cover][:TOLD_PRICES]
        found = [
            (tree, own_way_price(tree, garden.covers[tree.cover], garden.site, climate, today, tending, garden.free))
            for tree in asked if tree.cover
        ]  # fmt: skip
        return [line for tree, price in found if (line := price_line(tree.name, price))]

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
        seen = self.ahead.seen
        if self._is_forgotten or (seen is not None and timedelta(0) <= now - seen.now < self._good_for):
            return seen
        self._at_hand.made(update_id, "outlook", partial(self._look_if_possible, now))
        return self.ahead.seen

    def _look_anew(self, update_id: int, now: datetime) -> Outlook | None:
        """The outlook after what was said until now; made between two transactions, and only where something was."""
        self._at_hand.made(update_id, "outlook anew", partial(self._look_if_possible, now))
        return self.ahead.seen

    def _look_if_possible(self, now: datetime) -> None:
        try:
            self.reread()
            self.ahead.look(now)
        except LogbookError:
            raise
        except Exception as error:  # noqa: BLE001 - a fault in the outlook must not keep people from being heard
            words = in_words(error)
            log.error("no look ahead for %s: %s", self.setting.garden.name, words)  # noqa: TRY400 - once is enough

    def exchange(self, c: Connection, person: Person, incoming: Incoming, now: datetime) -> Exchange:
        """What is at hand to answer one person of this garden; raises NotAtHandError where that is too little."""
        seen = self._outlook_for(incoming.update_id, now)

        return Exchange(
            c=c,
            garden=self.setting.garden,
            person=person,
            incoming=incoming,
            now=_said_at(incoming, now),
            heard_utc=now,
            records=self.ahead.records(c, now),
            kept_records=self.ahead.kept_records,
            look=lambda: seen,
            inputs=partial(self.ahead.inputs, c, now),
            little_things=self.ahead.little_things,
            style=style_of(self.setting.garden),
            made=partial(self._at_hand.made, incoming.update_id),
            anew=partial(self._look_anew, incoming.update_id, now),
            home=self._home(),
            weather_of=self.setting.weather_of,
        )

    def _home(self) -> Home | None:
        path = self.setting.path
        if path is None:
            return None
        return Home(garden_file=path, folder=home_folder(self.setting, path), forget=self._forget,
                    bounds=self.setting.bounds)  # fmt: skip

    def reread(self) -> None:
        """Take the garden as its file has it now; what was seen ahead was seen for the old one."""
        with self._rereading:
            changed = self._on_disk.changed(self.setting) if self._on_disk else None
            if changed is not None:
                self.ahead.begin_anew(changed)

    def _forget(self) -> None:
        """No more rounds: the owner deleted the garden."""
        self._is_forgotten = True
        self.ahead.begin_anew(self.setting)


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
