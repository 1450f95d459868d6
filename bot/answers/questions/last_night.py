"""Answers about the night just past."""

from bot.answers.condition.little_things import inputs_now
from bot.answers.exchange import NO_LOOK, Answer, Exchange
from bot.answers.questions.freezes import trees_named
from bot.replies import Meaning
from bot.wording import nights as say
from rules.outlook.views.last_night import night_behind


def tell_last_night(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """How cold it got, and what the wood made of it."""
    seen = exchange.outlook()
    if seen is None:
        return [NO_LOOK]
    trees = trees_named(exchange, meaning.trees) or [tree for tree in exchange.garden.trees if tree.cover]
    night = night_behind(inputs_now(exchange), trees, exchange.now)
    if night is None:
        return [Answer(text=say.UNKNOWN)]
    return [Answer(text=say.last_night(night, {one.tree.name: one.hardiness for one in seen.trees}, exchange.style))]
