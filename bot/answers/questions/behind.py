"""Answers about the night just past."""

from typing import Final

from bot.answers.exchange import Answer, Exchange
from bot.answers.questions.ahead import NO_LOOK
from bot.answers.questions.heat import ground_now
from bot.answers.questions.winters import trees_named
from bot.replies import Meaning, Verb
from bot.wording import last_night as say
from rules.outlook.last_night import night_behind


def _last_night(exchange: Exchange, meaning: Meaning) -> Answer:
    seen = exchange.outlook()
    if seen is None:
        return NO_LOOK
    trees = trees_named(exchange, meaning.trees) or [tree for tree in exchange.garden.trees if tree.cover]
    night = night_behind(ground_now(exchange), trees, exchange.now)
    if night is None:
        return Answer(text=say.UNKNOWN)
    return Answer(text=say.last_night(night, {one.tree.name: one.hardiness for one in seen.trees}, exchange.style))


BEHIND: Final = {Verb.LAST_NIGHT: _last_night}
