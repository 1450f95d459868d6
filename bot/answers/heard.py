"""What is heard though nothing is reckoned with it yet: kept as a note and said so; never a deed."""

from bot.answers.exchange import Answer, Exchange, undo_button
from bot.answers.noting import source_of
from bot.logbook import Note, note_words
from bot.replies import Meaning
from bot.wording.people import heard as say


def hear_stock(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """What lies in the shed."""
    return [_kept(exchange, meaning, say.stock(meaning.text, meaning.count))]


def _kept(exchange: Exchange, meaning: Meaning, text: str) -> Answer:
    """The words as they were said, kept as a note."""
    words = exchange.incoming.text.strip() or meaning.text
    note_words(exchange.c, source_of(exchange), Note(tree="", text=words, at_utc=exchange.now))
    return Answer(text=text, buttons=(undo_button(exchange),), must_be_heard=True)
