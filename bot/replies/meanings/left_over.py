"""Words that no line of the grammar accounts for: which deed they may speak of, to be asked about, never recorded."""

from collections.abc import Sequence
from dataclasses import replace

from bot.replies.clause import DEED_WORDS, Clause
from bot.replies.covering import Cover
from bot.replies.grammar import grammar
from bot.replies.grammar.recogniser import Chart
from bot.replies.labels import label
from bot.replies.meanings.deeds import Meanings, read_done
from bot.replies.meanings.targets import verbs_meant
from bot.replies.nouns import Choice, Context, Meaning, NotUnderstood
from bot.replies.words.marking import Marked
from bot.replies.words.names import small_words
from bot.replies.words.spelling import closest

MOST_WORDS = 4  # of what was heard that are said back; no source


def heard_of(clause: Clause) -> str:
    """The words nothing accounts for, without marks and small words, a few of them."""
    words = [word for word in clause.words if word.isalpha() and word not in small_words()]
    return " ".join(words[:MOST_WORDS])


def deeds_spoken_of(cover: Cover, line: Marked, context: Context) -> Meanings | NotUnderstood | None:
    """The deed that words beyond the grammar may tell of.

    Nothing where its verb takes an object that is none of ours ("closed the gate by porch"); the nearest trees where
    that object may be the name of one.
    """
    for clause in cover.lost:
        did, after = _deed_in(clause, line)
        if did is None:
            continue
        thing = _thing(line.words[after : clause.end])
        if thing is not None:
            return _nearest(did, thing, line, context)
        named = tuple(line.trees[int(word[1:])] for word in clause.words if word[0] == "@")
        if not named and _is_of_another(line.words[clause.start : after - 1]):
            return None
        read = read_done(replace(clause, tells="did", did=did, named=named), context, ())
        if len(read.options) == 1 and (named or context.asks):
            return tuple(replace(meaning, at_utc=meaning.at_utc) for meaning in read.options[0])
    return None


def _deed_in(clause: Clause, line: Marked) -> tuple[str | None, int]:
    """The first deed told in a run of words, and where it ends."""
    chart = Chart(line.words)
    for at in range(clause.start, clause.end):
        for name in ("DID", "STATE"):
            for end, kept in sorted(chart.name_at(name, at), reverse=True):
                if end <= clause.end and end > at and kept[0].name in DEED_WORDS:
                    return kept[0].name, end
    return None, 0


def _thing(words: Sequence[str]) -> str | None:
    """What a verb is done to, where that is no tree or part of ours: the first word behind small ones or an article."""
    ours, articles, people = (grammar().words(name) for name in ("PARTS", "DET", "I"))
    for n, word in enumerate(words[:3]):
        if word[0] in "@#%~" or word.isdigit() or word in people - articles:
            return None
        behind = n > 0 and words[n - 1] in articles
        if word not in small_words() or (behind and word not in ours):
            return word if word.isalpha() else None
    return None


def _is_of_another(words: Sequence[str]) -> bool:
    """Whether the deed is told of something named before it that is none of ours: "the shop is closed"."""
    return any(word.isalpha() and word not in small_words() for word in words)


def _nearest(did: str, thing: str, line: Marked, context: Context) -> NotUnderstood:
    """What was heard, and the trees whose names come nearest where none was named."""
    trees = [tree for tree in closest(thing, [tree.name for tree in context.trees]) if not line.trees]
    found = [m for tree in trees[:3] for m in _on_tree(did, tree)]
    choices = tuple(Choice(label=label((m,), context), meanings=(m,)) for m in found[:3])
    return NotUnderstood(heard=f"{did}, but not '{thing}'", choices=choices if _may_be(thing, trees) else ())


def _may_be(thing: str, trees: list[str]) -> bool:
    return bool(trees) and any(word[:1] == thing[:1] for word in trees[0].casefold().split())


def _on_tree(did: str, tree: str) -> list[Meaning]:
    return [Meaning(verb=verb, trees=(tree,), through_typo=True) for verb in verbs_meant(did)[:1]]
