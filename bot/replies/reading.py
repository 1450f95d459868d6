"""Short text to meaning: what every word accounts for is told, all else is asked about or said to be unclear."""

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Final

from bot.replies.assembling import SMALL_TALK, TELLS, assembled, done_or_not
from bot.replies.clause import Clause, clause_of, last_apart
from bot.replies.commanded import commanded
from bot.replies.covering import ASKED, ASKING, LEFT_OVER, QUESTIONS, Cover, covers
from bot.replies.cues.telling import told_by_cues
from bot.replies.cues.thermometers import thermometers
from bot.replies.cues.told import ASK, MAYBE, PUT_OFF, SEEN, TALK
from bot.replies.grammar import grammar, ours
from bot.replies.joining import joined, of_those_before, sharing
from bot.replies.labels import label
from bot.replies.learned.asking import BEYOND
from bot.replies.likely_told import likely_told
from bot.replies.meanings.asked import one_of_those, read_question
from bot.replies.meanings.deeds import (
    Meanings,
    Read,
    asked_back,
    or_no,
    read_bare,
    read_done,
    read_done_or_later,
    read_ok,
    read_promise,
    read_put_off,
    read_refusal,
    read_wish,
)
from bot.replies.meanings.left_over import fitting, heard_of, is_mere_talk, said_of, speaks_of_ours
from bot.replies.meanings.season import NEWS, read_job, read_news, read_of_job, read_season
from bot.replies.meanings.sights import (
    SIGHTS,
    read_condition,
    read_half,
    read_move,
    read_number,
    read_sight,
    read_temperature,
)
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
from bot.replies.talk.instead import instead
from bot.replies.talk.picking import picked
from bot.replies.words.courtesies import without_courtesies
from bot.replies.words.marking import Marked, marked
from bot.replies.words.names import reserved_names
from bot.replies.words.spelling import deed_forms
from rules.garden.cover import CoverState

Reader = Callable[[Clause, Context, tuple[str, ...]], Read]
READERS: Final[dict[str, Reader]] = {
    "did": read_done, "left": read_done, "did_or_later": read_done, "did_later": read_done_or_later, "ok": read_ok,
    "some": lambda _, __, ___: Read(heard="which of them"),
    "base": read_wish, "plan": read_promise, "later": read_put_off,
    "not_done": read_refusal, "cannot": read_refusal, "bare": read_bare,
    "reading": read_temperature, "number": read_number, "numbers": read_number, "damage": read_condition,
    "half": read_half, "moved": read_move,
    **dict.fromkeys(SIGHTS, read_sight), **dict.fromkeys(NEWS, lambda told, _, __: read_news(told)),
    **dict.fromkeys(("will_job", "not_job", "why_job", "when_job"), read_of_job),
    "job": lambda clause, context, _: read_job(clause, context),
    **dict.fromkeys(("picked", "cuttings", "dieback", "pruned"), lambda told, context, _: read_season(told, context)),
}  # fmt: skip
_LEFT_AS: Final = {
    Verb.WRAPPED: CoverState.VENTED,
    Verb.VENTED: CoverState.VENTED,
    Verb.CLOSED: CoverState.CLOSED,
    Verb.STRIPPED: CoverState.BARE,
}
OF_A_STATE: Final = frozenset((*SIGHTS, "damage", "dieback"))  # what is told of a tree or cover, or asked of it
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
        reply = picked(text, context) or _read(text, context, keep_reserved=False)
        if not isinstance(reply, Understood) and reserved_names(context.trees).intersection(
            re.findall(r"\w+", text.casefold())
        ):
            other = _read(text, context, keep_reserved=True)
            better = isinstance(reply, NotUnderstood) and not isinstance(other, NotUnderstood)
            whole = isinstance(other, NotUnderstood) or not other.unread  # a name left unread is no word of another's
            reply = other if whole and (better or isinstance(other, Understood)) else reply
    except UnreadableError as unknown:
        return NotUnderstood(heard=str(unknown))
    return done_or_not(reply.meanings, context) if isinstance(reply, Understood) and _begs(typed, reply) else reply


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
    changed = _put_right(line, context)
    if changed is not None:
        return changed
    replies: list[Reply] = []
    refused: UnreadableError | None = None
    shown = [] if keep_reserved else thermometers(line)
    if sum(one.tells != TALK for one in shown) > 1:
        return _told_by(shown, line, context) or NotUnderstood()
    ways = covers(line)
    lost = all(
        (one.lost or any(clause.tells == "some" for clause in one.clauses)) and not _is_beyond_cues(one) for one in ways
    )
    if shown and lost:
        return _told_by(shown, line, context) or NotUnderstood()
    swallowed = not lost and all(_swallows_absence(one, line) for one in ways)
    by_cues = _by_cues(line, context) if (lost or swallowed) and not keep_reserved else None  # no name is hidden
    if swallowed and not _tells_of_absence(by_cues):
        by_cues = None
    if isinstance(by_cues, Understood):
        return asked_if_another(by_cues, line, context)
    for cover in ways:
        try:
            reply: Reply | None = _of_cover(cover, line, context)
        except UnreadableError as unknown:
            refused = unknown
            continue
        replies += [reply] if reply is not None and reply not in replies else []
    if refused is not None and all(isinstance(one, NotUnderstood) for one in replies):
        return NotUnderstood(heard=str(refused), choices=fitting(line, context))
    reply = _one_of([one for one in replies if not _undoes_another(one, line, context)], context)
    if isinstance(by_cues, Ambiguous) and not (isinstance(reply, Understood) and by_cues.question not in DOUBTS):
        return by_cues
    if isinstance(reply, NotUnderstood):
        reply = likely_told(line, context) or reply
    if isinstance(reply, NotUnderstood) and reply.is_ours and not reply.choices:
        asks_us = line.words[:1] != [] and (line.words[0] in ASKING or line.words[-1] == "?")
        ours = speaks_of_ours(line) or asks_us or bool(context.asks and line.words)
        told = replace(context, open_asks=(), quoted=None) if asks_us else context  # a question tells of no deed
        return replace(reply, choices=fitting(line, told), is_ours=ours)
    return asked_if_another(reply, line, context)


DOUBTS: Final = (Question.DONE_OR_NOT, Question.SO_OR_NOT)


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
        reply = _of_cover(Cover(clauses=tuple(clauses)), line, context)
        left = [words for one in told if one.tells == TALK and (words := said_of(one))]
        unread = "".join(left[:1]).removesuffix("…") + ("…" if len(left) > 1 or "".join(left)[-1:] == "…" else "")
        return reply if reply is None or isinstance(reply, NotUnderstood) else replace(reply, unread=unread)
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


def _of_cover(cover: Cover, line: Marked, context: Context) -> Reply | None:
    """What a cover means; None where one of its clauses cannot be meant so."""
    cover = replace(cover, clauses=tuple(_still_to_come(_believed(cover.clauses))))
    clauses = [
        part for clause in joined(cover.clauses) if clause.tells not in ("aside", "hour") for part in last_apart(clause)
    ]
    if not clauses:
        return _bare_aside(line, context)
    if any(one.tells != "ok" for one in clauses):
        clauses = [one for one in clauses if one.tells != "ok"]  # "ok, tomorrow" is tomorrow
    clauses = _beside_questions(clauses)
    clauses = of_those_before(clauses)
    reads: list[Read] = []
    spoken: tuple[str, ...] = ()
    seen = context
    for n, clause in enumerate(clauses):
        read = _read_clause(sharing(clause, clauses[n + 1 : n + 2]), seen, spoken)
        if not (read.options or read.heard or read.answers_to or clause.tells == LEFT_OVER):
            return None
        reads.append(read)
        spoken += _spoken_of(read)
        if len(read.options) == 1:
            seen = _after(seen, read.options[0])
    return assembled(reads, cover, line, context)


def _beside_questions(clauses: Sequence[Clause]) -> list[Clause]:
    """What is told without the questions beside it that nobody knows; "is that mould?" doubts what was seen."""
    unknown = [one for one in clauses if one.tells in (ASKED, BEYOND)]
    told = [one for one in clauses if one.tells not in (ASKED, BEYOND)]
    if all(one.tells == LEFT_OVER for one in told):
        return list(clauses)
    asked = [one for one in clauses if one.tells in QUESTIONS and one.marked.words[one.end : one.end + 1] == ["?"]]
    brief = any(len(one.words) == 1 or (one in unknown and len(one.words) <= FEW) for one in asked)  # "right?"
    wondered = any(not ours().words("BEFALLS").isdisjoint(one.words) for one in asked)
    unsure = {*SEEN, "job"} if brief or wondered else set()
    unsure |= {"did", "reading"} if brief else set()
    return [replace(one, tells=one.tells + MAYBE) if one.tells in unsure else one for one in told]


FEW: Final = 3  # words; no source


def _believed(clauses: Sequence[Clause]) -> list[Clause]:
    """The clauses, but none that puts off where words nobody reads run on: "i couldn't / tell you which"."""
    lost = [one for one in clauses if one.tells == LEFT_OVER]
    ends, begins = {one.end for one in lost}, {one.start for one in lost}
    return [
        replace(one, tells=LEFT_OVER)
        if one.tells in ("cannot", "plan") and not one.named and one.group in (None, "them")
        and (one.end in begins or (one.start in ends and not one.joined_by))
        else one
        for one in clauses
    ]  # fmt: skip


def _still_to_come(clauses: list[Clause]) -> list[Clause]:
    """ "Pomegranate done. a hot drink, then the kaki": the tree behind "then" is not done, where more lies between."""
    return [
        replace(one, tells="plan")
        if one.tells == "bare" and one.joined_by == "then" and before is not None and before.tells == LEFT_OVER else one
        for one, before in zip(clauses, (None, *clauses), strict=False)
    ]  # fmt: skip


def _spoken_of(read: Read) -> tuple[str, ...]:
    """The trees that a clause speaks of whichever way it is read."""
    told = [[tree for one in way for tree in one.trees if one.verb not in SMALL_TALK] for way in read.options]
    ways = [trees for trees in told if trees]
    return tuple(tree for tree in ways[0] if all(tree in way for way in ways)) if ways else ()


def _bare_aside(line: Marked, context: Context) -> Reply:
    """Small words alone: "ok", "please"; nothing to act on."""
    if context.asks and {"ok", "okay", "k", "okey"} & set(line.words):
        return Understood(
            meanings=tuple(Meaning(verb=Verb.WILL_DO, trees=a.trees, ask_key=a.key) for a in context.asks[:1])
        )
    return NotUnderstood()


def _read_clause(clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    if clause.tells == LEFT_OVER:
        return Read(heard=heard_of(clause))
    if clause.tells == ASK:
        return asked_back(clause, context, spoken)
    if clause.tells.endswith(MAYBE):
        return or_no(_read_clause(replace(clause, tells=clause.tells.removesuffix(MAYBE)), context, spoken))
    if clause.tells in OF_A_STATE and clause.asks_by_its_order:
        verb = Verb.WHY if clause.named else Verb.TREES
        return Read(options=((Meaning(verb=verb, trees=clause.trees_named),),))
    reader = READERS.get(clause.tells)
    if reader is not None:
        return reader(clause, context, spoken)
    if clause.tells == ASKED:
        return one_of_those(clause, context)
    meaning = read_question(clause, context) if clause.tells != BEYOND else Meaning(verb=Verb.BEYOND)
    return Read(options=((meaning,),)) if meaning is not None else Read()


def _after(context: Context, told: Meanings) -> Context:
    """The covers as what was told leaves them: "wrapped all and closed them" closes what was bare before."""
    states = {tree: _LEFT_AS[meaning.verb] for meaning in told if meaning.verb in _LEFT_AS for tree in meaning.trees}
    trees = tuple(replace(tree, state=states.get(tree.name, tree.state)) for tree in context.trees)
    return replace(context, trees=trees) if states else context
