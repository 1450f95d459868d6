"""The clauses' readings as one reply: what is certain, what is asked, and what of words that nothing accounts for."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Final

from bot.replies.clause import Clause
from bot.replies.covering import LEFT_OVER, Cover
from bot.replies.labels import label
from bot.replies.learned.asking import BEYOND, UNDECIDED
from bot.replies.learned.clauses import ALONE, is_deed_told
from bot.replies.meanings.left_over import deeds_spoken_of, is_none_of_ours, said_of
from bot.replies.meanings.read import Meanings, Read, most_choices
from bot.replies.nouns import (
    DEEDS,
    REFUSALS,
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
from bot.replies.talk.correcting import denied
from bot.replies.words.marking import Marked
from bot.replies.words.spelling import deed_forms
from rules.garden.condition import ConditionKind

TELLS: Final = frozenset(DEEDS) | {
    *(Verb.NOT_DONE, Verb.CANNOT, Verb.SNOOZE, Verb.WILL_DO, Verb.READING, Verb.SIGHTING, Verb.AWAY, Verb.HAND_OVER),
    *(Verb.DIEBACK, Verb.PICKED, Verb.PRUNED, Verb.CUTTINGS, Verb.GIVE, Verb.JOB, Verb.CONDITION),
    *(Verb.BACK, Verb.STOP, Verb.START, Verb.WAKE, Verb.LET_SLEEP, Verb.TENDING, Verb.FREE_HOURS, Verb.STOCK),
}
UNKNOWN: Final = (UNDECIDED, BEYOND)
_RECORDS: Final = TELLS - {Verb.NOT_DONE, Verb.WILL_DO, Verb.CANNOT}
SMALL_TALK: Final = frozenset((Verb.YES, Verb.NO, Verb.THANKS, Verb.HELLO))
_OF_WHAT_BEFELL: Final = frozenset((Verb.MORE, Verb.DUE, Verb.TONIGHT, Verb.NEED, Verb.HOW_TO, Verb.TREES))
_LEFT_OPEN: Final = frozenset((Verb.SNOOZE, Verb.CANNOT, Verb.WILL_DO))
_UNSAID: Final = frozenset((Verb.NOT_DONE, Verb.NO))


def assembled(reads: list[Read], cover: Cover, line: Marked, context: Context) -> Reply:
    """The clauses' readings as one reply: what is certain beside the choices of what is not.

    Words that nothing accounts for are left out, and said to be, where they are none of our business.
    """
    lost = [read for read in reads if not read.options]
    certain = tuple(meaning for read in reads if len(read.options) == 1 for meaning in read.options[0])
    certain = _with_typo(_by_itself(_merged(certain)), line)
    if any(meaning.verb is Verb.MEAN for meaning in certain):
        certain = tuple(meaning for meaning in certain if not meaning.is_deed)  # words of ours that are asked about
    taken_back = denied(certain, line, context)
    if taken_back is not None:
        return taken_back
    runs, told = cover.lost, any(read.options for read in reads)
    only_talk = all(m.verb in SMALL_TALK for m in certain) and not any(len(read.options) > 1 for read in reads)
    apart = len(runs) == len(lost) and all(is_none_of_ours(run, line, certain, _before(run, cover)) for run in runs)
    if not told or not reads or (lost and not apart) or (lost and only_talk):
        return _beside_lost(lost, certain, cover, line, context)
    return _told(reads, certain, _unread(cover), cover, line, context)


def _by_itself(told: Meanings) -> Meanings:
    """ "The storm took the cap off the wall": nobody opened what lost its top."""
    lost = {tree for one in told if one.condition is ConditionKind.TOP_GONE for tree in one.trees}
    return tuple(one for one in told if one.verb is not Verb.VENTED or not lost.issuperset(one.trees) or not lost)


def _before(run: Clause, cover: Cover) -> str:
    """What the clause right before a run of words tells."""
    told = [one for one in cover.clauses if one.end <= run.start and one.tells not in (LEFT_OVER, "aside")]
    return told[-1].tells if told else ""


def _unread(cover: Cover) -> str:
    """The words that are left out: what no line accounts for, and what is asked beside it and nobody knows."""
    told = any(one.tells not in (*UNKNOWN, LEFT_OVER, "aside", "hour") for one in cover.clauses)
    left = [one for one in cover.clauses if one.tells == LEFT_OVER or (told and one.tells in UNKNOWN)]
    return "; ".join(filter(None, map(said_of, left)))


def _told(reads: list[Read], certain: Meanings, unread: str, cover: Cover, line: Marked, context: Context) -> Reply:
    unsure = [read for read in reads if len(read.options) > 1]
    if _takes_back(certain):
        return done_or_not(certain, context)
    certain = _without_its_question(_not_denied(certain, cover.clauses), reads)
    if not unsure:
        return Understood(meanings=certain, unread=unread)
    doubted = [one for read in unsure for one in read.options[0] if one.is_deed and one.at_utc is not None]
    certain = tuple(m for m in certain if m.at_utc is not None or not any(_is_same(m, one) for one in doubted))
    asked = {tree for read in unsure for way in read.options for one in way if one.is_deed for tree in one.trees}
    certain = tuple(m for m in certain if m.verb is not Verb.NOT_DONE or set(m.trees) != asked)
    at_once = unsure[0].question in (Question.WHICH_NUMBER, Question.DONE_OR_NOT)  # °F or °C: of all that were read
    alike = [read for read in unsure if at_once and read.question is unsure[0].question] or unsure[:1]
    refused = {tree for one in certain if one.verb in REFUSALS for tree in one.trees}
    joint = [
        tuple(dict.fromkeys(one for way in ways for one in way))
        for ways in zip(*(read.options for read in alike), strict=False)
    ]
    joint = [tuple(one for one in way if not _says_again(one, way)) for way in joint]
    choices = [_without(refused, _with_typo(option, line)) for option in joint[: most_choices(unsure[0].question)]]
    return Ambiguous(
        question=unsure[0].question,
        choices=tuple(Choice(label=label(option, context), meanings=option) for option in choices),
        certain=certain,
        unread=unread,
    )


def _is_same(deed: Meaning, other: Meaning) -> bool:
    return deed.verb is other.verb and set(deed.trees) <= set(other.trees)


def _without_its_question(certain: Meanings, reads: list[Read]) -> Meanings:
    """What befell a cover is answered with what to do about it: "is that bad" behind it asks no more."""
    told = [any(_befell(one) for way in read.options for one in way) for read in reads]
    behind = reads[told.index(True) :] if any(told) else []
    asked = {one for read in behind for way in read.options for one in way if one.verb in _OF_WHAT_BEFELL}
    return tuple(one for one in certain if one not in asked or one.trees or one.at_utc)


def _befell(one: Meaning) -> bool:
    return one.verb is Verb.CONDITION and one.condition is not ConditionKind.MOVED


def _without(refused: set[str], way: Meanings) -> Meanings:
    """A choice without the trees of which it is certain that nothing was done."""
    left = ((one, tuple(tree for tree in one.trees if tree not in refused)) for one in way)
    return tuple(replace(one, trees=trees) for one, trees in left if trees) or way


def _with_typo(meanings: Meanings, line: Marked) -> Meanings:
    return tuple(replace(meaning, through_typo=line.through_typo) for meaning in meanings)


def _takes_back(told: Meanings) -> bool:
    """Whether a denial beside a deed may be of that deed: it names no tree, or one of the same."""
    done = {tree for meaning in told if meaning.is_deed for tree in meaning.trees}
    if any(before.is_deed and meaning.verb is Verb.UNDO for before, meaning in pairwise(told)):
        return True  # "closed porch, cancel that"
    return bool(done) and any(
        (meaning.verb in _UNSAID and (not meaning.trees or done & set(meaning.trees)))
        or (meaning.verb in _LEFT_OPEN and done and done <= set(meaning.trees))
        for meaning in told
    )


def _not_denied(told: Meanings, clauses: Sequence[Clause]) -> Meanings:
    """What is told without what is denied: jobs and sights by a bare denial, a deed by one of its tree."""
    denials = [one for one in clauses if one.tells in ("not_done", "no")]
    bare = any(not one.has_targets and one.did is None for one in denials)
    kept = [one for one in told if not _is_denied(one, bare=bare, at_all=bool(denials))]
    left_open = {tree for one in kept if one.verb in _LEFT_OPEN for tree in one.trees}
    left = [tuple(tree for tree in one.trees if tree not in left_open) for one in kept]
    pairs = zip(kept, left, strict=True)
    return tuple(replace(one, trees=trees) if one.is_deed else one for one, trees in pairs if trees or not one.is_deed)


def _is_denied(told: Meaning, *, bare: bool, at_all: bool) -> bool:
    noted = told.verb in _RECORDS and not told.is_deed and told.verb is not Verb.SNOOZE
    return noted and (bare or (at_all and not told.trees))


def done_or_not(told: Meanings, context: Context) -> Ambiguous:
    """Whether what was told is done, in one tap."""
    done = tuple(meaning for meaning in told if meaning.verb not in _UNSAID | {Verb.UNDO})
    trees = tuple(dict.fromkeys(tree for meaning in done if meaning.is_deed for tree in meaning.trees))
    undone = (Meaning(verb=Verb.NOT_DONE, trees=trees),)
    ways = (done, undone)
    return Ambiguous(
        question=Question.DONE_OR_NOT,
        choices=tuple(Choice(label=label(one, context), meanings=one) for one in ways),
    )


def _merged(meanings: Meanings) -> Meanings:
    """Each thing said once; "not yet, in an hour" is the hour, "on my way, closed" the deed; courtesies fall away."""
    kept: list[Meaning] = []
    timed = {m.trees for m in meanings if m.verb is Verb.SNOOZE and m.until_utc}
    told = {tree for m in meanings if m.is_deed or m.verb is Verb.SNOOZE for tree in m.trees}
    talk = all(m.verb in SMALL_TALK for m in meanings)
    for meaning in meanings:
        others = [one for one in meanings if one is not meaning]
        if meaning.verb in (Verb.NOT_DONE, Verb.CANNOT, Verb.WILL_DO, Verb.NO) and meaning.trees in timed:
            continue
        if meaning.verb is Verb.SNOOZE and not meaning.until_utc and meaning.trees in timed:
            continue
        if meaning.verb is Verb.WILL_DO and set(meaning.trees) <= told and meaning.trees:
            continue
        if meaning.verb is Verb.STOP and not meaning.text and any(one.verb in (Verb.AWAY, Verb.STOP) for one in others):
            continue  # "stop. no more messages tonight"
        if not talk and meaning.verb in (Verb.YES, Verb.THANKS, Verb.HELLO):
            continue
        if meaning not in kept and not _says_again(meaning, meanings):
            kept.append(meaning)
    return tuple(kept)


def _says_again(deed: Meaning, told: Meanings) -> bool:
    """Whether a deed without its time only sums up others that have theirs: "…, so all tops are shut".

    A job of no tree says again what was told of one: "scratched wall. green under".
    """
    if deed.verb is Verb.JOB and not deed.trees:
        return any(one.verb is Verb.JOB and one.job is deed.job and one.mark is deed.mark and one.trees for one in told)
    dated = {tree for one in told if one.verb is deed.verb and one.at_utc is not None for tree in one.trees}
    return deed.is_deed and deed.at_utc is None and bool(deed.trees) and dated.issuperset(deed.trees)


def _beside_lost(lost: list[Read], certain: Meanings, cover: Cover, line: Marked, context: Context) -> Reply:
    """What is certain beside words that may be our business: offered as it would be kept, never noted unasked."""
    unread = _unread(cover)
    if certain and not any(meaning.verb in TELLS or meaning.verb in SMALL_TALK for meaning in certain):
        return Understood(meanings=certain, unread=unread)
    if any(meaning.is_deed for meaning in certain):
        return (
            Understood(meanings=certain, unread=unread)
            if _agrees(certain, cover, line)
            else done_or_not(certain, context)
        )
    heard = "; ".join([label((meaning,), context) for meaning in certain] + [read.heard for read in lost if read.heard])
    answers = [read.answers_to for read in lost if read.answers_to]
    refused = all(meaning.verb in REFUSALS for meaning in certain)
    spoken_of = deeds_spoken_of(cover, line, context) if not answers and refused else None
    if spoken_of and not isinstance(spoken_of, NotUnderstood):
        spoken_of = _with_typo(spoken_of, line)
        return _either(spoken_of, certain, context) if certain else done_or_not(spoken_of, context)
    if certain and refused and spoken_of and context.asks:
        ask = context.asks[0]
        return _either((Meaning(verb=ask.verb, trees=ask.trees, ask_key=ask.key),), certain, context)
    if any(meaning.verb not in SMALL_TALK | {Verb.NOT_DONE, Verb.WILL_DO} for meaning in certain):  # these note nothing
        return NotUnderstood(heard=heard, choices=_kept_or_not(certain, context))
    choices = tuple(Choice(label=label(answer, context), meanings=answer) for answer in answers[:3])
    return spoken_of if isinstance(spoken_of, NotUnderstood) else NotUnderstood(heard=heard, choices=choices)


def _agrees(certain: Meanings, cover: Cover, line: Marked) -> bool:
    """Whether all the words together tell the deed that its own clause tells, and those left over no tree nor deed."""
    verbs = {meaning.verb for meaning in certain}
    unread = [n for run in cover.lost for n in range(run.start, run.end)]
    left = [line.words[n] for n in unread]
    ours_too = any(word[0] in "@%#" for word in left) or not deed_forms().isdisjoint(left)
    return len(verbs) == 1 and not ours_too and is_deed_told(verbs.pop(), line, 0, len(line.words), unread, ALONE)


def _kept_or_not(certain: Meanings, context: Context) -> tuple[Choice, ...]:
    now = " now" if all(one.verb is Verb.READING and one.at_utc is None for one in certain) else ""
    keep = Choice(label=f"Keep: {label(certain, context)}{now}", meanings=certain)
    return (keep, Choice(label="No", meanings=(Meaning(verb=Verb.NO),)))


def _either(done: Meanings, refused: Meanings, context: Context) -> Ambiguous:
    ways = tuple(Choice(label=label(way, context), meanings=way) for way in (done, refused))
    return Ambiguous(question=Question.DONE_OR_NOT, choices=ways)
