"""Short text to meaning: what every word accounts for is told, all else is asked about or said to be unclear."""

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from bot.replies.assembling import TELLS, done_or_not
from bot.replies.clause import Clause, clause_of
from bot.replies.commanded import commanded
from bot.replies.covering import ASKING, LEFT_OVER, QUESTIONS, Cover, covers
from bot.replies.cues.telling import told_by_cues
from bot.replies.cues.thermometers import thermometers
from bot.replies.cues.told import PUT_OFF, TALK
from bot.replies.grammar import grammar, ours
from bot.replies.labels import label
from bot.replies.learned.likely import learned
from bot.replies.meanings.left_over import fitting, is_mere_talk, said_of, speaks_of_ours
from bot.replies.meant import of_cover
from bot.replies.nouns import (
    Ambiguous,
    Choice,
    Context,
    Meaning,
    NotUnderstood,
    Question,
    Reply,
    Understood,
    UnreadableError,
    Verb,
)
from bot.replies.other_matters import asked_if_another
from bot.replies.phrases.garden_phrases import wished_of_garden
from bot.replies.talk.correcting import corrected
from bot.replies.talk.counting import counted_only
from bot.replies.talk.excepting import left_out, notes_deed_of, tells_deed, which_of_all, without
from bot.replies.talk.instead import instead
from bot.replies.talk.picking import picked
from bot.replies.weighing.likely_told import tells_of_ours
from bot.replies.weighing.second_opinion import DOUBTS, at_its_time, second_opinion
from bot.replies.words.courtesies import without_courtesies
from bot.replies.words.marking import Marked, marked
from bot.replies.words.names import reserved_names
from bot.replies.words.spelling import deed_forms

FEW_WORDS: Final = 20  # in which a tree's name may be a word of the grammar; no source
MOST_WORDS: Final = 60  # a longer message is a letter, for the note; no source


def parse_reply(text: str, context: Context) -> Reply:
    """The meaning of one reply in its context.

    Parameters
    ----------
    text
        What the person sent, of any length and in any script.
    context
        The garden's trees, the open asks, the talk so far, and the time at which it was said.

    Returns
    -------
    Understood
        Exactly one reading, and every word accounted for; act on it and offer undo.
    Ambiguous
        Two or three readings; nothing is recorded until one is chosen.
    NotUnderstood
        None; say what was heard and offer the choices.
    """
    typed = text
    verb, rest = commanded(text)
    if verb is None:
        text = without_courtesies(text)
        verb, rest = commanded(text)
    if verb is not None and verb in (Verb.START, Verb.NOTE, Verb.CODE):
        return Understood(meanings=(Meaning(verb=verb, text=rest),))
    if verb is not None:
        text = without_courtesies(f"{verb.value.replace('_', ' ')} {rest}")
    try:
        wish = wished_of_garden(text, context)
        if wish is not None:
            return Understood(meanings=(wish,))
        reply = picked(text, context) or _which_of(text, context) or _read(text, context, keep_reserved=False)
        spoken = re.findall(r"\w+", text.casefold())
        short = len(spoken) <= FEW_WORDS  # a long reply has its trees besides
        if not isinstance(reply, Understood) and short and not reserved_names(context.trees).isdisjoint(spoken):
            other = _read(text, context, keep_reserved=True)
            better = isinstance(reply, NotUnderstood) and not isinstance(other, NotUnderstood)
            whole = isinstance(other, NotUnderstood) or not other.unread  # a name left unread is no word of another's
            reply = other if whole and (better or isinstance(other, Understood)) else reply
    except UnreadableError as unknown:
        return NotUnderstood(heard=str(unknown))
    return done_or_not(reply.meanings, context) if isinstance(reply, Understood) and _begs(typed, reply) else reply


def _which_of(text: str, context: Context) -> Reply | None:
    """Which one is left, where a reply says how many and the grammar does not ask which."""
    counted = counted_only(text, context)
    read = _read(text, context, keep_reserved=False) if counted is not None else None
    return read if isinstance(read, Ambiguous) and read.question is Question.WHICH_TREE else counted


def _begs(typed: str, reply: Understood) -> bool:
    """Whether a deed told may be one that is wished: "shut please"; not "porch closed, wall still open please"."""
    begged = _BEGGED.search(typed)
    if begged is None:
        return False
    told = reply.meanings if typed[begged.end() :].strip(" .!") else reply.meanings[-1:]
    return any(one.is_deed for one in told)


_BEGGED: Final = re.compile(r"\b(?:closed|shut|wrapped|open(?:ed)?|stripped|uncovered)\W+(?:please|pls|plz)\b", re.I)


def get_ready() -> None:
    """Read what replies are read by, so that the first who writes need not wait for it."""
    grammar()
    ours()
    deed_forms()
    learned()


def tells(reply: Reply) -> bool:
    """Whether a reading would note something or put a nudge off."""
    if isinstance(reply, NotUnderstood):
        return False
    told = reply.meanings if isinstance(reply, Understood) else [one for way in reply.ways for one in way]
    return any(meaning.verb in TELLS for meaning in told)


def _read(text: str, context: Context, *, keep_reserved: bool) -> Reply:
    line = marked(text, context, keep_reserved=keep_reserved)
    if len(line.words) > MOST_WORDS:
        kept = Choice(label="Keep as a note", meanings=(Meaning(verb=Verb.NOTE, text=text),))
        return NotUnderstood(heard="more than I can read at once", choices=(kept,))
    but = left_out(line)
    if but is None:
        return _read_line(line, context, keep_reserved=keep_reserved)
    rest = _read_line(but.rest, context, keep_reserved=keep_reserved)
    if isinstance(rest, Understood) and tells_deed(rest):
        return without(but.trees, replace(rest, unread=but.words), context)
    whole = without(but.trees, _read_line(line, context, keep_reserved=keep_reserved), context)
    return without(but.trees, rest, context) if notes_deed_of(but.trees, whole) else whole


def _read_line(line: Marked, context: Context, *, keep_reserved: bool) -> Reply:
    changed = _put_right(line, context)
    if changed is not None:
        return changed
    shown = [] if keep_reserved else thermometers(line)
    if sum(one.tells != TALK for one in shown) > 1:
        return _told_by(shown, line, context) or NotUnderstood()
    ways = covers(line)
    lost = all(
        (one.lost or any(clause.tells == "some" for clause in one.clauses)) and not _is_beyond_cues(one) for one in ways
    )
    if shown and lost:
        return _told_by(shown, line, context) or NotUnderstood()
    if keep_reserved:
        return _or_fitting(_of_ways(ways, None, line, context), line, context)
    swallowed = not lost and all(_swallows_absence(one, line) for one in ways)
    by_cues = _by_cues(line, context) if lost or swallowed else None
    if swallowed and not _tells_of_absence(by_cues):
        by_cues = None
    try:
        reply = by_cues if isinstance(by_cues, Understood) else _of_ways(ways, by_cues, line, context)
    except UnreadableError as unknown:
        return NotUnderstood(heard=str(unknown), choices=fitting(line, context))
    reply = second_opinion(at_its_time(reply, line, context), line, context)
    reply = which_of_all(reply, line, context)
    reply = at_its_time(reply, line, context)  # of what only the second opinion reads
    return _or_fitting(reply, line, context)


def _of_ways(ways: Sequence[Cover], by_cues: Reply | None, line: Marked, context: Context) -> Reply:
    """What the grammar reads, or what cues make doubtful; raises UnreadableError of what the garden has not."""
    replies: list[Reply] = []
    refused: UnreadableError | None = None
    for cover in ways:
        try:
            reply: Reply | None = of_cover(cover, line, context)
        except UnreadableError as unknown:
            refused = unknown
            continue
        replies += [reply] if reply is not None and reply not in replies else []
    if refused is not None and all(isinstance(one, NotUnderstood) for one in replies):
        raise refused
    reply = _one_of([one for one in replies if not _undoes_another(one, line, context)], context)
    if isinstance(by_cues, Ambiguous) and not (isinstance(reply, Understood) and by_cues.question not in DOUBTS):
        return by_cues
    return reply


def _or_fitting(reply: Reply, line: Marked, context: Context) -> Reply:
    """A reply with what may have been meant, where nobody could read it, and whether it is ours at all."""
    if not isinstance(reply, NotUnderstood):
        return asked_if_another(reply, line, context)
    if not reply.is_ours or reply.choices:
        return reply
    asks_us = line.words[:1] != [] and (line.words[0] in ASKING or line.words[-1] == "?")
    ours = speaks_of_ours(line) or asks_us or bool(context.asks and line.words) or _is_known(line)
    told = replace(context, open_asks=(), quoted=None) if asks_us else context  # a question tells of no deed
    return replace(reply, choices=fitting(line, told), is_ours=ours or tells_of_ours(line))


def _is_known(line: Marked) -> bool:
    """Whether it is one word of ours alone, or a time: "alive", "last night"."""
    return len(line.words) == 1 and (line.words[0][0] == "#" or line.words[0] in grammar().words())


def _is_beyond_cues(cover: Cover) -> bool:
    """Whether it tells of what no cue does: half a wrap, hours, ways, fruit and wood."""
    return any(clause.tells in BEYOND_CUES for clause in cover.clauses)


def _swallows_absence(cover: Cover, line: Marked) -> bool:
    """ "Away thu to fri, juniper knows what to do": a question takes up what tells of days to come."""
    told = any(moment.future for moment in line.moments) and not ASKING.intersection(line.words[:2])
    of_absence = not grammar().words("AWAYW", "AWAY_ON").isdisjoint(line.words)
    return told and of_absence and len(cover.clauses) == 1 and cover.clauses[0].tells in QUESTIONS


def _tells_of_absence(reply: Reply | None) -> bool:
    ways = reply.ways if isinstance(reply, Ambiguous) else (reply.meanings,) if isinstance(reply, Understood) else ()
    return any(one.verb is Verb.AWAY for way in ways for one in way)


BEYOND_CUES: Final = frozenset(
    ("half", "picked", "cuttings", "dieback", "pruned", "free", "way", "quiet", "stop", "sleep", "wake")
)


def _by_cues(line: Marked, context: Context) -> Reply | None:
    """What the cues of a reply tell that no lines of the grammar fit; None where they tell nothing."""
    return _told_by(told_by_cues(line, context), line, context)


def _told_by(told: Sequence[Clause], line: Marked, context: Context) -> Reply | None:
    clauses = [one for one in told if one.tells != TALK]
    of_nothing = all(one.tells in PUT_OFF and not one.has_targets and len(one.words) > 1 for one in clauses)
    if of_nothing and any(one.named for one in told if one.tells == TALK):
        return None  # a tree is spoken of, and what is put off may be another
    try:
        reply = of_cover(Cover(clauses=tuple(clauses)), line, context)
        left = [words for one in told if one.tells == TALK and (words := said_of(one))]
        unread = "".join(left[:1]).removesuffix("…") + ("…" if len(left) > 1 or "".join(left)[-1:] == "…" else "")
        if reply is None or isinstance(reply, NotUnderstood):
            return reply
        return replace(reply, unread=unread)
    except UnreadableError:
        return None


def _put_right(line: Marked, context: Context) -> Reply | None:
    """What was told last put right in the first sentence, where nothing of ours follows: "19 not 29. fat fingers"."""
    ends = [n for n, word in enumerate(line.words) if word in (".", ",")]
    for end in (len(line.words), *reversed(ends)):
        rest = clause_of(LEFT_OVER, (), line, min(end + 1, len(line.words)), len(line.words), ".")
        if rest.words and not (is_mere_talk(rest, line) or _is_its_reason(rest)):
            break
        changed = corrected(replace(line, words=line.words[:end]), context)
        if changed is not None:
            return changed
    return instead(line, context)


def _is_its_reason(rest: Clause) -> bool:
    """ "Scratch that, only kaki. the pom's string is frozen, couldn't get it off": why, and no deed."""
    return bool(ours().words("DENIES").intersection(rest.words)) and deed_forms().isdisjoint(rest.words)


def _undoes_another(reply: Reply, line: Marked, context: Context) -> bool:
    """Whether it takes back what was told last though it names a tree that was not told of: "i didn't close kaki"."""
    if not isinstance(reply, Understood) or [one.verb for one in reply.meanings] != [Verb.UNDO]:
        return False
    return not set(line.trees_named) <= {tree for one in context.last_told for tree in one.trees}


def _one_of(replies: Sequence[Reply], context: Context) -> Reply:
    """One reading of several: the only one that is whole; of several wholes a choice."""
    whole = [one for one in replies if isinstance(one, Understood)]
    undoes = [
        one for one in whole if one.meanings[0].verb is Verb.UNDO
    ]  # "actually i didn't": of what was told, or asked
    whole = undoes if undoes and context.last_told else [one for one in whole if one not in undoes] or undoes
    if len({_told_in(one) for one in whole}) == 1:  # of two questions the one listed first
        return whole[0]
    if len(whole) > 1:
        choices = [Choice(label=label(one.meanings, context), meanings=one.meanings) for one in whole[:3]]
        return Ambiguous(question=Question.WHAT_ABOUT, choices=tuple(choices))
    unsure = [one for one in replies if isinstance(one, Ambiguous)]
    return next(iter(unsure or replies), NotUnderstood())


def _told_in(reply: Understood) -> tuple[Meaning, ...]:
    """What of a reading is told and not asked."""
    return tuple(one for one in reply.meanings if one.verb in TELLS)
