"""A part of a reply made ready for the phrases of season and jobs, and the readings of several parts joined."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from bot.replies.nouns import Ambiguous, Context, NotUnderstood, Reply, Understood
from bot.replies.words.names import Named, lexicon, mark_trees
from bot.replies.words.normalising import normalised
from bot.replies.words.spelling import one_slip_mended
from bot.replies.words.times import Moment
from bot.replies.words.vocabulary import FORMS


@dataclass(frozen=True, kw_only=True)
class MarkedLine:
    """A part of a reply with its trees, and perhaps its times, in marks; `spoken` is what was typed."""

    text: str
    named: list[Named]
    spoken: str
    moments: Sequence[Moment] = ()

    def trees(self) -> list[Named]:
        """The trees named; "figs" is fruit where a tree is named besides."""
        single = [named for named in self.named if not named.is_group]
        return single or self.named

    def tree(self, mark: str) -> Named:
        """The tree behind a mark such as "@0"."""
        return self.named[int(mark[1:])]


def line_of(
    text: str, context: Context, worth_mending: Sequence[str], spelled: frozenset[str] = frozenset()
) -> MarkedLine:
    """The line with its trees in marks, one slip forgiven in the words worth it; `spelled` are right as they stand."""
    names = lexicon(context.trees)
    right = names.words | spelled
    words = [one_slip_mended(word, worth_mending, right) for word in normalised(text).split()]
    marked, named = mark_trees(words, names, frozenset())
    return MarkedLine(text=" ".join(marked), named=named, spoken=text)


def tells_of_deeds(text: str) -> bool:
    """Whether a word of it is one of a deed."""
    return any(word in FORMS for word in normalised(text).split())


def joined(replies: Sequence[Reply]) -> Reply:
    """One reply of several; what is certain beside the choices of what is not."""
    certain = tuple(m for one in replies if isinstance(one, Understood) for m in one.meanings)
    for one in replies:
        if isinstance(one, NotUnderstood):
            return one
        if isinstance(one, Ambiguous):
            return replace(one, certain=(*certain, *one.certain))
    return Understood(meanings=certain)
