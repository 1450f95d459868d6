"""Short text to meaning: what every word accounts for is told, all else is asked about or said to be unclear."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Final

from bot.replies.clause import Clause, last_apart
from bot.replies.commanded import commanded
from bot.replies.covering import LEFT_OVER, Cover, covers
from bot.replies.labels import label
from bot.replies.meanings.asked import read_question
from bot.replies.meanings.deeds import (
    Meanings,
    Read,
    read_bare,
    read_done,
    read_done_or_later,
    read_promise,
    read_put_off,
    read_refusal,
    read_wish,
)
from bot.replies.meanings.left_over import deeds_spoken_of, heard_of
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
    DEEDS,
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
from bot.replies.phrases.garden_phrases import wished_of_garden
from bot.replies.talk import corrected, picked
from bot.replies.words.courtesies import without_courtesies
from bot.replies.words.marking import Marked, marked
from bot.replies.words.names import reserved_names
from rules.garden.cover import CoverState

Reader = Callable[[Clause, Context, tuple[str, ...]], Read]
READERS: Final[dict[str, Reader]] = {
    "did": read_done, "left": read_done, "ok": read_done, "did_or_later": read_done, "did_later": read_done_or_later,
    "base": read_wish, "plan": read_promise, "later": read_put_off,
    "not_done": read_refusal, "cannot": read_refusal, "bare": read_bare,
    "reading": read_temperature, "number": read_number, "damage": read_condition, "half": read_half, "moved": read_move,
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
MOST_WORDS: Final = 60  # a longer message is a letter, for the note; no source
TELLS: Final = frozenset(DEEDS) | {
    *(Verb.NOT_DONE, Verb.CANNOT, Verb.SNOOZE, Verb.WILL_DO, Verb.READING, Verb.SIGHTING, Verb.AWAY, Verb.HAND_OVER),
    *(Verb.DIEBACK, Verb.PICKED, Verb.PRUNED, Verb.CUTTINGS, Verb.GIVE, Verb.JOB, Verb.CONDITION),
}
_RECORDS: Final = TELLS - {Verb.NOT_DONE, Verb.WILL_DO, Verb.CANNOT}
_SMALL_TALK: Final = frozenset((Verb.YES, Verb.NO, Verb.THANKS, Verb.HELLO))
_LEFT_OPEN: Final = frozenset((Verb.SNOOZE, Verb.CANNOT, Verb.WILL_DO))
_UNSAID: Final = frozenset((Verb.NOT_DONE, Verb.NO))


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
        if not isinstance(reply, Understood) and reserved_names(context.trees):
            other = _read(text, context, keep_reserved=True)
            reply = other if isinstance(other, Understood) or isinstance(reply, NotUnderstood) else reply
    except UnreadableError as unknown:
        return NotUnderstood(heard=str(unknown))
    return reply


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
    changed = corrected(line, context)
    if changed is not None:
        return changed
    replies: list[Reply] = []
    refused: UnreadableError | None = None
    for cover in covers(line):
        try:
            reply: Reply | None = _of_cover(cover, line, context)
        except UnreadableError as unknown:
            refused = unknown
            continue
        replies += [reply] if reply is not None and reply not in replies else []
    if refused is not None and all(isinstance(one, NotUnderstood) for one in replies):
        raise refused
    return _one_of(replies, context)


def _one_of(replies: Sequence[Reply], context: Context) -> Reply:
    """One reading of several: the only one that is whole; of several wholes a choice."""
    whole = [one for one in replies if isinstance(one, Understood)]
    undoes = [
        one for one in whole if one.meanings[0].verb is Verb.UNDO
    ]  # "actually i didn't": of what was told, or asked
    whole = undoes if undoes and context.last_told else [one for one in whole if one not in undoes] or undoes
    if len(whole) == 1 or (whole and not any(tells(one) for one in whole)):  # of two questions the one listed first
        return whole[0]
    if len(whole) > 1:
        choices = [Choice(label=label(one.meanings, context), meanings=one.meanings) for one in whole[:3]]
        return Ambiguous(question=Question.WHAT_ABOUT, choices=tuple(choices))
    unsure = [one for one in replies if isinstance(one, Ambiguous)]
    return next(iter(unsure or replies), NotUnderstood())


def _of_cover(cover: Cover, line: Marked, context: Context) -> Reply | None:
    """What a cover means; None where one of its clauses cannot be meant so."""
    clauses = [part for clause in cover.clauses if clause.tells != "aside" for part in last_apart(clause)]
    if not clauses:
        return _bare_aside(line, context)
    if any(one.tells not in ("ok", "thanks", "hello", "yes") for one in clauses):
        clauses = [one for one in clauses if one.tells != "ok"]  # "ok, tomorrow" is tomorrow
    clauses = [_of_left_out(one, before) for one, before in zip(clauses, [None, *clauses], strict=False)]
    clauses = [_told_too(one, before) for one, before in zip(clauses, [None, *clauses], strict=False)]
    reads: list[Read] = []
    spoken: tuple[str, ...] = ()
    seen = context
    for n, clause in enumerate(clauses):
        read = _read_clause(_sharing(clause, clauses[n + 1 : n + 2]), seen, spoken)
        if not (read.options or read.heard or read.answers_to or clause.tells == LEFT_OVER):
            return None
        reads.append(read)
        if len(read.options) == 1:
            spoken += tuple(t for meaning in read.options[0] for t in meaning.trees if meaning.verb not in _SMALL_TALK)
            seen = _after(seen, read.options[0])
    return _assembled(reads, cover, line, context)


def _bare_aside(line: Marked, context: Context) -> Reply:
    """Small words alone: "ok", "please"; nothing to act on."""
    if context.asks and {"ok", "okay", "k", "okey"} & set(line.words):
        return Understood(
            meanings=tuple(Meaning(verb=Verb.WILL_DO, trees=a.trees, ask_key=a.key) for a in context.asks[:1])
        )
    return NotUnderstood()


def _of_left_out(clause: Clause, before: Clause | None) -> Clause:
    """ "All closed except kaki, i'll do it tomorrow": the promise is of what was left out."""
    if before is None or not before.excepted or clause.tells not in ("plan", "later") or clause.named or clause.numbers:
        return clause
    return replace(clause, named=before.excepted, group=None)


def _told_too(clause: Clause, before: Clause | None) -> Clause:
    """ "Closed porch at 3 and wall at 4": a mere tree and a time that was are told as what stood before."""
    moment = clause.moment
    if before is None or before.did is None or clause.tells != "later" or clause.has("lt") or not clause.has_targets:
        return clause
    if moment is None or not (moment.past or moment.told):
        return clause
    return replace(clause, tells="did" if clause.joined_by == "and" else "did_or_later", did=before.did)


def _sharing(clause: Clause, after: Sequence[Clause]) -> Clause:
    """ "Wrapped and closed porch": the first deed has the trees of the second."""
    if clause.tells == "did" and not clause.has_targets and after and after[0].joined_by == "and":
        nearest = after[0]
        if (
            nearest.tells == "did"
            and nearest.start == clause.end + 1
            and nearest.has_targets
            and nearest.words[0][0] != "@"
        ):
            return replace(
                clause, named=nearest.named, numbers=nearest.numbers, group=nearest.group, excepted=nearest.excepted
            )
    return clause


def _read_clause(clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    if clause.tells == LEFT_OVER:
        return Read(heard=heard_of(clause))
    reader = READERS.get(clause.tells)
    if reader is not None:
        return reader(clause, context, spoken)
    meaning = read_question(clause, context)
    return Read(options=((meaning,),)) if meaning is not None else Read()


def _after(context: Context, told: Meanings) -> Context:
    """The covers as what was told leaves them: "wrapped all and closed them" closes what was bare before."""
    states = {tree: _LEFT_AS[meaning.verb] for meaning in told if meaning.verb in _LEFT_AS for tree in meaning.trees}
    trees = tuple(replace(tree, state=states.get(tree.name, tree.state)) for tree in context.trees)
    return replace(context, trees=trees) if states else context


def _assembled(reads: list[Read], cover: Cover, line: Marked, context: Context) -> Reply:
    """The clauses' readings as one reply: what is certain beside the choices of what is not."""
    lost = [read for read in reads if not read.options]
    certain = tuple(meaning for read in reads if len(read.options) == 1 for meaning in read.options[0])
    certain = _with_typo(_merged(certain), line)
    if lost or not reads:
        return _beside_lost(lost, certain, cover, line, context)
    unsure = [read for read in reads if len(read.options) > 1]
    if _takes_back(certain):
        return _done_or_not(certain, context)
    certain = _not_denied(certain, cover.clauses)
    if not unsure:
        return Understood(meanings=certain)
    choices = [_with_typo(option, line) for option in unsure[0].options[:3]]
    return Ambiguous(
        question=unsure[0].question,
        choices=tuple(Choice(label=label(option, context), meanings=option) for option in choices),
        certain=certain,
    )


def _with_typo(meanings: Meanings, line: Marked) -> Meanings:
    return tuple(replace(meaning, through_typo=line.through_typo) for meaning in meanings)


def _takes_back(told: Meanings) -> bool:
    """Whether a denial beside a deed may be of that deed: it names no tree, or one of the same."""
    done = {tree for meaning in told if meaning.is_deed for tree in meaning.trees}
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


def _done_or_not(told: Meanings, context: Context) -> Ambiguous:
    done = tuple(meaning for meaning in told if meaning.verb not in _UNSAID)
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
    talk = all(m.verb in _SMALL_TALK for m in meanings)
    for meaning in meanings:
        if meaning.verb in (Verb.NOT_DONE, Verb.CANNOT, Verb.WILL_DO, Verb.NO) and meaning.trees in timed:
            continue
        if meaning.verb is Verb.SNOOZE and not meaning.until_utc and meaning.trees in timed:
            continue
        if meaning.verb is Verb.WILL_DO and set(meaning.trees) <= told and meaning.trees:
            continue
        if not talk and meaning.verb in (Verb.YES, Verb.THANKS, Verb.HELLO):
            continue
        if meaning not in kept:
            kept.append(meaning)
    return tuple(kept)


def _beside_lost(lost: list[Read], certain: Meanings, cover: Cover, line: Marked, context: Context) -> Reply:
    """What is certain beside words that nothing accounts for: asked about where it is a deed, else offered."""
    if certain and not any(meaning.verb in _RECORDS or meaning.verb in _SMALL_TALK for meaning in certain):
        return Understood(meanings=certain)
    if any(meaning.is_deed for meaning in certain):
        return _done_or_not(certain, context)
    heard = "; ".join([label((meaning,), context) for meaning in certain] + [read.heard for read in lost if read.heard])
    if certain:
        return NotUnderstood(heard=heard, choices=(Choice(label=label(certain, context), meanings=certain),))
    answers = [read.answers_to for read in lost if read.answers_to]
    spoken_of = deeds_spoken_of(cover, line, context) if not answers else None
    if spoken_of is not None and not isinstance(spoken_of, NotUnderstood) and spoken_of:
        return _done_or_not(_with_typo(spoken_of, line), context)
    choices = tuple(Choice(label=label(answer, context), meanings=answer) for answer in answers[:3])
    return spoken_of if isinstance(spoken_of, NotUnderstood) else NotUnderstood(heard=heard, choices=choices)
