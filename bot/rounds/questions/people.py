"""What people say of themselves: stop, start, away, back. It decides who gets the nudges."""

from typing import Final

from bot.logbook import list_people
from bot.replies import Meaning, Verb
from bot.rounds.desk import Answer, Desk
from bot.rounds.presence import away_until, come_back, go_away, is_muted, mute
from bot.wording import people as say
from bot.wording.answers import HELP


def _stop(desk: Desk, _: Meaning) -> Answer:
    mute(desk.c, desk.person, muted=True)
    return Answer(text=say.stopped(_others(desk)))


def _start(desk: Desk, _: Meaning) -> Answer:
    if is_muted(desk.c, desk.person):
        mute(desk.c, desk.person, muted=False)
        return Answer(text=say.started())
    return Answer(text=HELP)


def _away(desk: Desk, meaning: Meaning) -> Answer:
    until = meaning.until_utc
    if until is not None and until <= desk.now:
        return Answer(text=say.over_already(until, desk.style, desk.now))
    go_away(desk.c, desk.person, until)
    return Answer(text=say.gone(until, _others(desk), desk.style, desk.now))


def _back(desk: Desk, _: Meaning) -> Answer:
    return Answer(text=say.returned(was_away=come_back(desk.c, desk.person, desk.now)))


def _others(desk: Desk) -> list[str]:
    """The other people who get nudges now."""
    return [
        person.name
        for person in list_people(desk.c, desk.garden.name)
        if person.chat_id != desk.person.chat_id
        and person.is_reachable
        and not is_muted(desk.c, person)
        and away_until(desk.c, person, desk.now) is None
    ]


PEOPLE: Final = {Verb.STOP: _stop, Verb.START: _start, Verb.AWAY: _away, Verb.BACK: _back}
