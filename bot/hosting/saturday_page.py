"""The page of a garden sent on Saturdays, where its grower wants it: with the word whether anything is open."""

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Final

from bot.answers.exchange import Answer, Exchange
from bot.answers.season.garden_page import page
from bot.inbox import NotAtHandError
from bot.logbook import Connection, Logbook, Person, enqueue, note_state, open_nudges, read_state
from bot.messages import Incoming, IncomingKind, Outgoing
from bot.replies import Meaning, Verb
from bot.rounds.inputs import quiet_of
from bot.rounds.presence import listeners
from bot.settings import Garden
from bot.wording.people.garden import saturday_page

SATURDAY: Final = 5  # of datetime.weekday
FROM_HOUR, TO_HOUR = 16, 20  # as the all-is-well
LIVES: Final = timedelta(hours=12)
SENT: Final = "saturday page"
NO_UPDATE: Final = -1  # nobody asked: no update of a door has such an id

ExchangeOf = Callable[[Connection, Person, Incoming, datetime], Exchange]


def write_saturday_page(logbook: Logbook, garden: Garden, exchange_of: ExchangeOf, now: datetime) -> bool:
    """Whether the page was written for all who listen; what it lacks is made between two transactions."""
    local = now.astimezone(garden.site.zone)
    is_time = local.weekday() == SATURDAY and FROM_HOUR <= local.hour < TO_HOUR and not quiet_of(garden).holds(now)
    if not garden.page_on_saturdays or not is_time:
        return False
    while True:
        try:
            with logbook.begin() as c:
                return _written(c, garden, exchange_of, now)
        except NotAtHandError as missing:
            missing.make()


def _written(c: Connection, garden: Garden, exchange_of: ExchangeOf, now: datetime) -> bool:
    day = f'"{now.astimezone(garden.site.zone).date()}"'
    people = listeners(c, garden.name, now)
    if read_state(c, garden.name, SENT) == day or not people:
        return False
    note_state(c, garden.name, SENT, day)
    (made,) = page(exchange_of(c, people[0], _asked_by(people[0], now), now), Meaning(verb=Verb.PAGE))
    text = saturday_page(garden.name, is_calm=not open_nudges(c, garden.name))
    for person in people if made.picture else ():
        enqueue(c, _message(garden, person, text, made, now), garden.name)
    return made.picture is not None


def _message(garden: Garden, person: Person, text: str, made: Answer, now: datetime) -> Outgoing:
    key = f"page:{garden.name}:{now.astimezone(garden.site.zone).date()}:{person.chat_id}"
    return Outgoing(
        key=key, chat_id=person.chat_id, text=text, picture=made.picture, silent=True, due_utc=now,
        expires_utc=now + LIVES,
    )  # fmt: skip


def _asked_by(person: Person, now: datetime) -> Incoming:
    return Incoming(
        update_id=NO_UPDATE, chat_id=person.chat_id, person=person.name, kind=IncomingKind.TEXT, text="page", at_utc=now
    )
