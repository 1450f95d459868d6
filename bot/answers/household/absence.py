"""What people say of themselves: stop, start, away, back. It decides who gets the nudges."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Final

from bot.answers.choices import offered
from bot.answers.dialogues import Dialogue, DialogueAnswer, ask, close, options
from bot.answers.exchange import Answer, Exchange, context_of
from bot.logbook import Person, enqueue, list_people
from bot.messages import Outgoing
from bot.replies import Choice, Meaning, Verb
from bot.rounds.presence import away_until, come_back, go_away, hand_over, is_muted, mute, take_back_watch
from bot.rounds.waking import note_wake
from bot.wording.people import absence as say
from bot.wording.people.household import nobody_called
from bot.wording.people.talk import hello

HAND_OVER: Final = "hand over"
EVERYONE: Final = "everyone"  # all of the garden's people go
TOLD_WITHIN: Final = timedelta(days=1)


def stop(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """No more nudges in this chat; a mere "stop" where others get them too, or something is asked, is asked about."""
    asks = context_of(exchange).asks
    if not meaning.text and (asks or _others(exchange)):
        return [_whom_to_silence(exchange, tuple(dict.fromkeys(tree for ask in asks for tree in ask.trees)))]
    mute(exchange.c, exchange.person, muted=True)
    return [Answer(text=say.stopped(_others(exchange)))]


def _whom_to_silence(exchange: Exchange, asked: tuple[str, ...]) -> Answer:
    """Silence for the one who says it, for good, or for everyone until tomorrow about what is asked."""
    mine = Choice(label="No more to me", meanings=(Meaning(verb=Verb.STOP, text="me"),))
    tonight = Choice(label="Not tonight", meanings=(Meaning(verb=Verb.CANNOT, trees=asked),))
    on = Choice(label="Go on", meanings=(Meaning(verb=Verb.START),))
    choices = (mine, tonight if asked else on)
    return Answer(text=say.whom_to_silence(for_all=bool(asked)), buttons=offered(exchange, choices))


def start(exchange: Exchange, _: Meaning) -> list[Answer]:
    """Nudges again."""
    if is_muted(exchange.c, exchange.person):
        mute(exchange.c, exchange.person, muted=False)
        return [Answer(text=say.started())]
    return [Answer(text=hello(exchange.garden.name, len(exchange.garden.trees)))]


def note_away(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """Away until some day, or until back."""
    until = meaning.until_utc
    if until is not None and until <= exchange.now:
        return [Answer(text=say.over_already(until, exchange.style, exchange.now))]
    begins = meaning.at_utc
    together = [one for one in list_people(exchange.c, exchange.garden.name) if one.chat_id != exchange.person.chat_id]
    together = together if meaning.text == EVERYONE else []
    for person in (exchange.person, *together):
        go_away(exchange.c, person, until, begins)
    others = [name for name in _others(exchange) if name not in {one.name for one in together}]
    who = [one.name for one in together]
    return [Answer(text=say.gone(until, others, exchange.style, exchange.now, begins, together=who))]


def wake(exchange: Exchange, _: Meaning) -> list[Answer]:
    """May be woken in the quiet hours."""
    note_wake(exchange.c, exchange.person, wakes=True)
    return [Answer(text=say.wakes())]


def let_sleep(exchange: Exchange, _: Meaning) -> list[Answer]:
    """Not to be woken."""
    note_wake(exchange.c, exchange.person, wakes=False)
    return [Answer(text=say.lets_sleep())]


def hand_watch_over(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """The watch to one other person, who is told; this one counts as away meanwhile."""
    others = [one for one in list_people(exchange.c, exchange.garden.name) if one.chat_id != exchange.person.chat_id]
    called = [one for one in others if one.name.casefold() == meaning.text.casefold()]
    if not called:
        return [Answer(text=nobody_called(meaning.text, [one.name for one in others]))]
    if len(called) > 1:
        return [_which(exchange, called, meaning.until_utc)]
    return [_handed(exchange, called[0], meaning.until_utc)]


def _which(exchange: Exchange, called: Sequence[Person], until: datetime | None) -> Answer:
    """Which of several people of one name it shall be; the chat's last figures tell them apart."""
    pairs = [(f"{one.name}, {one.role}, chat {one.chat_id % 10000:04d}", str(one.chat_id)) for one in called]
    draft = {"until": until.isoformat() if until else None}
    buttons = ask(exchange.chat, HAND_OVER, HAND_OVER, draft, options(pairs))
    return Answer(text=say.which_of_that_name(called[0].name, len(called)), buttons=buttons)


def hand_over_answered(exchange: Exchange, dialogue: Dialogue, said: DialogueAnswer) -> list[Answer] | None:
    """The watch to the one who was chosen."""
    chosen = [one for one in list_people(exchange.c, exchange.garden.name) if str(one.chat_id) == said.value]
    if not chosen:
        return None
    close(exchange.chat)
    until = dialogue.draft["until"]
    return [_handed(exchange, chosen[0], datetime.fromisoformat(until) if until else None)]


def _handed(exchange: Exchange, keeper: Person, until: datetime | None) -> Answer:
    if (
        not keeper.is_reachable
        or is_muted(exchange.c, keeper)
        or away_until(exchange.c, keeper, exchange.now) is not None
    ):
        return Answer(text=say.cannot_take_over(keeper.name))
    go_away(exchange.c, exchange.person, until)
    hand_over(exchange.c, exchange.garden.name, keeper, exchange.person, until)
    told = Outgoing(
        key=f"handed:{exchange.incoming.update_id}", chat_id=keeper.chat_id, due_utc=exchange.heard_utc,
        text=say.has_the_watch(exchange.person.name, exchange.garden.name, until, exchange.style, exchange.now),
        expires_utc=exchange.heard_utc + TOLD_WITHIN,
    )  # fmt: skip
    enqueue(exchange.c, told, exchange.garden.name)
    return Answer(text=say.handed_over(keeper.name, until, exchange.style, exchange.now))


def note_back(exchange: Exchange, _: Meaning) -> list[Answer]:
    """Back again."""
    take_back_watch(exchange.c, exchange.person)
    return [Answer(text=say.returned(was_away=come_back(exchange.c, exchange.person, exchange.now)))]


def _others(exchange: Exchange) -> list[str]:
    """The other people who get nudges now."""
    return [
        person.name
        for person in list_people(exchange.c, exchange.garden.name)
        if person.chat_id != exchange.person.chat_id
        and person.is_reachable
        and not is_muted(exchange.c, person)
        and away_until(exchange.c, person, exchange.now) is None
    ]
