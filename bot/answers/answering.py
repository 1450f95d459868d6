"""One thing that came in -> records and the messages that answer it. Every input gets an answer."""

import json
from collections.abc import Callable, Sequence
from typing import Final

from pydantic import TypeAdapter

from bot.answers.acknowledging import deeds_together, in_one, undo_update
from bot.answers.dialogues import close, is_end, is_ours, tapped, typed, waiting
from bot.answers.exchange import ANSWER_LIVES, Answer, Exchange, ask_of_button, context_of, undo_button
from bot.answers.garden_file.garden_import import file_came
from bot.answers.household.letting_in import let_in_by_code
from bot.answers.noting import take_back
from bot.answers.registry import ANSWERS, GO_ON, ONLY_A_CAPTION
from bot.answers.season.job_marks import answer_to_news, tapped_on_news
from bot.answers.season.photos import photo_came
from bot.logbook import (
    Connection,
    Person,
    garden_of_chat,
    mark_reachable,
    mark_unreachable,
    move_chat,
    note_state,
    nudge_by_id,
    read_state,
)
from bot.messages import Button, Incoming, IncomingKind, OnUnknown, Outgoing
from bot.replies import (
    Ambiguous,
    Choice,
    Meaning,
    NotUnderstood,
    Reply,
    Understood,
    Verb,
    button_data,
    parse_button,
    parse_reply,
    trees_named,
)
from bot.wording import answers as say

PLACE_KNOWN: Final = "I know where this garden is; its place stands in the garden file. Nothing was changed."
CHOICES: Final = TypeAdapter(tuple[Choice, ...])


def answer(c: Connection, exchange_of: Callable[[Person, Incoming], Exchange], incoming: Incoming) -> list[Outgoing]:
    """The messages that answer one thing that came in; its records are written in the same transaction."""
    if incoming.new_chat_id is not None:
        move_chat(c, incoming.chat_id, incoming.new_chat_id)
        return []
    person = garden_of_chat(c, incoming.chat_id)
    if incoming.kind is IncomingKind.GONE:
        if person is not None:
            mark_unreachable(c, incoming.chat_id, incoming.at_utc)
        return []
    mark_reachable(c, incoming.chat_id)  # whoever writes to us can be written to
    if incoming.kind is IncomingKind.BACK:
        return []
    if person is None:
        return _stranger(c, exchange_of, incoming)
    exchange = exchange_of(person, incoming)
    if incoming.kind is IncomingKind.EDITED:
        _undo_earlier_version(exchange)
    answers = _go_on(exchange) or _heard(exchange)
    _remember_message(exchange)
    return [_outgoing(exchange, n, one) for n, one in enumerate(answers)]


def _outgoing(exchange: Exchange, n: int, one: Answer) -> Outgoing:
    return Outgoing(
        key=f"reply:{exchange.incoming.update_id}:{n}",
        chat_id=exchange.incoming.chat_id,
        text=one.text,
        buttons=one.buttons,
        due_utc=exchange.heard_utc,
        expires_utc=exchange.heard_utc + ANSWER_LIVES,
        picture=one.picture,
        # what was noted must be seen to be noted; small talk may be missed
        on_unknown=OnUnknown.RESEND if undo_button(exchange) in one.buttons else OnUnknown.HOLD,
    )


def _stranger(c: Connection, exchange_of: Callable[[Person, Incoming], Exchange], incoming: Incoming) -> list[Outgoing]:
    let_in = let_in_by_code(c, incoming, incoming.at_utc)
    if isinstance(let_in, Outgoing):
        return [let_in]
    exchange = exchange_of(let_in, incoming)
    return [_outgoing(exchange, 0, Answer(text=say.welcome(exchange.garden.name, incoming.person)))]


def _go_on(exchange: Exchange) -> list[Answer] | None:
    """The answers to what was typed or tapped in reply to a question of ours; None where it is no answer to one."""
    if exchange.incoming.file_name:
        return None
    dialogue = waiting(exchange.chat)
    if exchange.incoming.kind is IncomingKind.TAP:
        said = tapped(dialogue, exchange.incoming.button) if is_ours(exchange.incoming.button) else None
    else:
        said = typed(dialogue, exchange.incoming.text) if dialogue else None
    if dialogue is None or said is None:
        return None
    if said.value is None and is_end(said.text):
        close(exchange.chat)
        return [Answer(text="All right, never mind. Nothing was changed.")]
    return GO_ON[dialogue.kind](exchange, dialogue, said)


def _heard(exchange: Exchange) -> list[Answer]:
    if exchange.incoming.kind is IncomingKind.TAP:
        return _tap(exchange)
    if exchange.incoming.photo_id:
        return _photo(exchange)
    if exchange.incoming.file_name and exchange.incoming.kind is IncomingKind.TEXT:
        return file_came(exchange)
    if exchange.incoming.location is not None:
        return [Answer(text=PLACE_KNOWN)]
    return _text(exchange, exchange.incoming.text)


def _photo(exchange: Exchange) -> list[Answer]:
    """A photo, with what is written under it: a tree's name, and perhaps a deed."""
    text, context = exchange.incoming.text, context_of(exchange)
    reply = parse_reply(text, context)
    told = reply.meanings if isinstance(reply, Understood) else ()
    trees = tuple(tree for meaning in told for tree in meaning.trees) or trees_named(text, context)
    acted_on = tuple(meaning for meaning in told if meaning.verb not in ONLY_A_CAPTION)
    return [*photo_came(exchange, trees), *(_act_on(exchange, acted_on) if acted_on else [])]


def _text(exchange: Exchange, text: str) -> list[Answer]:
    return _reply(exchange, answer_to_news(exchange, text) or parse_reply(text, context_of(exchange)))


def _reply(exchange: Exchange, reply: Reply) -> list[Answer]:
    match reply:
        case Understood(meanings=meanings):
            return _act_on(exchange, meanings)
        case Ambiguous(question=question, choices=choices, certain=certain):
            asked = Answer(text=say.which(question, choices), buttons=_offered(exchange, choices))
            return [*(_act_on(exchange, certain) if certain else []), asked]
        case NotUnderstood(heard=heard, choices=choices):
            return [Answer(text=say.not_understood(heard, choices), buttons=_offered(exchange, choices))]


def _offered(exchange: Exchange, choices: Sequence[Choice]) -> tuple[Button, ...]:
    """Buttons for the choices, which are kept so that a tap long after still knows what it meant."""
    if not choices:
        return ()
    kept = CHOICES.dump_json(tuple(choices)).decode()
    note_state(exchange.c, exchange.garden.name, f"choices {exchange.incoming.update_id}", kept)
    key = f"c{exchange.incoming.update_id}"
    return tuple(Button(label=one.label, data=button_data(Verb.YES, key, i)) for i, one in enumerate(choices))


def _tap(exchange: Exchange) -> list[Answer]:
    verb, _, rest = exchange.incoming.button.partition(":")
    key, _, number = rest.partition(":")
    if verb == Verb.YES and key.startswith("c") and number.isdigit():
        return _chosen(exchange, key[1:], int(number))
    if verb == Verb.UNDO and key.startswith("u") and key[1:].lstrip("-").isdigit():
        return undo_update(exchange, int(key[1:]))
    if verb == Verb.JOB and key.startswith("j") and key[1:].isdigit() and number.isdigit():
        told = tapped_on_news(exchange, int(key[1:]), int(number))
        return (
            _act_on(exchange, (told,))
            if told
            else [Answer(text=say.stale_tap(exchange.outlook(), exchange.style, exchange.now))]
        )
    ask = ask_of_button(exchange, key)
    if verb == Verb.WHY and ask is not None:
        return _act_on(exchange, (Meaning(verb=Verb.WHY, trees=ask.trees, ask_key=key),))
    nudge = nudge_by_id(exchange.c, exchange.garden.name, int(key[1:])) if ask else None
    press = parse_button(exchange.incoming.button, context_of(exchange), nudge.generation if nudge else 0)
    if press.is_stale or press.reply is None:
        return [Answer(text=say.stale_tap(exchange.outlook(), exchange.style, exchange.now))]
    return _reply(exchange, press.reply)


def _chosen(exchange: Exchange, update_id: str, index: int) -> list[Answer]:
    kept = read_state(exchange.c, exchange.garden.name, f"choices {update_id}")
    choices = CHOICES.validate_json(kept) if kept else ()
    names = {tree.name for tree in exchange.garden.trees}  # one that was meant may be gone by now
    if index >= len(choices) or any(not names.issuperset(one.trees) for one in choices[index].meanings):
        return [Answer(text=say.stale_tap(exchange.outlook(), exchange.style, exchange.now))]
    note_state(exchange.c, exchange.garden.name, f"choices {update_id}", "[]")  # a second tap must not do it twice
    return _act_on(exchange, choices[index].meanings)


def _act_on(exchange: Exchange, meanings: Sequence[Meaning]) -> list[Answer]:
    answers = [one for meaning in deeds_together(meanings) for one in ANSWERS[meaning.verb](exchange, meaning)]
    return in_one(answers, undo_button(exchange))


def _remember_message(exchange: Exchange) -> None:
    """Which update carried which message, so that an edit of the message can replace what it said."""
    if exchange.incoming.message_id is not None and exchange.incoming.kind is not IncomingKind.TAP:
        name = f"message {exchange.incoming.chat_id} {exchange.incoming.message_id}"
        note_state(exchange.c, exchange.garden.name, name, json.dumps(exchange.incoming.update_id))


def _undo_earlier_version(exchange: Exchange) -> None:
    name = f"message {exchange.incoming.chat_id} {exchange.incoming.message_id}"
    earlier = read_state(exchange.c, exchange.garden.name, name)
    if earlier is not None:
        take_back(exchange, int(json.loads(earlier)))
