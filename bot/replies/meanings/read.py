"""What one clause may mean: one reading, several, or none."""

from dataclasses import dataclass

from bot.replies.nouns import Meaning, Question, Verb

Meanings = tuple[Meaning, ...]


@dataclass(frozen=True, kw_only=True)
class Read:
    """The readings of one clause: one is certain, several leave `question` open, none was not understood."""

    options: tuple[Meanings, ...] = ()
    question: Question = Question.WHICH_TREE
    heard: str = ""
    answers_to: Meanings = ()  # offered where nothing was understood


def or_no(read: Read) -> Read:
    """What may have been told, or nothing of it: one tap settles it."""
    if len(read.options) != 1:
        return read
    return Read(options=(read.options[0], (Meaning(verb=Verb.NO),)), question=Question.SO_OR_NOT)
