"""What was told last put right at length: which trees, which deed or which hour it was instead.

"I said wall, I meant bench. porch is right": each tree has its part, as wrong, as meant or as right. What else is said
makes it an offer and no record.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Final

from bot.replies.nouns import (
    Ambiguous,
    Choice,
    Context,
    Meaning,
    NotUnderstood,
    Question,
    Reply,
    Understood,
    Verb,
)
from bot.replies.talk.parts import BEGINS, SMALL, STOPS, TURNS, WRONG, Parts, parts_of, pieces
from bot.replies.talk.picking import STATES
from bot.replies.words.marking import Marked
from bot.replies.words.numbers import NUMBER_WORDS, number_of
from bot.replies.words.spelling import deed_forms

Meanings = tuple[Meaning, ...]
OTHER_DEED: Final = frozenset(("opposite", "contrary", "word"))
WITHDRAWS: Final = frozenset(("forget", "ignore", "disregard", "scrap", "strike", "delete", "bin"))
ELSEWHERE: Final = frozenset(("chat", "group", "person", "window", "number"))  # "wrong chat"
OPPOSITE: Final = {
    Verb.CLOSED: Verb.VENTED, Verb.VENTED: Verb.CLOSED, Verb.WRAPPED: Verb.STRIPPED, Verb.STRIPPED: Verb.VENTED,
}  # fmt: skip
SAME: Final = timedelta(minutes=1)
AS_NOTED: Final = Choice(label="As noted before", meanings=(Meaning(verb=Verb.NO),))
NEAR_C: Final = 0.6  # a whole degree Fahrenheit as it is rounded


def instead(line: Marked, context: Context) -> Reply | None:
    """What is told instead of the last: at once where each word is of that, else offered."""
    last, words = context.last_told, set(line.words)
    if (
        not (last and _turns(line))
        or "?" in words
        or _is_a_fresh_start(line)
        or any(not (one.is_deed or one.verb is Verb.READING) for one in last)
    ):
        return None
    if any(ask.verb is not last[0].verb and set(line.trees_named) & set(ask.trees) for ask in context.asks):
        return None  # it answers what is asked
    if "wrong" in words and words & ELSEWHERE:
        alone = words <= SMALL | ELSEWHERE | {"wrong", "sorry", "oops", ".", ","}
        return Understood(meanings=(Meaning(verb=Verb.UNDO),)) if alone else NotUnderstood(is_ours=False)
    told = (
        _other_number(line, last)
        or _other_time(line, context)
        or _other_deed(line, context)
        or _other_trees(line, context)
    )
    return told or (_taken_back(last) if _is_withdrawn(line) else None)


def _is_a_fresh_start(line: Marked) -> bool:
    """ "Forget porch": what was learned of a tree, not what was told last."""
    return line.words[0] == "forget" and all(word[0] == "@" or word in ("the", "my", "and") for word in line.words[1:])


def _turns(line: Marked) -> bool:
    """Whether it begins to put something right."""
    words = line.words
    pairs = set(pairwise(words))
    denied = any(
        "not" in words[max(0, n - 2) : n] and (word[0] in "@#" or _hour(word)) for n, word in enumerate(words) if n > 1
    )
    told = bool(pairs & {("i", "told"), ("i", "said"), ("told", "you")}) or line.typed.lstrip().startswith("*")
    return told or denied or not BEGINS.isdisjoint(words[:2]) or not TURNS.isdisjoint(words)


def _is_withdrawn(line: Marked) -> bool:
    """ "The last thing I said, forget it", "no, the other one"."""
    words = set(line.words)
    forgets = bool(words & WITHDRAWS and words & {"it", "that", "thing", "last"}) or {"no", "other"} <= words
    dated = any(not one.is_today for one in line.moments)
    return forgets and not (line.trees or dated) and deed_forms().isdisjoint(words)


def _taken_back(last: Meanings) -> Ambiguous:
    names = _names(tuple(tree for one in last for tree in one.trees))
    taken = Choice(label=f"Take back {names}", meanings=(Meaning(verb=Verb.UNDO),))
    return Ambiguous(question=Question.TAKE_BACK, choices=(taken, AS_NOTED))


def _other_trees(line: Marked, context: Context) -> Reply | None:
    last = context.last_told
    before = tuple(dict.fromkeys(tree for one in last for tree in one.trees))
    parts = parts_of(line, before, last)
    if parts is None or not (parts.wrong or parts.meant) or not set(parts.right) <= set(before):
        return None
    if (len({one.trees for one in last}) != 1 and parts.meant) or (line.temperatures and not parts.meant):
        return None
    if not parts.wrong and len(before) - len(set(parts.right)) > 1:
        return _in_place_of_one(last, parts, before)
    wrong = parts.wrong or tuple(tree for tree in before if tree not in parts.right)
    return _as_told(_changed(last, wrong, parts.meant), wrong, is_sure=parts.is_sure)


def _in_place_of_one(last: Meanings, parts: Parts, before: Sequence[str]) -> Ambiguous:
    """ "*porch" behind "closed bench and wall": in place of which?"""
    open_to = [tree for tree in before if tree not in parts.right][:2]
    ways = [
        (f"{_names(parts.meant)}, not {tree}", (Meaning(verb=Verb.UNDO), *_changed(last, (tree,), parts.meant)))
        for tree in open_to
    ]
    ways += [(f"{_names(parts.meant)} too", tuple(replace(one, trees=parts.meant) for one in last))]
    return Ambiguous(question=Question.TAKE_BACK, choices=tuple(Choice(label=name, meanings=way) for name, way in ways))


def _changed(last: Meanings, wrong: Sequence[str], meant: Sequence[str]) -> Meanings:
    told = (replace(one, trees=(*(tree for tree in one.trees if tree not in wrong), *meant)) for one in last)
    return tuple(one for one in told if one.trees)


def _as_told(told: Meanings, wrong: Sequence[str], *, is_sure: bool) -> Reply:
    changed = (Meaning(verb=Verb.UNDO), *told)
    if is_sure:
        return Understood(meanings=changed)
    said = [f"{_names(one.trees)} {one.verb.value}" for one in told]
    denied = [f"not {_names(wrong)}"] if wrong else []
    name = ", ".join([*said, *denied])
    return Ambiguous(question=Question.TAKE_BACK, choices=(Choice(label=name, meanings=changed), AS_NOTED))


def _names(trees: Sequence[str]) -> str:
    return " and ".join(dict.fromkeys(trees))


def _other_number(line: Marked, last: Meanings) -> Reply | None:
    """ "I said minus seven, but it was minus eleven"."""
    was, said = last[0].air_c, [one.air_c for one in line.temperatures if one.air_c is not None]
    meant = {air_c for air_c in said if was is not None and abs(air_c - was) > NEAR_C}
    if len(last) != 1 or len(meant) != 1 or len(meant) == len(said) or not set(line.trees_named) <= set(last[0].trees):
        return None
    return _as_told((replace(last[0], air_c=meant.pop()),), (), is_sure=False)


def _other_deed(line: Marked, context: Context) -> Reply | None:
    """ "Oops opposite, I opened them": the other deed on the same trees."""
    last, words = context.last_told, line.words
    verb, before = last[0].verb, {tree for one in last for tree in one.trees}
    told = {STATES[word] for n, word in enumerate(words) if word in STATES and "not" not in words[max(0, n - 2) : n]}
    meant = told - {verb, None}
    named = set(line.trees_named)
    turned = set(words) & OTHER_DEED
    if not turned or len(last) != 1 or not named <= before or meant - {OPPOSITE.get(verb)} or not last[0].is_deed:
        return None
    trees = tuple(tree for tree in last[0].trees if not named or tree in named)
    told_now = (replace(last[0], verb=OPPOSITE[verb], trees=trees),)
    rest = _changed(last, trees, ())
    return _as_told((*rest, *told_now), (), is_sure=len(meant) == 1 and "word" not in turned)


def _other_time(line: Marked, context: Context) -> Reply | None:
    """ "I said four not five", "the 17:30 was wrong, it was 18:30": the same deed at the other time."""
    last, at = context.last_told, context.last_told[0].at_utc
    before = {tree for one in last for tree in one.trees}
    if at is None or not all(one.is_deed for one in last) or not set(line.trees_named) <= before:
        return None
    wrong: list[datetime] = []
    meant: list[datetime] = []
    for n, when in _times(line, at, context):
        piece = next((line.words[a:b] for a, b in pieces(line.words) if a <= n < b), line.words)
        denied = "not" in line.words[max(0, n - 2) : n] or (set(piece) & WRONG - {"not"} and n <= _turn(line))
        (wrong if denied else meant).append(when)
    apart = [one for n, one in enumerate(meant) if all(abs(one - other) > SAME for other in meant[:n])]
    if len(apart) != 1 or any(abs(one - apart[0]) < SAME for one in wrong) or not (wrong or "wrong" in line.words):
        return None
    named_again, named = bool(line.trees), tuple(line.trees_named) or tuple(before)
    told = tuple(replace(one, at_utc=apart[0], trees=tuple(t for t in one.trees if t in named)) for one in last)
    rest = _changed(last, named, ())
    plain = all(
        word in SMALL or word[0] in "#@" or word.isdigit() or word in STOPS or word in NUMBER_WORDS
        for word in line.words
    )
    if not (plain or named_again or not deed_forms().isdisjoint(line.words)):
        return None  # "paracetamol at 4, next not before 8"
    return _as_told((*rest, *(one for one in told if one.trees)), (), is_sure=len(wrong) == 1 and plain)


def _turn(line: Marked) -> int:
    return max(n for n, word in enumerate(line.words) if word in WRONG - {"not"})


def _times(line: Marked, at: datetime, context: Context) -> Iterator[tuple[int, datetime]]:
    """The times said, also as bare hours, each the one nearest to what was told."""
    for n, word in enumerate(line.words):
        if word[0] == "#":
            moment = line.moment_of(word)
            near = sorted(moment.past or moment.told, key=lambda one: abs(one - at))
            yield from ((n, one) for one in near[:1] if not moment.is_today)
        elif hour := _hour(word):
            half = 30 * (line.words[n - 1 : n] == ["half"])
            local = at.astimezone(context.zone).replace(minute=half, second=0, microsecond=0)
            both = [local.replace(hour=one).astimezone(UTC) for one in (hour % 12, hour % 12 + 12)]
            yield n, min(both, key=lambda one: abs(one - at))


def _hour(word: str) -> int:
    number = number_of(word) if word.isdigit() or word in NUMBER_WORDS else None
    return int(number) if number is not None and number <= LAST_HOUR else 0


LAST_HOUR: Final = 12
