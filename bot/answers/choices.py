"""Choices offered by button, kept so that a tap long after still knows what it meant."""

from collections.abc import Sequence
from typing import Final

from pydantic import TypeAdapter

from bot.answers.exchange import Exchange, open_asks
from bot.logbook import note_state, read_state
from bot.messages import Button
from bot.replies import Choice, Meaning, Understood, Verb, button_data
from bot.replies.words.normalising import normalised
from bot.wording.covers.words import done_label
from rules.garden.records import DeedKind

CHOSEN: Final = "chosen "  # and then the update whose choice was tapped; its body is the tap's
CHOICES: Final = TypeAdapter(tuple[Choice, ...])


def offered(exchange: Exchange, choices: Sequence[Choice]) -> tuple[Button, ...]:
    """Buttons for the choices; one reply may leave several questions, each with its own."""
    if not choices:
        return ()
    name, key = f"choices {exchange.incoming.update_id}", f"c{exchange.incoming.update_id}"
    before = kept_choices(exchange, str(exchange.incoming.update_id))
    note_state(exchange.c, exchange.garden.name, name, CHOICES.dump_json((*before, *choices)).decode())
    numbered = enumerate(choices, start=len(before))
    return tuple(Button(label=one.label, data=button_data(Verb.YES, key, i)) for i, one in numbered)


def button_said(exchange: Exchange, text: str) -> Understood | None:
    """What a typed word means that is the very word on the button of one open question; None for any other."""
    said = normalised(text)
    labelled = [
        ask
        for ask in open_asks(exchange)
        if normalised(done_label(DeedKind(ask.verb.value), ask.trees, exchange.covers)) == said
    ]
    if len(labelled) != 1:
        return None
    (ask,) = labelled
    return Understood(meanings=(Meaning(verb=ask.verb, trees=ask.trees, ask_key=ask.key),))


def kept_choices(exchange: Exchange, update_id: str) -> tuple[Choice, ...]:
    """The choices that one update left; none once one of them was tapped."""
    kept = read_state(exchange.c, exchange.garden.name, f"choices {update_id}")
    return CHOICES.validate_json(kept) if kept else ()
