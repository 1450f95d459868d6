"""What words of a person's own likely tell, by what like sentences told: offered in one tap where it is not certain."""

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from itertools import pairwise
from typing import Final

from bot.replies.grammar import ours
from bot.replies.labels import label
from bot.replies.learned.clauses import (
    OF_WHO_WRITES,
    Told,
    denials,
    is_of_another,
    is_sure,
    kinds_told,
    likeliest,
    names_place_alone,
)
from bot.replies.meanings.absences import SHORTEST, read_absence
from bot.replies.meanings.deeds import read_done
from bot.replies.meanings.free_hours import free_hours_said, names_hours
from bot.replies.meanings.left_over import speaks_of_ours
from bot.replies.meanings.read import Meanings, Read, or_no
from bot.replies.meanings.season import read_news, read_season
from bot.replies.meanings.sights import brought_at, per_tree, read_condition, read_sight, read_temperature
from bot.replies.nouns import (
    Ambiguous,
    Choice,
    Context,
    Meaning,
    NotUnderstood,
    OpenAsk,
    Question,
    Reply,
    Understood,
    Verb,
)
from bot.replies.phrases.setting_phrases import read_settings
from bot.replies.talk.instead import AS_NOTED
from bot.replies.words.marking import Marked
from rules.garden.condition import ConditionKind
from rules.jobs import JobKind, MarkState
from rules.plan.grower.free_hours import ALL_DAY

OFFERED: Final = 0.45  # of what is as likely four in five are it, on 160 sentences of people who saw none learned from
NAMELESS: Final = 0.6  # of a tree or cover, where none is named; no source
OF_SHED: Final = frozenset(("stock", "out_of", "away", "back", "correction"))
BELIEVED: Final = 0.6  # of what notes nothing: not done yet, or none of our business; no source
FOUND: Final = {"wood_alive": "green", "wood_dead": "brown"}  # under the bark
UNDONE: Final = ("not_done", "cannot", "later")
NONE_OF_THEM: Final = (Meaning(verb=Verb.NO),)
SINCE: Final = frozenset(("since", "until", "till", "at"))
NO_TIME: Final = frozenset(("home", "work", "last", "once", "the", "least", "all"))  # behind "at"
DATED: Final = frozenset((Verb.READING, Verb.CONDITION, Verb.SIGHTING, Verb.JOB))
OF_COVER_OR_TREE: Final = frozenset(("damage", "did", "swelling", "dropped", "job", "pruned", "picked"))


def likely_told(line: Marked, context: Context) -> Reply | None:
    """What a reply that nobody could read likely tells; None where no one kind stands out, or it asks."""
    told = kinds_told(line)
    if not told:
        return None
    best, chances = told[0], dict(told)
    asked = context.asks[-1] if context.asks else None
    bids = line.words[1:2] == ["you"]  # "can't you close it yourself"
    undone = sum(chances[kind] for kind in UNDONE) >= BELIEVED and not bids
    if asked and undone and set(line.trees_named) <= set(asked.trees):
        return Understood(meanings=(Meaning(verb=Verb.NOT_DONE, trees=asked_of(asked, line), ask_key=asked.key),))
    if best.matter == "talk" and best.chance >= BELIEVED and not speaks_of_ours(line) and not _counts(line):
        return NotUnderstood(is_ours=False)
    if best.matter == "fine" and best.chance >= BELIEVED and not _counts(line):
        return Understood(meanings=(Meaning(verb=Verb.FINE),))
    if best.chance < (OFFERED if line.trees or best.matter in ASIDE or best.matter in OF_SHED else NAMELESS):
        return None
    if best.matter == "correction":
        return _taken_back(line, context)
    aside = ASIDE.get(best.matter)
    read = aside(line, context) if aside is not None else as_told(line, context)
    of_another = best.matter in OF_WHO_WRITES and any(
        name.casefold() in line.typed.casefold() for name in context.people
    )
    placed = len(read.options) == 1 and not of_another and _is_placed(best.matter, read, line)
    if placed and not lacks_time(read.options[0], line) and is_sure(line):
        return Understood(meanings=read.options[0])
    return _offered(read, context)


def asked_of(ask: OpenAsk, line: Marked) -> tuple[str, ...]:
    """Of the trees that a nudge asks for those that are named; all where none is."""
    return tuple(tree for tree in ask.trees if tree in line.trees_named) or ask.trees


def lacks_time(told: Meanings, line: Marked) -> bool:
    """Whether a time that was is said and what is told has none: "at breakfast, which was at seven"."""
    said = any((one.past or one.told) and not one.is_today for one in line.moments)
    pairs = pairwise(line.words)
    said |= any(word in SINCE and after[0] not in "#@%&" and after not in NO_TIME for word, after in pairs)
    return said and any(one.at_utc is None for one in told if one.is_deed or one.verb in DATED)


def _is_placed(kind: str, read: Read, line: Marked) -> bool:
    """Whether it is plain what it is of: until when, or a tree by its whole name where its place may be the house's."""
    if kind == "back":
        return not speaks_of_ours(line) and not _counts(line)
    if kind == "away":
        return read.options[0][0].until_utc is not None
    told = likeliest(line)
    return told is None or not names_place_alone(told.clause)


def tells_of_ours(line: Marked) -> bool:
    """Whether words in which nothing was read likely tell of something that is our business."""
    best = next(iter(kinds_told(line)), None)
    return best is not None and best.chance >= OFFERED and best.matter != "talk"


def _counts(line: Marked) -> bool:
    """Whether it holds a time, a number, or words that take something back."""
    taken_back = not ours().words("CORRECTS").isdisjoint(line.words)
    return taken_back or any(word[0] in "#%~" or word.isdigit() for word in line.words)


def _offered(read: Read, context: Context) -> Ambiguous | None:
    """The readings of one kind as choices, and that it is none of them."""
    if not read.options:
        return None
    several = len(read.options) > 1 and NONE_OF_THEM not in read.options
    ways = [*read.options, NONE_OF_THEM] if several else or_no(read).options
    return _asked(ways, context)


def so_or_not(told: Meanings, context: Context) -> Ambiguous:
    """Whether what was read is meant, in one tap."""
    return _asked(or_no(Read(options=(told,))).options, context)


def _asked(ways: Sequence[Meanings], context: Context) -> Ambiguous:
    choices = tuple(Choice(label=label(way, context), meanings=way) for way in ways)
    return Ambiguous(question=Question.DONE_OR_NOT if ways[0][0].is_deed else Question.SO_OR_NOT, choices=choices)


def _taken_back(line: Marked, context: Context) -> Ambiguous | None:
    """What was noted last: of the tree that is named instead, taken back, or left as it is."""
    last = context.last_told
    if not last:
        return None
    before = {tree for one in last for tree in one.trees}
    named = tuple(tree for tree in line.trees_named if tree not in before)
    choices = [Choice(label=f"Not so: {label(last, context)}", meanings=(Meaning(verb=Verb.UNDO),)), AS_NOTED]
    if named and len(before) == 1:
        moved = tuple(replace(one, trees=named, ask_key=None) for one in last)
        name = f"{label(moved, context)}, not {before.pop()}"
        choices.insert(0, Choice(label=name, meanings=(Meaning(verb=Verb.UNDO), *moved)))
    return Ambiguous(question=Question.TAKE_BACK, choices=tuple(choices))


def as_told(line: Marked, context: Context) -> Read:
    """The clause that it likely is, read as one; nothing where it denies, or speaks of nothing of ours."""
    told = likeliest(line)
    if told is None or is_of_another(line) or not denials(told.kind).isdisjoint(line.words):
        return Read()
    if told.kind == "wood_dead" and not ours().words("BUDDED").isdisjoint(line.words):
        return Read()  # "the frost killed the buds": the wood may live
    if told.kind == "mended" and not line.trees:
        return _mended_last(context)
    of_ours = bool(line.trees) or (told.clause.tells != "did" and speaks_of_ours(line))
    if told.clause.tells in OF_COVER_OR_TREE and not of_ours:
        return Read()
    return _read(told, context)


def _mended_last(context: Context) -> Read:
    """What was told last to have befallen a cover, put right: "back on, with a brick"."""
    befell = [one for one in context.last_told if one.verb is Verb.CONDITION and not one.is_over]
    return Read(options=(tuple(replace(one, is_over=True, at_utc=None) for one in befell),)) if befell else Read()


def _read(told: Told, context: Context) -> Read:
    clause = told.clause
    match clause.tells:
        case "damage":
            return read_condition(clause, context, ())
        case "did":
            return read_done(clause, context, ())
        case "job":
            return per_tree(_scratched(told), clause, context, ())
        case "stock":
            return read_news(clause)
        case "pruned" | "picked" | "dieback":
            return read_season(clause, context)
        case "reading":
            return read_temperature(clause, context, ())
        case "away":
            gone = read_absence(Meaning(verb=Verb.AWAY), clause, context) or Meaning(verb=Verb.AWAY)
            return Read(options=((gone,),))
        case "back":
            return Read(options=((Meaning(verb=Verb.BACK),),))
        case _:
            return read_sight(clause, context, ())


def _scratched(told: Told) -> Meaning:
    return Meaning(verb=Verb.JOB, job=JobKind.SCRATCH_TEST, mark=MarkState.DONE, text=FOUND[told.kind])


def _moved(place: str, line: Marked, context: Context) -> Read:
    """The pot that is named, or the only one there is, brought in or out."""
    pots = [tree.name for tree in context.trees if tree.standing == "pot"]
    named = [tree for tree in pots if tree in line.trees_named] or (pots if len(pots) == 1 and not line.trees else [])
    at = brought_at(next((one for one in line.moments if not one.is_today), None), context)
    moved = Meaning(verb=Verb.CONDITION, condition=ConditionKind.MOVED, text=place, at_utc=at)
    told = [replace(moved, trees=(pot,)) for pot in named]
    return Read(options=tuple((one,) for one in told))


def _free(line: Marked, _: Context) -> Read:
    """When somebody has time, where words name hours that we can keep, and exclude none."""
    hours = line.typed.strip(" .!").casefold()
    kept = set(free_hours_said(hours).items())
    told = kept < set(free_hours_said("").items()) or any(one != ALL_DAY for _, one in kept)
    excluded = not (ours().words("DENIES") | {"except", "but"}).isdisjoint(line.words)
    said = Meaning(verb=Verb.FREE_HOURS, text=hours)
    return Read(options=((said,),) if told and not excluded and names_hours(hours) else ())


def _hushed(line: Marked, context: Context) -> Read:
    """Who wants to hear less: between which hours or until when, if that is said, else what can be set, or no more."""
    hours = BETWEEN.search(line.typed)
    quiet = f"quiet from {hours[1]} to {hours[2]}".replace("m.", "m").replace(".m", "m") if hours else ""
    if quiet and read_settings(quiet, context):
        return Read(options=((Meaning(verb=Verb.SETTING, text=quiet),), (Meaning(verb=Verb.SETTINGS),)))
    until = max((one.future[0] for one in line.moments if one.future), default=None)
    until = until if until is not None and until - context.now > SHORTEST else None
    ways = [Meaning(verb=Verb.AWAY, until_utc=until)] if until else [Meaning(verb=Verb.STOP, text="me")]
    return Read(options=tuple((one,) for one in (*ways, Meaning(verb=Verb.SETTINGS))))


_HOUR: Final = r"(\d{1,2}(?:[:.]\d\d)?(?:\s*[ap]\.?m\b\.?)?)"
BETWEEN: Final = re.compile(rf"\b(?:between|from|after) {_HOUR}\s*(?:and|to|until|till|til|-)\s*{_HOUR}", re.IGNORECASE)
# What is no clause of the grammar: a pot moved, hours, silence.
ASIDE: Final[dict[str, Callable[[Marked, Context], Read]]] = {
    "moved_in": partial(_moved, "inside"), "moved_out": partial(_moved, "outside"), "free": _free, "quiet": _hushed,
}  # fmt: skip
