"""The household: let someone in, who is here, put someone out."""

from collections.abc import Mapping
from datetime import timedelta
from typing import Final

from bot.answers.dialogues import NO, YES, Dialogue, DialogueAnswer, ask, close, options
from bot.answers.exchange import Answer, Exchange
from bot.answers.household.letting_in import CODE_LASTS, deep_link
from bot.answers.rights import is_owner, owners_only
from bot.logbook import TERMINAL_CHAT, Person, forget_person, list_people, wish_let_in_code
from bot.replies import Meaning
from bot.settings import Role
from bot.wording.people import household as say

PUT_OUT: Final = "put out"


def let_in(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """A one-time code for a helper, shown to an owner alone."""
    if not is_owner(exchange):
        return owners_only(exchange)
    if exchange.incoming.is_group:
        return [Answer(text=say.not_in_a_group())]
    code = wish_let_in_code(exchange.c, exchange.garden.name, exchange.heard_utc, CODE_LASTS, Role.HELPER)
    link = deep_link(exchange.c, code)
    return [Answer(text=say.code(code, CODE_LASTS / timedelta(hours=1), meaning.text, link))]


def who(exchange: Exchange, _: Meaning) -> list[Answer]:
    """Everyone let in."""
    return [Answer(text=say.people([_line(exchange, one) for one in list_people(exchange.c, exchange.garden.name)]))]


def _line(exchange: Exchange, one: Person) -> tuple[str, ...]:
    role = "owner" if one.role == Role.OWNER else "helper"
    kind = "a group" if one.chat_id < TERMINAL_CHAT else "in the terminal" if one.chat_id == TERMINAL_CHAT else ""
    here = "this chat" if one.chat_id == exchange.incoming.chat_id else ""
    return one.name, role, kind, here, "" if one.is_reachable else "can't be reached"


def put_out(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """Asked first; two people of one name are told apart by asking."""
    if not is_owner(exchange):
        return owners_only(exchange)
    everyone = list_people(exchange.c, exchange.garden.name)
    found = [one for one in everyone if one.name.casefold() == meaning.text.casefold()]
    if not found:
        others = [one.name for one in everyone if one.chat_id != exchange.person.chat_id]
        return [Answer(text=say.nobody_called(meaning.text, others))]
    others_found = [one for one in found if one.chat_id != exchange.person.chat_id]
    if not others_found:
        return [Answer(text=say.cannot_put_out_self())]
    labels = [_label(one, alone=len(others_found) == 1) for one in others_found]
    pairs = [(label, str(one.chat_id)) for label, one in zip(labels, others_found, strict=True)]
    buttons = ask(exchange.chat, PUT_OUT, YES, {"name": others_found[0].name}, options([*pairs, ("Keep", NO)]))
    return [Answer(text=say.ask_put_out(others_found[0].name), buttons=buttons)]


def _label(one: Person, *, alone: bool) -> str:
    return f"Remove {one.name}" if alone else f"{one.name}, {one.role}, chat {one.chat_id % 10000:04d}"


def put_out_answered(exchange: Exchange, dialogue: Dialogue, said: DialogueAnswer) -> list[Answer] | None:
    """The person put out, or not."""
    draft: Mapping[str, str] = dialogue.draft
    if said.value is None and said.text.strip().casefold() in (YES, "y") and len(dialogue.options) == 2:
        said = DialogueAnswer(value=dialogue.options[0].value)
    if said.value is None:
        return None
    if not is_owner(exchange):
        return owners_only(exchange)
    close(exchange.chat)
    if said.value == NO:
        return [Answer(text=say.kept())]
    forget_person(exchange.c, exchange.garden.name, int(said.value))
    return [Answer(text=say.put_out(draft["name"]))]
