"""Words that no line of the grammar accounts for: which deed they may speak of, to be asked about, never recorded."""

from collections.abc import Sequence
from dataclasses import replace
from functools import cache

from bot.replies.clause import DEED_WORDS, Clause
from bot.replies.covering import ASKING, JOINS, STOPS, Cover
from bot.replies.grammar import grammar, ours
from bot.replies.grammar.recogniser import Chart, chart_of, kind_of
from bot.replies.labels import label
from bot.replies.meanings.deeds import read_done
from bot.replies.meanings.read import Meanings
from bot.replies.meanings.targets import verbs_meant
from bot.replies.nouns import REFUSALS, Choice, Context, Meaning, NotUnderstood, Verb
from bot.replies.words.marking import Marked
from bot.replies.words.names import small_words
from bot.replies.words.numbers import believed
from bot.replies.words.spelling import closest, deed_forms

MOST_WORDS = 4  # of what was heard that are said back; no source


def heard_of(clause: Clause) -> str:
    """The words nothing accounts for, without marks and small words, a few of them."""
    words = [word for word in clause.words if word.isalpha() and word not in small_words()]
    return " ".join(words[:MOST_WORDS])


def said_of(clause: Clause) -> str:
    """The words of a clause as they were said, as many as may be said back."""
    words = [word.removeprefix("&") for _, word in _without_harmless(clause, clause.marked) if word[0] not in "@#%~"]
    return " ".join(words[: MOST_WORDS + 2]) + ("…" if len(words) > MOST_WORDS + 2 else "")


def is_none_of_ours(clause: Clause, line: Marked, beside: Meanings, behind: str = "") -> bool:
    """Whether words beside what was told are a clause of their own that holds none of our words.

    Our words are trees, deeds, covers, times, numbers, and what denies, doubts, jokes, supposes, promises or puts
    right. Beside a deed none may tell of any deed; beside what is none, of a deed to something of another's. Beside
    refusals or promises, which note no deed, or right `behind` one, they are its reason.
    """
    plain, deeds = _without_harmless(clause, line), any(meaning.is_deed for meaning in beside)
    words = {word for _, word in plain}
    if not words:
        return True
    if line.words[clause.end : clause.end + 1] == ["?"]:
        return False
    if (beside and all(meaning.verb in REFUSALS for meaning in beside)) or behind in _REASONED_TELLS:
        return not (words & ours().words("JOKES", "CORRECTS")) and not any(word[0] in "@%~" for word in words)
    if not _stands_apart(clause, line, of_deed=deeds):
        return False
    if any(_is_mark_of_ours(word, line) for word in words):
        return False
    if clause.words[0] in _BECAUSE:
        return not (words - {"too"}) & ours().words("DENIES", "DOUBTS", "JOKES", "CORRECTS", "SUPPOSES")
    told = [n for n, word in plain if word in deed_forms()]
    if not deeds and beside and not told and not words & ours().words("LID", "WRAP", "PLANT", "BEFALLS"):
        return not words & ours().words("DENIES", "DOUBTS", "JOKES", "CORRECTS", "SUPPOSES", "PROMISES")
    return not words & _our_things() and (
        not told or (not deeds and _is_of_another(line.words[clause.start : told[0]]))
    )


def is_mere_talk(clause: Clause, line: Marked) -> bool:
    """Whether none of its words tells, denies, doubts or puts right anything."""
    words = {word for _, word in _without_harmless(clause, line)}
    return not any(_is_mark_of_ours(word, line) for word in words) and not words & (_our_things() | deed_forms())


_REASONED_TELLS = frozenset(("cannot", "not_done", "later", "plan", "half"))
_BECAUSE = frozenset(("because", "cause", "cos"))
_ADDED = _BECAUSE | {"with", "while", "what", "which"}


@cache
def _our_things() -> frozenset[str]:
    return ours().words("OUR_THINGS") - grammar().words("DET") | {"its", "that", "which", "this"}


def _without_harmless(clause: Clause, line: Marked) -> list[tuple[int, str]]:
    chart, at = Chart(line.words, by=ours()), clause.start
    kept: list[tuple[int, str]] = []
    while at < clause.end:
        ends = [end for end, _ in chart.name_at("HARMLESS", at) if at < end <= clause.end]
        kept += [] if ends else [(at, line.words[at])]
        at = max(ends, default=at + 1)
    return kept


def _is_mark_of_ours(word: str, line: Marked) -> bool:
    """Whether it is a tree, a number, or a time that says more than now."""
    if kind_of(word) == "#":
        return not line.moment_of(word).is_today
    return kind_of(word) in "@%~1w" or word.endswith("'ll") or any(letter.isdigit() for letter in word)


def _stands_apart(clause: Clause, line: Marked, *, of_deed: bool) -> bool:
    """Whether it is a clause of its own: it says what somebody or something does, or is a sentence beside no deed.

    "Closed porch. The gate" may put right what was closed.
    """
    edges = {*line.words[max(0, clause.start - 1) : clause.start], *line.words[clause.end : clause.end + 1]}
    words = [word for word in clause.words if word not in STOPS]
    if len(words) < 2 or edges & (JOINS - {"so", "and", "then"}):
        return False
    acts = words[0] in ours().words("SUBJECT") or words[0][0] == "&" or words[0].endswith("'s")
    acts = acts or any(word in ours().words("FINITE") or word.endswith(("'s", "ed")) for word in words[1:])
    told = len(words) > 2 and words[0] not in grammar().words("OF") | {"inside", "outside", "under", "with"}
    added = words[0] in _ADDED and (words[0] != "with" or bool(edges & STOPS))  # "covered the wall with primer"
    return acts or added or (not of_deed and told and edges <= {".", "!", ";"})


def fitting(line: Marked, context: Context) -> tuple[Choice, ...]:
    """Two or three things that words not understood may have been about: what is asked, the tree named, what is due."""
    found: list[tuple[str, Meaning]] = []
    for ask in context.asks[:1]:
        ways = [Meaning(verb=verb, trees=ask.trees, ask_key=ask.key) for verb in (ask.verb, Verb.NOT_DONE)]
        found += [(label((one,), context), one) for one in ways]
    found += [(label((one,), context), one) for one in _readings(line, context)]
    named = [one.trees for one in line.trees if len(one.trees) == 1]
    found += [(f"{tree}: how it stands", Meaning(verb=Verb.TREES, trees=(tree,))) for (tree,) in named[:1]]
    found += [("what is due", Meaning(verb=Verb.DUE))]
    kept = [*found[:2], ("a note to keep", Meaning(verb=Verb.NOTE, text=line.typed))]
    return tuple(Choice(label=words, meanings=(meant,)) for words, meant in kept)


def speaks_of_ours(line: Marked) -> bool:
    """Whether any word is of trees, covers or cold; the neighbour's tree is none of ours."""
    kept = [
        word
        for n, word in enumerate(line.words)
        if line.words[max(0, n - 1) : n] not in (["neighbor's"], ["neighbour's"], ["neighbors"], ["neighbours"])
    ]
    return any(word[0] in "@%" for word in kept) or not ours().words(*_SUBJECTS).isdisjoint(kept)


_SUBJECTS = ("LID", "WRAP", "PLANT", "COLD", "ABSENT")


def _readings(line: Marked, context: Context) -> list[Meaning]:
    """The numbers of a reply as readings at its first tree: "13 or 18 at wall"."""
    trees = [one.trees[0] for one in line.trees if len(one.trees) == 1][:1]
    bare = [
        believed(float(w), fahrenheit=context.fahrenheit, as_written=w)
        for w in line.words
        if w.isdigit() and len(w) < 3
    ]
    shown = [one.air_c for one in (*line.temperatures, *bare) if one.air_c is not None]
    return [Meaning(verb=Verb.READING, trees=(tree,), air_c=air_c) for tree in trees for air_c in shown[:2]]


def deeds_spoken_of(cover: Cover, line: Marked, context: Context) -> Meanings | NotUnderstood | None:
    """The deed that words beyond the grammar may tell of.

    Nothing where its verb takes an object that is none of ours ("closed the gate by porch"); the nearest trees where
    that object may be the name of one.
    """
    for clause in cover.lost:
        did, after = _deed_in(clause, line)
        if did is None or clause.words[0] in ASKING:
            continue
        thing = _thing(line.words[after : clause.end])
        if thing is not None:
            return _nearest(did, thing, line, context)
        named = tuple(line.tree_of(word) for word in clause.words if word[0] == "@")
        if not named and _is_of_another(line.words[clause.start : after - 1]):
            return None
        read = read_done(replace(clause, tells="did", did=did, named=named), context, ())
        if len(read.options) == 1 and (named or context.asks or context.lapsed):
            return tuple(replace(meaning, at_utc=meaning.at_utc) for meaning in read.options[0])
    return None


def _deed_in(clause: Clause, line: Marked) -> tuple[str | None, int]:
    """The first deed told in a run of words, and where it ends."""
    chart = chart_of(tuple(line.words))
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
    heard = small_words() | ours().words("DOUBTS")  # "ben says he did": asked back
    return any(word.isalpha() and word not in heard for word in words)


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
