"""A reply with what can be told at once replaced by marks: its trees, its times, its temperatures."""

import re
from dataclasses import dataclass

from bot.replies.nouns import Context
from bot.replies.words.names import Named, lexicon, mark_trees, reserved_names
from bot.replies.words.normalising import normalised
from bot.replies.words.numbers import Temperature, mark_temperatures, split_lists, spread_ranges
from bot.replies.words.spelling import nearest_word
from bot.replies.words.times import Moment, mark_times
from bot.replies.words.vocabulary import FORMS


@dataclass(kw_only=True)
class Marked:
    """A reply with its trees, times and temperatures replaced by marks."""

    text: str
    trees: list[Named]
    moments: list[Moment]
    temperatures: list[Temperature]
    through_typo: bool

    @property
    def trees_named(self) -> tuple[str, ...]:
        """Every tree that is named, each once."""
        return tuple(dict.fromkeys(tree for named in self.trees for tree in named.trees))


def marked(text: str, context: Context, *, keep_reserved: bool) -> Marked:
    """The reply in marks. `keep_reserved` leaves words that are both a tree's name and grammar to the grammar."""
    plain = normalised(text)
    names = lexicon(context.trees)
    spoken = plain.split()
    words = [nearest_word(word, names.words) if word.isalpha() else word for word in spoken]
    through_typo = words != spoken
    hidden = reserved_names(context.trees) if keep_reserved else frozenset()
    words, trees = mark_trees(words, names, hidden)
    highest = max((tree.number for tree in context.trees), default=0)
    line = spread_ranges(" ".join(words), highest)
    if _speaks_of_items(words, context):
        line = split_lists(line, highest)
    line, moments = mark_times(line, context)
    line, temperatures = mark_temperatures(line, fahrenheit=context.fahrenheit)
    return Marked(text=line, trees=trees, moments=moments, temperatures=temperatures, through_typo=through_typo)


def _speaks_of_items(words: list[str], context: Context) -> bool:
    deeds = any(word in FORMS for word in words)
    return deeds or (bool(context.asks) and all(re.fullmatch(r"\d(?:,\d)+", word) for word in words))
