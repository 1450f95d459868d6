"""What the clauses of a reply mean together: each read by its reader, beside what the others tell."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Final

from bot.replies.assembling import SMALL_TALK, assembled
from bot.replies.clause import Clause, last_apart
from bot.replies.covering import LEFT_OVER, QUESTIONS, Cover
from bot.replies.cues.told import ASK, MAYBE, SEEN
from bot.replies.grammar import grammar, ours
from bot.replies.joining import joined, of_those_before, sharing
from bot.replies.learned.asking import BEYOND, UNDECIDED
from bot.replies.learned.clauses import certainly
from bot.replies.meanings.asked import one_of_those, read_question
from bot.replies.meanings.deeds import (
    asked_back,
    read_bare,
    read_done,
    read_done_or_later,
    read_ok,
    read_promise,
    read_put_off,
    read_refusal,
    read_wish,
)
from bot.replies.meanings.left_over import heard_of
from bot.replies.meanings.read import Meanings, Read, or_no
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
    Context,
    Meaning,
    NotUnderstood,
    Reply,
    Understood,
    Verb,
)
from bot.replies.words.marking import Marked
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
    **dict.fromkeys(("picked", "cuttings", "dieback", "pruned"), lambda *told: _of_tree_spoken_of(*told)),
}  # fmt: skip
_LEFT_AS: Final = {
    Verb.WRAPPED: CoverState.VENTED,
    Verb.VENTED: CoverState.VENTED,
    Verb.CLOSED: CoverState.CLOSED,
    Verb.STRIPPED: CoverState.BARE,
}
OF_A_STATE: Final = frozenset((*SIGHTS, "damage", "dieback"))  # what is told of a tree or cover, or asked of it


def of_cover(cover: Cover, line: Marked, context: Context) -> Reply | None:
    """What a cover means; None where one of its clauses cannot be meant so."""
    if not any(one.tells in QUESTIONS for one in cover.clauses):
        cover = replace(cover, clauses=tuple(map(_as_learned, cover.clauses)))
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
    unknown = [one for one in clauses if one.tells in (UNDECIDED, BEYOND)]
    told = [one for one in clauses if one.tells not in (UNDECIDED, BEYOND)]
    if all(one.tells == LEFT_OVER for one in told):
        return list(clauses)
    begin = {one.start for one in clauses if one.tells in QUESTIONS}
    told = [one for one in told if not (one.tells == "moved" and one.end + 1 in begin and _only_names_place(one))]
    asked = [one for one in clauses if one.tells in QUESTIONS and one.marked.words[one.end : one.end + 1] == ["?"]]
    brief = any(len(one.words) == 1 or (one in unknown and len(one.words) <= FEW) for one in asked)  # "right?"
    wondered = any(not ours().words("BEFALLS").isdisjoint(one.words) for one in asked)
    unsure = {*SEEN, "job"} if brief or wondered else set()
    unsure |= {"did", "reading"} if brief else set()
    return [replace(one, tells=one.tells + MAYBE) if one.tells in unsure else one for one in told]


def _only_names_place(one: Clause) -> bool:
    """ "The satsuma in the garage, how often needs it water": which is meant, and no move."""
    apart = one.marked.words[one.end : one.end + 1] == [","]
    return apart and grammar().words("MOVED").isdisjoint(one.words)


FEW: Final = 3  # words; no source


def _of_tree_spoken_of(clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    """Fruit, cuttings and wood: "mould at the kaki. cut it back" is of the tree just spoken of."""
    read, trees = read_season(clause, context), tuple(dict.fromkeys(spoken))
    if len(trees) != 1:
        return read
    ways = tuple(tuple(one if one.trees else replace(one, trees=trees) for one in way) for way in read.options)
    return replace(read, options=ways)


def _as_learned(clause: Clause) -> Clause:
    """What no line fits as what its like certainly told; else as it is."""
    told = certainly(clause.marked, clause.start, clause.end) if clause.tells == LEFT_OVER else None
    return replace(told, joined_by=clause.joined_by) if told is not None else clause


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
    if clause.tells == UNDECIDED:
        return one_of_those(clause, context)
    meaning = read_question(clause, context) if clause.tells != BEYOND else Meaning(verb=Verb.BEYOND)
    return Read(options=((meaning,),)) if meaning is not None else Read()


def _after(context: Context, told: Meanings) -> Context:
    """The covers as what was told leaves them: "wrapped all and closed them" closes what was bare before."""
    states = {tree: _LEFT_AS[meaning.verb] for meaning in told if meaning.verb in _LEFT_AS for tree in meaning.trees}
    trees = tuple(replace(tree, state=states.get(tree.name, tree.state)) for tree in context.trees)
    return replace(context, trees=trees) if states else context
