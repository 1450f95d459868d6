"""Short text to meaning: one reading acts, several are asked about, none is answered with what was heard."""

import re
from dataclasses import replace

from bot.replies.clause import Clause
from bot.replies.clauses import clauses_of
from bot.replies.deeds import read_clause
from bot.replies.labels import label
from bot.replies.measurements import Read
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
from bot.replies.phrases.garden_phrases import wished_of_garden
from bot.replies.phrases.implied_questions import answer_to_question, asks_only, tells
from bot.replies.phrases.job_phrases import told_of_jobs
from bot.replies.phrases.picture_phrases import wished_picture
from bot.replies.phrases.questions import asked, commanded
from bot.replies.phrases.season_phrases import told_of_season
from bot.replies.sentences import told_and_asked, ways_to_cut
from bot.replies.words.courtesies import without_courtesies
from bot.replies.words.marking import Marked, marked
from bot.replies.words.names import reserved_names
from bot.replies.words.normalising import normalised
from bot.replies.words.patterns import HEDGED, NEGATIVE
from bot.replies.words.spelling import closest
from rules.garden.cover import CoverState

_LEFT_AS = {
    Verb.WRAPPED: CoverState.VENTED,
    Verb.VENTED: CoverState.VENTED,
    Verb.CLOSED: CoverState.CLOSED,
    Verb.STRIPPED: CoverState.BARE,
}
_POLITE = r"(?: please| thanks| thank you| sorry| sure| yes| no| ,| [.!])*$"
_YES = re.compile(r"^(?:yes|yep|yeah|yup|sure|y|ja|aye|of course|please do|absolutely|definitely)" + _POLITE)
_NO = re.compile(r"^(?:no|nope|nah|nay|n)" + _POLITE)


def parse_reply(text: str, context: Context) -> Reply:
    """The meaning of one reply in its context.

    Parameters
    ----------
    text
        What the person sent, of any length and in any script.
    context
        The garden's trees, the open asks, and the time at which it was said.

    Returns
    -------
    Understood
        Exactly one reading; act on it and offer undo.
    Ambiguous
        Two or three readings; nothing is recorded until one is chosen.
    NotUnderstood
        None; say what was heard and offer the choices. A negation anywhere never yields a deed that acts.
    """
    if commanded(text)[0] is None:
        text = without_courtesies(text)
        for cut in ways_to_cut(text):
            both = told_and_asked([_one_sentence(part, context) for part in cut.parts], by_stops=cut.by_stops)
            if both is not None:
                return _without_denied_deeds(both, text, context)
    return _one_sentence(text, context)


def _one_sentence(text: str, context: Context) -> Reply:
    verb, rest = commanded(text)
    if verb is not None and verb in (Verb.START, Verb.NOTE, Verb.CODE):
        return Understood(meanings=(Meaning(verb=verb, text=rest),))
    if verb is not None:
        text = without_courtesies(f"{verb.value.replace('_', ' ')} {rest}")
    told = _told(text, context)
    reply = _of_covers(text, context) if told is None else _without_denied_deeds(told, text, context)
    return _as_question(reply, text, context)


def _as_question(reply: Reply, text: str, context: Context) -> Reply:
    """A question that was taken for something told, as the question it is."""
    if isinstance(reply, NotUnderstood) or not tells(reply):
        return reply
    line = marked(text, context, keep_reserved=False)
    return answer_to_question(line, reply) if asks_only(text, line) else reply


def _told(text: str, context: Context) -> Reply | None:
    """A picture, a wish about garden or people, a job, news of the season; None leaves it to deeds and questions."""
    wish = wished_picture(text, context) or wished_of_garden(text, context)
    if wish is not None:
        return Understood(meanings=(wish,))
    try:
        return _of_jobs(text, context) or told_of_season(text, context, lambda part: _of_covers(part, context))
    except UnreadableError as unknown:
        return NotUnderstood(heard=str(unknown))


def _of_jobs(text: str, context: Context) -> Reply | None:
    """The year's jobs, unless the reply is wholly news of the season; beside a job either may stand."""

    def season(part: str) -> Reply | None:
        return told_of_season(part, context, lambda rest: _of_covers(rest, context))

    return told_of_jobs(text, context, lambda part: season(part) or _of_covers(part, context), season)


def _of_covers(text: str, context: Context) -> Reply:
    reply = _parse(text, context, keep_reserved=False)
    if not isinstance(reply, Understood) and reserved_names(context.trees):
        other = _parse(text, context, keep_reserved=True)
        reply = other if isinstance(other, Understood) or isinstance(reply, NotUnderstood) else reply
    return _without_denied_deeds(reply, text, context)


def _parse(text: str, context: Context, *, keep_reserved: bool) -> Reply:
    reply = marked(text, context, keep_reserved=keep_reserved)
    try:
        plain = _plain_answer(reply, context) or _tonight(reply) or asked(reply, context)
        if plain is not None:
            return Understood(meanings=(plain,))
        clauses = clauses_of(reply, fahrenheit=context.fahrenheit)
        questioned = _questioned(reply, clauses)
        return questioned or _assembled(_reads(clauses, context), reply, context)
    except UnreadableError as unknown:
        return NotUnderstood(heard=str(unknown), choices=())


def _plain_answer(reply: Marked, context: Context) -> Meaning | None:
    verb = Verb.YES if _YES.match(reply.text) else Verb.NO if _NO.match(reply.text) else None
    if verb is None:
        return None
    ask = context.asks[0] if len(context.asks) == 1 else None
    return Meaning(verb=verb, trees=ask.trees if ask else (), ask_key=ask.key if ask else None)


def _tonight(reply: Marked) -> Meaning | None:
    """ "Tonight", with a tree or without, asks how cold it will be."""
    words = [
        word
        for word in reply.text.split()
        if word not in ("?", "!", ".", "at", "the", "for", "what", "about", "and", "by")
    ]
    bare = [word for word in words if not word.startswith("@")]
    if len(bare) != 1 or bare[0] != "#0" or not reply.moments[0].is_tonight:
        return None
    return Meaning(verb=Verb.TONIGHT, trees=reply.trees_named, through_typo=reply.through_typo)


def _questioned(reply: Marked, clauses: list[Clause]) -> Understood | None:
    """A deed with a question mark asks how the cover stands; a day with one asks what is due."""
    if not reply.text.endswith("?") or not clauses or clauses[0].is_reminder:
        return None
    deeds = any(clause.did for clause in clauses)
    moment = clauses[0].moment
    ahead = moment is not None and moment.is_deliberate and not moment.is_duration
    if not deeds and not (ahead and not clauses[0].has_word):
        return None
    verb = Verb.TREES if deeds else Verb.DUE
    return Understood(meanings=(Meaning(verb=verb, trees=reply.trees_named, through_typo=reply.through_typo),))


def _reads(clauses: list[Clause], context: Context) -> list[Read]:
    reads: list[Read] = []
    spoken: tuple[str, ...] = ()
    for clause in clauses:
        read = read_clause(clause, context, spoken)
        reads.append(read)
        if len(read.options) == 1:
            spoken += tuple(tree for meaning in read.options[0] for tree in meaning.trees)
            context = _after(context, read.options[0])
    return reads


def _after(context: Context, told: tuple[Meaning, ...]) -> Context:
    """The covers as what was told leaves them: "wrapped all and closed them" closes what was bare before."""
    states = {tree: _LEFT_AS[meaning.verb] for meaning in told if meaning.verb in _LEFT_AS for tree in meaning.trees}
    trees = tuple(replace(tree, state=states.get(tree.name, tree.state)) for tree in context.trees)
    return replace(context, trees=trees) if states else context


def _assembled(reads: list[Read], reply: Marked, context: Context) -> Reply:
    """The clauses' readings as one reply: what is certain beside the choices of what is not."""
    lost = [read for read in reads if not read.options]
    certain = tuple(meaning for read in reads if len(read.options) == 1 for meaning in read.options[0])
    certain = tuple(replace(meaning, through_typo=reply.through_typo) for meaning in _merged(certain))
    if lost or not reads:
        return _not_understood(lost, certain, reply, context)
    open_reads = [read for read in reads if len(read.options) > 1]
    if not open_reads:
        return Understood(meanings=certain)
    choices = [_marked_typo(option, reply) for option in open_reads[0].options[:3]]
    return Ambiguous(
        question=open_reads[0].question,
        choices=tuple(Choice(label=label(option, context), meanings=option) for option in choices),
        certain=certain,
    )


def _marked_typo(meanings: tuple[Meaning, ...], reply: Marked) -> tuple[Meaning, ...]:
    return tuple(replace(meaning, through_typo=reply.through_typo) for meaning in meanings)


def _merged(meanings: tuple[Meaning, ...]) -> tuple[Meaning, ...]:
    """Each thing said once; "not yet, in an hour" is the hour, "on my way, closed" the deed."""
    kept: list[Meaning] = []
    timed = {m.trees for m in meanings if m.verb is Verb.SNOOZE and m.until_utc}
    told = {tree for m in meanings if m.is_deed or m.verb is Verb.SNOOZE for tree in m.trees}
    for meaning in meanings:
        if meaning.verb in (Verb.NOT_DONE, Verb.CANNOT, Verb.WILL_DO) and meaning.trees in timed:
            continue
        if meaning.verb is Verb.SNOOZE and not meaning.until_utc and meaning.trees in timed:
            continue
        if meaning.verb is Verb.WILL_DO and set(meaning.trees) <= told and meaning.trees:
            continue
        if meaning not in kept:
            kept.append(meaning)
    return tuple(kept)


def _not_understood(lost: list[Read], certain: tuple[Meaning, ...], reply: Marked, context: Context) -> NotUnderstood:
    heard = [label((meaning,), context) for meaning in certain] + [read.heard for read in lost if read.heard]
    choices = [Choice(label=label(certain, context), meanings=certain)] if certain else []
    answers = [read.answers_to for read in lost if read.answers_to]
    choices += [Choice(label=label(answer, context), meanings=answer) for answer in answers]
    if lost and not choices:
        choices = _nearest(lost[0], reply, context)
    return NotUnderstood(heard="; ".join(heard), choices=tuple(choices[:3]))


def _nearest(read: Read, reply: Marked, context: Context) -> list[Choice]:
    """For a deed on a tree we do not know, the trees whose names come nearest."""
    deed = next((verb for verb in Verb if read.heard.startswith(verb.value)), None)
    unknown = read.heard.partition("'")[2].rstrip("'")
    if deed is None or not unknown or reply.trees:
        return []
    trees = closest(unknown, [tree.name for tree in context.trees])
    options = [(Meaning(verb=deed, trees=(tree,), through_typo=True),) for tree in trees[:3]]
    return [Choice(label=label(option, context), meanings=option) for option in options]


def _without_denied_deeds(reply: Reply, text: str, context: Context) -> Reply:
    """A deed in a reply that also denies or doubts something is offered, never recorded."""
    plain = normalised(text)
    if isinstance(reply, NotUnderstood) or not (NEGATIVE.search(plain) or HEDGED.search(plain)):
        return reply
    told = reply.meanings if isinstance(reply, Understood) else reply.certain
    if not any(meaning.is_deed for meaning in told):
        return reply
    if isinstance(reply, Ambiguous):
        whole = tuple(replace(one, meanings=way) for one, way in zip(reply.choices, reply.ways, strict=True))
        return replace(reply, choices=whole, certain=())
    done = tuple(meaning for meaning in reply.meanings if meaning.is_deed)
    answered = next((ask for ask in context.asks if ask.key == done[0].ask_key), None)
    trees = answered.trees if answered else tuple(dict.fromkeys(tree for meaning in done for tree in meaning.trees))
    undone = (Meaning(verb=Verb.NOT_DONE, trees=trees, ask_key=done[0].ask_key),)
    return Ambiguous(
        question=Question.DONE_OR_NOT,
        choices=tuple(Choice(label=label(option, context), meanings=option) for option in (done, undone)),
        certain=tuple(meaning for meaning in reply.meanings if not tells(Understood(meanings=(meaning,)))),
    )
