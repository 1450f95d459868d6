"""Questions of ours that wait for an answer in one chat: what was asked, what was said so far, what may be tapped."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any, Final

from bot.logbook import Connection, note_state, read_state
from bot.messages import Button
from bot.replies import Verb, button_data, is_button
from bot.replies.words.normalising import normalised
from bot.replies.words.spelling import deed_forms

ASKED_FOR: Final = timedelta(hours=24)  # after a day nobody remembers what was asked; no source
KEY: Final = "d"
ENDED: Final = ("cancel", "never mind", "nevermind", "forget it", "leave it", "stop it", "abort")
YES: Final = "yes"
NO: Final = "no"
YES_WORDS: Final = (
    *("yes", "y", "yep", "yeah", "yup", "yes please", "sure", "right", "correct"),
    *("that's right", "that is right", "thats right"),
)
NO_WORDS: Final = ("no", "n", "nope", "nah", "no thanks", "wrong")
NO_DEED: Final = {"open", "ready"}  # words of deeds that also describe a place or a person


@dataclass(frozen=True, kw_only=True, eq=False)
class Chat:
    """One chat of a garden while one update is answered in it."""

    c: Connection
    garden: str
    chat_id: int
    update_id: int
    at_utc: datetime


@dataclass(frozen=True, kw_only=True)
class Option:
    """One answer to offer: its words, and what it stands for."""

    label: str
    value: str


@dataclass(frozen=True, kw_only=True)
class Dialogue:
    """One question that waits.

    `ident` is the update that led to it, so that a tap on an older question is known; `kind` tells who goes on with
    it, `step` what is asked now, `draft` what was said so far.
    """

    ident: int
    kind: str
    step: str
    at_utc: datetime
    draft: Mapping[str, Any] = field(default_factory=dict)
    options: tuple[Option, ...] = ()


@dataclass(frozen=True, kw_only=True)
class DialogueAnswer:
    """An answer to a question: typed, or the value of the option chosen."""

    text: str = ""
    value: str | None = None

    @property
    def choice(self) -> str | None:
        """The option chosen, or "yes" or "no" as typed; None for anything else."""
        plain = normalised(self.text).strip(" .!")
        return self.value or (YES if plain in YES_WORDS else NO if plain in NO_WORDS else None)

    @property
    def is_deed(self) -> bool:
        """Whether what was typed tells of covers: then it is no answer of ours to take."""
        return self.value is None and bool((set(normalised(self.text).split()) & deed_forms()) - NO_DEED)


def waiting(chat: Chat, within: timedelta = ASKED_FOR) -> Dialogue | None:
    """The question that waits in a chat; None where none does, or it is long ago."""
    kept = json.loads(read_state(chat.c, chat.garden, _name(chat)) or "null")
    if kept is None or chat.at_utc - datetime.fromisoformat(kept["at_utc"]) > within:
        return None
    choices = tuple(Option(**one) for one in kept["options"])
    return Dialogue(**{**kept, "at_utc": datetime.fromisoformat(kept["at_utc"]), "options": choices})


def ask(
    chat: Chat, kind: str, step: str, draft: Mapping[str, Any], choices: Sequence[Option] = ()
) -> tuple[Button, ...]:
    """Keep a question until it is answered; the buttons that go with it."""
    dialogue = {
        "ident": chat.update_id, "kind": kind, "step": step, "at_utc": chat.at_utc.astimezone(UTC).isoformat(),
        "draft": draft, "options": [vars(one) for one in choices],
    }  # fmt: skip
    note_state(chat.c, chat.garden, _name(chat), json.dumps(dialogue))
    data = [button_data(Verb.YES, f"{KEY}{chat.update_id}", i) for i in range(len(choices))]
    return tuple(Button(label=one.label, data=each) for one, each in zip(choices, data, strict=True))


def confirm(
    chat: Chat, kind: str, do: str, leave: str, draft: Mapping[str, Any], step: str = YES
) -> tuple[Button, ...]:
    """Keep a question for yes or no; its two buttons. `is_yes` reads the answer."""
    return ask(chat, kind, step, draft, options([(do, YES), (leave, NO)]))


def is_yes(chat: Chat, said: DialogueAnswer) -> bool | None:
    """The answer to `confirm`, which then waits no longer; None for anything else, and it waits on."""
    choice = said.choice
    if choice not in (YES, NO):
        return None
    close(chat)
    return choice == YES


def close(chat: Chat) -> None:
    """Nothing waits in this chat any more."""
    note_state(chat.c, chat.garden, _name(chat), "null")


def typed(dialogue: Dialogue, text: str) -> DialogueAnswer:
    """What was typed, as the option it names by label or number, else as it is."""
    plain = normalised(text)
    for number, option in enumerate(dialogue.options, start=1):
        if plain in (normalised(option.label), normalised(option.value), str(number)):
            return DialogueAnswer(text=text, value=option.value)
    return DialogueAnswer(text=text)


def tapped(dialogue: Dialogue | None, button: str) -> DialogueAnswer | None:
    """The option a button stands for; None where its question is settled."""
    _, _, rest = button.partition(":")
    key, _, number = rest.partition(":")
    if dialogue is None or key != f"{KEY}{dialogue.ident}" or not is_button(button):
        return None
    return DialogueAnswer(value=dialogue.options[int(number)].value) if int(number) < len(dialogue.options) else None


def is_ours(button: str) -> bool:
    """Whether a button belongs to such a question."""
    return is_button(button) and button.partition(":")[2].startswith(KEY)


def is_end(text: str) -> bool:
    """Whether somebody wants to be asked no further."""
    return normalised(text).strip(" .!") in ENDED


def options(pairs: Sequence[tuple[str, str]]) -> tuple[Option, ...]:
    """Options from pairs of label and value."""
    return tuple(Option(label=label, value=value) for label, value in pairs)


def _name(chat: Chat) -> str:
    return f"asked {chat.chat_id}"
