"""What people say of themselves: stop, start, away, back. It decides who gets the nudges."""

from datetime import timedelta
from typing import Final

from bot.answers.desk import Answer, Desk
from bot.logbook import enqueue, list_people
from bot.messages import Outgoing
from bot.replies import Meaning, Verb
from bot.rounds.presence import away_until, come_back, go_away, hand_over, is_muted, mute, take_back_watch
from bot.rounds.waking import note_wake
from bot.wording.answers import HELP
from bot.wording.people import absence as say
from bot.wording.people.household import nobody_called

TOLD_WITHIN: Final = timedelta(days=1)


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


def _wake(desk: Desk, _: Meaning) -> Answer:
    note_wake(desk.c, desk.person, wakes=True)
    return Answer(text=say.wakes())


def _let_sleep(desk: Desk, _: Meaning) -> Answer:
    note_wake(desk.c, desk.person, wakes=False)
    return Answer(text=say.lets_sleep())


def _hand_over(desk: Desk, meaning: Meaning) -> Answer:
    """The watch to one other person, who is told; this one counts as away meanwhile."""
    others = [one for one in list_people(desk.c, desk.garden.name) if one.chat_id != desk.person.chat_id]
    keeper = next((one for one in others if one.name.casefold() == meaning.text.casefold()), None)
    if keeper is None:
        return Answer(text=nobody_called(meaning.text, [one.name for one in others]))
    if not keeper.is_reachable or is_muted(desk.c, keeper) or away_until(desk.c, keeper, desk.now) is not None:
        return Answer(text=say.cannot_take_over(keeper.name))
    until = meaning.until_utc
    go_away(desk.c, desk.person, until)
    hand_over(desk.c, desk.garden.name, keeper, desk.person, until)
    told = Outgoing(
        key=f"handed:{desk.incoming.update_id}", chat_id=keeper.chat_id, due_utc=desk.heard_utc,
        text=say.has_the_watch(desk.person.name, desk.garden.name, until, desk.style, desk.now),
        expires_utc=desk.heard_utc + TOLD_WITHIN,
    )  # fmt: skip
    enqueue(desk.c, told, desk.garden.name)
    return Answer(text=say.handed_over(keeper.name, until, desk.style, desk.now))


def _back(desk: Desk, _: Meaning) -> Answer:
    take_back_watch(desk.c, desk.person)
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


PEOPLE: Final = {
    Verb.STOP: _stop,
    Verb.START: _start,
    Verb.AWAY: _away,
    Verb.BACK: _back,
    Verb.WAKE: _wake,
    Verb.LET_SLEEP: _let_sleep,
    Verb.HAND_OVER: _hand_over,
}
