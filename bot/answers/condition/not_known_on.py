"""What is told of covers that nobody has said are on: asked about in one tap before any of it is noted."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from bot.answers.choices import offered
from bot.answers.exchange import Answer, Exchange, context_of
from bot.answers.memory import context_of_talk
from bot.messages import IncomingKind
from bot.replies import Choice, Meaning, Verb, singled_out
from bot.replies.talk.picking import picked
from bot.wording.covers import condition as say
from rules.garden.condition import ConditionKind, Layer
from rules.garden.cover import Cover, CoverState
from rules.garden.records import DeedKind, state_now

OF_A_TOP: Final = (ConditionKind.TOP_GONE, ConditionKind.TOP_OPEN)
OF_THE_FILL: Final = (ConditionKind.WET, ConditionKind.SUNK)
OF_A_COVER: Final = (
    *OF_A_TOP, *OF_THE_FILL, ConditionKind.LAYER_OFF, ConditionKind.TORN, ConditionKind.SNOW_ON,
)  # fmt: skip
TOPS: Final = (Verb.CLOSED, Verb.VENTED)


def not_on(exchange: Exchange, trees: Sequence[str]) -> list[str]:
    """Those of some trees whose cover is off, or of which nobody has said that it is on."""
    off = (None, CoverState.BARE)
    return [
        tree for tree in trees
        if exchange.covers.get(tree) is not None and state_now(exchange.records, tree, exchange.now) in off
    ]  # fmt: skip


def swept_along(exchange: Exchange, told: Sequence[Meaning]) -> tuple[list[Meaning], list[Meaning]]:
    """The deeds told as far as they are certain, and as far as they swept covers along that are not known to be on.

    "Closed everything" says nothing of a cover that was never put on; who names a tree, picks a choice by tap or word,
    or tells in the same breath that it was wrapped, has said it.
    """
    said = exchange.incoming
    if said.kind is IncomingKind.TAP or not said.text or picked(said.text, context_of_talk(exchange)):
        return list(told), []
    named = {*singled_out(said.text, context_of(exchange)), *_wrapped(told)}
    swept = [
        replace(one, trees=tuple(tree for tree in not_on(exchange, one.trees) if tree not in named))
        for one in told
        if one.verb in TOPS and one.ask_key is None
    ]
    doubtful = {tree for one in swept for tree in one.trees}
    certain = [
        replace(one, trees=tuple(tree for tree in one.trees if one.verb not in TOPS or tree not in doubtful))
        for one in told
    ]
    return [one for one in certain if one.trees], [one for one in swept if one.trees]


def _wrapped(told: Sequence[Meaning]) -> set[str]:
    return {tree for one in told if one.verb is Verb.WRAPPED for tree in one.trees}


def ask_of_deed(exchange: Exchange, told: Meaning) -> Answer:
    """Whether the covers are on that a deed swept along."""
    wrapped = replace(told, verb=Verb.WRAPPED, top=DeedKind(told.verb.value))
    how = "shut" if told.verb is Verb.CLOSED else "open"
    return _asked(exchange, told.trees, f"On, and {how}", (wrapped,))


def ask_of_condition(exchange: Exchange, told: Meaning) -> Answer:
    """Whether a cover is on of which damage is told."""
    top = (DeedKind.CLOSED if told.is_over else DeedKind.VENTED) if told.condition in OF_A_TOP else None
    return _asked(exchange, told.trees, "On, note it", (Meaning(verb=Verb.WRAPPED, trees=told.trees, top=top), told))


def _asked(exchange: Exchange, trees: tuple[str, ...], label: str, meanings: tuple[Meaning, ...]) -> Answer:
    bare = Meaning(verb=Verb.CONDITION, trees=trees, condition=ConditionKind.NOT_ON)
    choices = Choice(label=label, meanings=meanings), Choice(label="Not on", meanings=(bare,))
    return Answer(text=say.is_it_on(trees, exchange.covers), buttons=offered(exchange, choices), must_be_heard=True)


def lacks(told: Meaning, cover: Cover | None) -> str:
    """What a cover has not of which something is told: "film"; empty where it has it."""
    if told.condition not in OF_A_COVER or cover is None:
        return "" if cover is not None or told.condition not in OF_A_COVER else "cover"
    layer = Layer.FILM if told.condition is ConditionKind.TORN else told.layer
    if told.condition in OF_THE_FILL:
        layer = Layer.FILL
    if layer is not None and layer not in cover.built_of:
        return str(layer)
    return "top" if told.condition is ConditionKind.TOP_GONE and cover.is_shelter else ""
