"""One thing that came in -> records and the messages that answer it. Every input gets an answer."""

import json
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Final

from bot.answers.acknowledging import in_one, note_done, undo_update
from bot.answers.choices import CHOSEN, button_said, kept_choices, offered
from bot.answers.dialogues import close, is_end, is_ours, tapped, typed, waiting
from bot.answers.exchange import ANSWER_LIVES, Answer, Exchange, ask_of_button, context_of, undo_button
from bot.answers.garden_file.garden_import import file_came
from bot.answers.household.letting_in import joined, let_in_by_code
from bot.answers.memory import context_of_talk, remember_offer
from bot.answers.noting import take_back
from bot.answers.registry import ANSWERS, CHANGES, GO_ON, NEWS, ONLY_A_CAPTION
from bot.answers.season.job_marks import answer_to_news, tapped_on_news
from bot.answers.season.photos import photo_came
from bot.logbook import (
    Connection,
    Entry,
    Person,
    garden_of_chat,
    mark_reachable,
    mark_unreachable,
    move_chat,
    note_state,
    nudge_by_id,
    read_state,
    unheard,
)
from bot.messages import Incoming, IncomingKind, OnUnknown, Outgoing
from bot.replies import (
    DEEDS,
    Ambiguous,
    Choice,
    Meaning,
    NotUnderstood,
    Question,
    Reply,
    Understood,
    Verb,
    is_button,
    parse_button,
    parse_reply,
    trees_named,
)
from bot.wording import acknowledging as say
from bot.wording.people import talk

PLACE_KNOWN: Final = "I know where this garden is: it says so in the garden file. Nothing was changed."


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
    if person is None or not person.is_reachable:
        mark_reachable(c, incoming.chat_id)  # whoever writes to us can be written to
    if person is None:
        return joined(incoming) if incoming.kind is IncomingKind.BACK else _stranger(c, exchange_of, incoming)
    lost = unheard(c, incoming.chat_id, incoming.reached_us_utc)
    answers = [] if incoming.kind is IncomingKind.BACK else _said(exchange_of(person, incoming))
    return [*([lost] if lost else []), *answers]


def _said(exchange: Exchange) -> list[Outgoing]:
    """The messages that answer what somebody of this garden said."""
    taken_back: tuple[Entry, ...] = ()
    if exchange.incoming.kind is IncomingKind.EDITED:
        taken_back = _undo_earlier_version(exchange)
        exchange = exchange.with_records()
    answers = _answers(exchange)
    if taken_back:
        told = f"{say.taken_back(taken_back, exchange.style, exchange.covers)} {answers[0].text}".strip()
        answers[0] = replace(answers[0], text=told, must_be_heard=True)
    _remember_message(exchange)
    remember_offer(exchange, answers)
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
        replies_to=_replied_to(exchange, n, one),
        reaction=one.reaction if exchange.incoming.message_id is not None else "",
        # what was noted must be heard of, and a question that settles something; small talk may be missed
        on_unknown=OnUnknown.RESEND if one.must_be_heard or one.buttons else OnUnknown.HOLD,
    )


def _replied_to(exchange: Exchange, n: int, one: Answer) -> int | None:
    """The message an answer is to: in a group the first says whom it answers; a tap has its own message."""
    came = exchange.incoming
    is_text = came.kind in (IncomingKind.TEXT, IncomingKind.EDITED)
    return came.message_id if is_text and (one.reaction or (came.is_group and n == 0)) else None


def _stranger(c: Connection, exchange_of: Callable[[Person, Incoming], Exchange], incoming: Incoming) -> list[Outgoing]:
    let_in = let_in_by_code(c, incoming)
    if isinstance(let_in, Outgoing):
        return [let_in]
    exchange = exchange_of(let_in, incoming)
    short_of = talk.short_of(exchange.garden.trees)
    welcome = Answer(
        text=talk.welcome(exchange.garden.name, incoming.person, exchange.style, short_of), must_be_heard=True
    )
    return [_outgoing(exchange, 0, welcome)]


def _answers(exchange: Exchange) -> list[Answer]:
    """An answer to a question of ours changes something, so what we say to it must be heard."""
    if exchange.incoming.kind is IncomingKind.TAP and not is_button(exchange.incoming.button):
        return [_stale(exchange)]
    answered = _go_on(exchange)
    return [replace(one, must_be_heard=True) for one in answered] if answered else _heard(exchange)


def _go_on(exchange: Exchange) -> list[Answer] | None:
    """The answers to what was typed or tapped in reply to a question of ours; None where it is no answer to one."""
    if exchange.incoming.file_name:
        return None
    dialogue = waiting(exchange.chat)
    if exchange.incoming.kind is IncomingKind.TAP:
        said = tapped(dialogue, exchange.incoming.button) if is_ours(exchange.incoming.button) else None
    else:
        said = typed(dialogue, exchange.incoming.text) if dialogue else None
    if dialogue is None or said is None or (said.value is None and _is_news(exchange)):
        return None
    if said.value is None and is_end(said.text):
        close(exchange.chat)
        return [Answer(text="All right, never mind. Nothing was changed.")]
    return GO_ON[dialogue.kind](exchange, dialogue, said)


def _is_news(exchange: Exchange) -> bool:
    """Whether a text tells something of a tree the garden has: no answer to a question of ours, whatever it asked."""
    context = context_of(exchange)
    if not trees_named(exchange.incoming.text, context):
        return False
    reply = parse_reply(exchange.incoming.text, context)
    told = reply.meanings if isinstance(reply, Understood) else ()
    return any(one.verb in DEEDS or one.verb in NEWS for one in told)


def _heard(exchange: Exchange) -> list[Answer]:
    if exchange.incoming.kind is IncomingKind.TAP:
        return _tap(exchange)
    if exchange.incoming.code_hash:
        return _act_on(exchange, (Meaning(verb=Verb.CODE),))
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
    left_out = _left_out(reply.unread) if isinstance(reply, Understood) and acted_on else []
    return [*photo_came(exchange, trees), *(_act_on(exchange, acted_on) if acted_on else []), *left_out]


def _text(exchange: Exchange, text: str) -> list[Answer]:
    told = button_said(exchange, text) or answer_to_news(exchange, text)
    return _reply(exchange, told or parse_reply(text, context_of_talk(exchange)))


def _reply(exchange: Exchange, reply: Reply) -> list[Answer]:
    match reply:
        case Understood(meanings=meanings, unread=unread):
            return in_one([*_act_on(exchange, meanings), *_left_out(unread)], undo_button(exchange))
        case Ambiguous(question=question, choices=choices, certain=certain, unread=unread):
            asked = Answer(text=talk.which(question, choices), buttons=offered(exchange, _or_none(question, choices)))
            told = _act_on(exchange, certain) if certain else []
            return in_one([*told, *_left_out(unread), asked], undo_button(exchange))
        case NotUnderstood(heard=heard, choices=choices, is_ours=is_ours):
            words = talk.not_understood(heard, choices, is_ours=is_ours)
            return [Answer(text=words, buttons=offered(exchange, choices))]


def _or_none(question: Question, choices: Sequence[Choice]) -> Sequence[Choice]:
    """Which tree it was, or none of them: a number may have been the car's."""
    none = Meaning(verb=Verb.NO)
    is_way_out = question is not Question.WHICH_TREE or any(none in choice.meanings for choice in choices)
    return choices if is_way_out else (*choices, Choice(label="none of these", meanings=(none,)))


def _left_out(unread: str) -> list[Answer]:
    return [Answer(text=talk.left_out(unread))] if unread else []


def _tap(exchange: Exchange) -> list[Answer]:
    verb, _, rest = exchange.incoming.button.partition(":")
    key, _, number = rest.partition(":")
    if verb == Verb.YES and key.startswith("c"):
        return _chosen(exchange, key[1:], int(number))
    if verb == Verb.UNDO and key.startswith("u"):
        return undo_update(exchange, int(key[1:]))
    if verb == Verb.JOB and key.startswith("j"):
        told = tapped_on_news(exchange, int(key[1:]), int(number))
        return _act_on(exchange, (told,)) if told else [_stale(exchange)]
    ask = ask_of_button(exchange, key)
    if verb == Verb.WHY and ask is not None:
        return _act_on(exchange, (Meaning(verb=Verb.WHY, trees=ask.trees, ask_key=key),))
    nudge = nudge_by_id(exchange.c, exchange.garden.name, int(key[1:])) if ask else None
    press = parse_button(exchange.incoming.button, context_of(exchange), nudge.generation if nudge else 0)
    if press.is_stale or press.reply is None:
        return [_stale(exchange)]
    return _reply(exchange, press.reply)


def _stale(exchange: Exchange) -> Answer:
    return Answer(text=talk.stale_tap(exchange.outlook(), exchange.style, exchange.now))


def _chosen(exchange: Exchange, update_id: str, index: int) -> list[Answer]:
    choices = kept_choices(exchange, update_id)
    names = {tree.name for tree in exchange.garden.trees}  # one that was meant may be gone by now
    if index >= len(choices) or any(not names.issuperset(one.trees) for one in choices[index].meanings):
        return [_stale(exchange)]
    note_state(exchange.c, exchange.garden.name, f"choices {update_id}", "[]")  # a second tap must not do it twice
    note_state(exchange.c, exchange.garden.name, f"{CHOSEN}{update_id}", json.dumps(exchange.incoming.update_id))
    return _act_on(exchange, choices[index].meanings)


def _act_on(exchange: Exchange, meanings: Sequence[Meaning]) -> list[Answer]:
    """Deeds before all else, and all of a reply at once: one word may say how the cap stands that another wrapped."""
    corrects = len(meanings) > 1 and meanings[0].verb is Verb.UNDO
    answers: list[Answer] = []
    if corrects:  # the record is taken back before it is told anew
        answers, meanings = ANSWERS[Verb.UNDO](exchange, meanings[0]), meanings[1:]
        answers = [replace(one, buttons=()) for one in answers]
        exchange = exchange.with_records()
    deeds = [meaning for meaning in meanings if meaning.verb in DEEDS]
    if deeds:
        answers += note_done(exchange, *deeds)
        exchange = exchange.with_records()  # what is asked beside them is asked of the covers as they are now
    answers += [one for meaning in meanings if meaning.verb not in DEEDS for one in _by_word(exchange, meaning)]
    return in_one(answers, undo_button(exchange))


def _by_word(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    changes = meaning.verb in CHANGES
    answers = ANSWERS[meaning.verb](exchange, meaning)
    return [replace(one, must_be_heard=one.must_be_heard or changes) for one in answers]


def _remember_message(exchange: Exchange) -> None:
    """Which update carried which message, so that an edit of the message can replace what it said."""
    if exchange.incoming.message_id is not None and exchange.incoming.kind is not IncomingKind.TAP:
        name = f"message {exchange.incoming.chat_id} {exchange.incoming.message_id}"
        note_state(exchange.c, exchange.garden.name, name, json.dumps(exchange.incoming.update_id))


def _undo_earlier_version(exchange: Exchange) -> tuple[Entry, ...]:
    """What the message said before, taken back: also what a tap on a choice it left has put in, and the choice."""
    name = f"message {exchange.incoming.chat_id} {exchange.incoming.message_id}"
    earlier = read_state(exchange.c, exchange.garden.name, name)
    if earlier is None:
        return ()
    chosen = read_state(exchange.c, exchange.garden.name, f"{CHOSEN}{json.loads(earlier)}")
    if kept_choices(exchange, earlier):
        note_state(exchange.c, exchange.garden.name, f"choices {json.loads(earlier)}", "[]")
    said_by = [json.loads(one) for one in (chosen, earlier) if one is not None]
    batches = [take_back(exchange, int(update_id)) for update_id in said_by]
    return tuple(entry for batch in batches if batch for entry in batch.entries)
