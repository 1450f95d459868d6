"""Short words: help, thanks, yes and no, not yet, a note to keep."""

from typing import Final

from bot.answers.exchange import Answer, Exchange, ask_of_button, context_of, undo_button
from bot.answers.noting import source_of
from bot.logbook import Note, note_entry, nudge_by_id
from bot.messages import Button
from bot.replies import Meaning, OpenAsk, Verb, button_data
from bot.wording import acknowledging as say
from bot.wording.covers.words import Covers, do_words, done_label, done_words
from bot.wording.formats import sentence
from bot.wording.people import talk
from rules.garden.records import DeedKind

MOST_ASKS: Final = 3  # offered at once
LABEL_TREES: Final = 2  # named on a button; more make it too long for a phone
HEART: Final = "\N{HEAVY BLACK HEART}"  # as a reaction: one of those the messenger takes (Bot API)


def give_help(exchange: Exchange, _: Meaning) -> list[Answer]:
    """What can be said."""
    return [Answer(text=talk.help_words(exchange.style, talk.short_of(exchange.garden.trees)))]


def not_done_yet(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """Told that it is not done: the nudge stays open."""
    return [Answer(text=say.not_done(meaning.trees, exchange.outlook(), exchange.style))]


def promised(_: Exchange, __: Meaning) -> list[Answer]:
    """Told that it will be done: the nudge stays open."""
    return [Answer(text="Good. Tell me when it is done.")]


def beyond_us(_: Exchange, __: Meaning) -> list[Answer]:
    """Asked in earnest, but nothing that we know."""
    return [Answer(text="That I cannot know. Ask me about the cold, your trees, their covers and what to do for them.")]


def thanked(_: Exchange, __: Meaning) -> list[Answer]:
    """A thank-you."""
    return [Answer(text="You are welcome.", reaction=HEART)]


def all_fine(_: Exchange, __: Meaning) -> list[Answer]:
    """Somebody who looked and found nothing wrong."""
    return [Answer(text="Good. Nothing wrong there, so there is nothing to note.")]


def greeted(exchange: Exchange, _: Meaning) -> list[Answer]:
    """A greeting."""
    return [Answer(text=talk.hello(exchange.garden.name, len(exchange.garden.trees)))]


def code_again(_: Exchange, __: Meaning) -> list[Answer]:
    """A code from somebody who is let in."""
    return [Answer(text="You are let in already; a code is for a new phone.")]


def bare_yes(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """A bare yes may mean done or will do: never taken for a deed, but offered as one."""
    ask = ask_of_button(exchange, meaning.ask_key or "")
    if ask is not None:
        what = do_words(DeedKind(ask.verb.value), ask.trees, exchange.covers)
        return [Answer(text=f"Yes to: {what}. Done, or will do?", buttons=_done_or_will(exchange, ask))]
    asks = context_of(exchange).asks[-MOST_ASKS:]
    if not asks:
        return [Answer(text="Nothing waits for an answer just now.")]
    buttons = tuple(_button(exchange, ask, ask.verb, _short(ask, exchange.covers)) for ask in asks)
    return [Answer(text="Yes to which? Done:", buttons=buttons)]


def _done_or_will(exchange: Exchange, ask: OpenAsk) -> tuple[Button, ...]:
    done = done_label(DeedKind(ask.verb.value), ask.trees, exchange.covers)
    return _button(exchange, ask, ask.verb, done), _button(exchange, ask, Verb.WILL_DO, "Will do")


def _button(exchange: Exchange, ask: OpenAsk, verb: Verb, label: str) -> Button:
    nudge = nudge_by_id(exchange.c, exchange.garden.name, int(ask.key[1:]))
    return Button(label=label, data=button_data(verb, ask.key, nudge.generation if nudge else 0))


def _short(ask: OpenAsk, covers: Covers) -> str:
    more = f" and {len(ask.trees) - 1} more" if len(ask.trees) > LABEL_TREES else ""
    named = ask.trees[:1] if more else ask.trees
    return f"{sentence(done_words(DeedKind(ask.verb.value), named, covers)).rstrip('.')}{more}"


def bare_no(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """A bare no; about trees it means not done."""
    if not meaning.trees:
        return [Answer(text="All right. Nothing changed.")]
    return not_done_yet(exchange, meaning)


def keep_note(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """A note kept with the garden, or with the one tree it names."""
    text = meaning.text.strip()
    if not text:
        return [Answer(text='What shall I keep? Say for example "note: pruned the wall".')]
    tree = _tree_spoken_of(exchange, text)
    note_entry(exchange.c, source_of(exchange), Note(tree=tree, text=text, at_utc=exchange.now))
    return [Answer(text=f"Kept{f' with {tree}' if tree else ''}: {text}", buttons=(undo_button(exchange),))]


def _tree_spoken_of(exchange: Exchange, text: str) -> str:
    """The one tree whose name or short name stands in the words; empty where none does, or several do."""
    words = f" {' '.join(''.join(c if c.isalnum() else ' ' for c in text.casefold()).split())} "
    found = [
        tree.name
        for tree in exchange.garden.trees
        if any(f" {name.casefold()} " in words for name in (tree.name, *tree.short_names))
    ]
    return found[0] if len(found) == 1 else ""
