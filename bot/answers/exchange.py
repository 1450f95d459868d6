"""What is at hand while one reply is answered, and what a reply is read against."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from functools import cached_property
from typing import Any, Final

from bot.answers.dialogues import Chat
from bot.logbook import (
    Connection,
    KeptRecords,
    Nudge,
    Person,
    nudge_by_id,
    nudge_by_key,
    nudge_of_message,
    open_nudges,
)
from bot.messages import Button, Incoming
from bot.replies import Context, OpenAsk, TreeName, Verb, button_data
from bot.rounds.garden_on_disk import Home
from bot.rounds.gathering import RECORDS_READ
from bot.settings import Garden
from bot.wording.covers.words import Covers
from bot.wording.formats import Style
from rules.garden.condition import condition_at
from rules.garden.cover import ROOMS, Cover
from rules.garden.records import Records, cover_conditions, shelter_of, state_now
from rules.garden.tree import Tree
from rules.outlook.garden_outlook import Outlook
from rules.outlook.inputs import OutlookInputs
from rules.outlook.little_things import LittleThing, little_things
from rules.outlook.restated import as_covers_stand
from rules.wood.margins import TreeMargins

LittleThings = Callable[[OutlookInputs, Sequence[TreeMargins], date, datetime], dict[str, list[LittleThing]]]

ANSWER_LIVES: Final = timedelta(hours=12)  # after half a day nobody waits for an answer; no source


@dataclass(frozen=True, kw_only=True, eq=False)
class Exchange:
    """Garden, logbook, the last look ahead, and the one thing that came in.

    `now` is when it was said, `heard_utc` when we took it. `look` gives the outlook of the last round, or None while
    there is none; `inputs` what it stood on; `anew` one that knows what was said since. `made` gives, by a name of it,
    what takes too long inside a transaction: it is made between two, and all is answered anew. `home` is where the
    garden's file is; None where there is none. `weather_of` is under which name the logbook has its weather;
    `kept_records` has what was read of it; `little_things` may know them from an earlier question.
    """

    c: Connection
    garden: Garden
    person: Person
    incoming: Incoming
    now: datetime
    heard_utc: datetime
    records: Records
    look: Callable[[], Outlook | None]
    inputs: Callable[[], OutlookInputs]
    style: Style
    made: Callable[[str, Callable[[], Any]], Any]
    anew: Callable[[], Outlook | None] | None = None
    home: Home | None = None
    weather_of: str = ""
    kept_records: KeptRecords = field(default_factory=KeptRecords)
    little_things: LittleThings = little_things

    @property
    def today(self) -> date:
        """The garden's day on which it was said."""
        return self.now.astimezone(self.garden.site.zone).date()

    @cached_property
    def covers(self) -> Covers:
        """The cover of each tree, in the condition it is in."""
        return {tree.name: self._cover(tree) for tree in self.garden.trees}

    def _cover(self, tree: Tree) -> Cover | None:
        built = shelter_of(self.records, tree.name, self.garden.cover_of(tree), self.now)
        if built is None:
            return None
        return built.standing(condition_at(cover_conditions(self.records, tree.name, built), self.now))

    @property
    def chat(self) -> Chat:
        """Where it was said, for questions of ours that wait there."""
        return Chat(
            c=self.c, garden=self.garden.name, chat_id=self.incoming.chat_id, update_id=self.incoming.update_id,
            at_utc=self.heard_utc,
        )  # fmt: skip

    def with_records(self) -> "Exchange":
        """The same exchange with what was noted, or taken back, a moment ago."""
        records = self.kept_records.read(self.c, self.garden.name, self.heard_utc - RECORDS_READ)
        return replace(self, records=records)

    def outlook_anew(self) -> Outlook | None:
        """An outlook that rests on all that was said until now; the last one may not know of a cover just opened."""
        seen = self.anew() if self.anew else self.look()
        return as_covers_stand(seen, self.records, self.now, self.inputs) if seen else None

    def outlook(self) -> Outlook | None:
        """The last outlook with the covers as they stand now; worked out once, as one answer asks for it many times."""
        return self._outlook

    @cached_property
    def _outlook(self) -> Outlook | None:
        seen = self.look()
        return as_covers_stand(seen, self.records, self.now, self.inputs) if seen else None


@dataclass(frozen=True, kw_only=True)
class Answer:
    """One message back: its words and the likeliest next taps; `picture` is the path of a PNG.

    What `must_be_heard` tells of something noted or changed: it is sent again where nobody knows whether it arrived.
    A `reaction`, one emoji, does in place of the words where the door has it.
    """

    text: str
    buttons: tuple[Button, ...] = ()
    picture: str | None = None
    must_be_heard: bool = False
    reaction: str = ""


NO_LOOK: Final = Answer(text="I have not looked at the weather yet. Please ask again in a minute.")


def context_of(exchange: Exchange) -> Context:
    """The garden's trees, open asks and the quoted ask, as the reply grammar wants them."""
    trees = tuple(
        TreeName(
            name=tree.name,
            short_names=tree.short_names,
            number=number,
            species=tree.species,
            standing=tree.standing,
            state=state_now(exchange.records, tree.name, exchange.now),
            has_cover=_is_covered_where_it_stands(tree, exchange.garden),
        )
        for number, tree in enumerate(exchange.garden.trees, start=1)
    )
    return Context(
        trees=trees,
        now=exchange.now,
        zone=exchange.garden.site.zone,
        fahrenheit=exchange.garden.units.fahrenheit,
        inches=exchange.garden.units.length == "in",
        decimal_comma=exchange.garden.units.decimal == "comma",
        open_asks=_latest(open_asks(exchange)),
        quoted=quoted_ask(exchange),
        people=tuple(person.name for person in exchange.garden.people),
    )


def _is_covered_where_it_stands(tree: Tree, garden: Garden) -> bool:
    """Whether it has a cover that is put on it; a room that a pot is carried to is none."""
    return tree.cover is not None and not tree.left_bare and garden.covers[tree.cover].preset not in ROOMS


def open_asks(exchange: Exchange) -> list[OpenAsk]:
    """The nudges still open, oldest first."""
    asks = [shown_ask(exchange, row) for row in open_nudges(exchange.c, exchange.garden.name)]
    return [ask for ask in asks if ask is not None]


def shown_ask(exchange: Exchange, row: Nudge | None) -> OpenAsk | None:
    """What a nudge of this garden asks of the trees that still stand in it; None where that is nothing."""
    if row is None or not row.ask or row.garden != exchange.garden.name:
        return None
    names = {tree.name for tree in exchange.garden.trees}
    trees = tuple(name for name in row.trees if name in names)
    return OpenAsk(key=f"n{row.nudge_id}", verb=Verb(row.ask), trees=trees) if trees else None


def _latest(asks: list[OpenAsk]) -> tuple[OpenAsk, ...]:
    """Of the stages of one ladder only the last: a last call and the message before it are one question."""
    latest = {(ask.verb, ask.trees): ask for ask in asks}
    return tuple(latest.values())


def quoted_ask(exchange: Exchange) -> OpenAsk | None:
    """The nudge a person answered to, open or not; None where nothing or something else was quoted."""
    if exchange.incoming.quoted_id is None:
        return None
    key = nudge_of_message(exchange.c, exchange.incoming.chat_id, exchange.incoming.quoted_id)
    return shown_ask(exchange, nudge_by_key(exchange.c, key) if key else None)


def undo_button(exchange: Exchange) -> Button:
    """Takes back what this one reply put into the logbook."""
    return Button(label="Undo", data=button_data(Verb.UNDO, f"u{exchange.incoming.update_id}", 0))


def ask_of_button(exchange: Exchange, key: str) -> OpenAsk | None:
    """The nudge a button belongs to; None where it is none of this garden's."""
    if not key.startswith("n") or not key[1:].isdigit():
        return None
    return shown_ask(exchange, nudge_by_id(exchange.c, exchange.garden.name, int(key[1:])))
