"""What one clause may mean: one reading, several, or none."""

from dataclasses import dataclass
from typing import Final

from bot.replies.nouns import Meaning, Question, Verb

Meanings = tuple[Meaning, ...]
MOST_TREES: Final = 8  # buttons from which a tree may be picked: a grower's few; no source
MOST_WAYS: Final = 3  # of anything else


@dataclass(frozen=True, kw_only=True)
class Read:
    """The readings of one clause: one is certain, several leave `question` open, none was not understood."""

    options: tuple[Meanings, ...] = ()
    question: Question = Question.WHICH_TREE
    heard: str = ""
    answers_to: Meanings = ()  # offered where nothing was understood


def most_choices(question: Question) -> int:
    """How many choices a question may offer."""
    return MOST_TREES if question is Question.WHICH_TREE else MOST_WAYS


def or_no(read: Read) -> Read:
    """What may have been told, or nothing of it: one tap settles it."""
    if len(read.options) != 1:
        return read
    return Read(options=(read.options[0], (Meaning(verb=Verb.NO),)), question=Question.SO_OR_NOT)
