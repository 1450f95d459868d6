"""`settings`: what this garden and this person have set, and the words that change it."""

from bot.answers.exchange import Answer, Exchange
from bot.replies import Meaning
from bot.rounds.presence import away_until, is_muted
from bot.rounds.waking import may_wake
from bot.wording.people import settings as say


def tell_settings(exchange: Exchange, _: Meaning) -> list[Answer]:
    """Units, hours, people and services of the garden; nudges, absence and waking of who asks."""
    c, person, garden = exchange.c, exchange.person, exchange.garden
    own = say.own(
        muted=is_muted(c, person),
        away_until_utc=away_until(c, person, exchange.now),
        wakes=may_wake(c, person),
        style=exchange.style,
        now=exchange.now,
    )
    return [Answer(text="\n".join([*own, say.shown(garden)]))]
