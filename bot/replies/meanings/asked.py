"""What a clause asks of us, or wishes: questions, pictures, and what people say of themselves."""

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import Final

from bot.replies.clause import Clause
from bot.replies.grammar.recogniser import chart_of
from bot.replies.learned.asking import BEYOND, TURNED, WH
from bot.replies.learned.features import spoken_of
from bot.replies.learned.likely import ASKED, learned
from bot.replies.meanings.absences import read_absence
from bot.replies.meanings.read import Read
from bot.replies.nouns import Context, Meaning, Question, UnreadableError, Verb
from bot.replies.words.numbers import Temperature, believed
from bot.replies.words.time_phrases import MONTHS
from bot.replies.words.times import Moment
from rules.garden.condition import ConditionKind

PICTURES: Final = {
    "section": "section", "freezes": "freezes", "twins": "twins", "supplies": "supplies", "season_pic": "season",
    "week": "week",
}  # fmt: skip
ASKED_AS: Final = {
    "sleep": Verb.LET_SLEEP, "quiet": Verb.AWAY,
    "whether": Verb.TREES, "which_day": Verb.DUE, "which_night": Verb.TONIGHT,
}  # fmt: skip
_BEFELL: Final = {
    "PESTS": ConditionKind.MICE, "SNOW": ConditionKind.SNOW_ON, "SOAKED": ConditionKind.WET,
    "TEAR": ConditionKind.TORN, "MOULD": ConditionKind.MOULD, "BRANCH": ConditionKind.BRANCH_BROKEN,
}  # fmt: skip
WEATHER_WORDS: Final = ["windy", "wind", "calm", "still", "cloudy", "clear", "rain", "rainy", "snow", "snowy", "sunny"]
_OF_MEANING: Final = frozenset((
    *("mean", "means", "meant", "meaning", "even", "word", "please", "call", "called", "a", "an", "the", "by", "you"),
    *("it", "say", "your", "with", "that", "this", "in", "of", "to", "tree", "when", "i", "for", "me"),
))  # fmt: skip
_OF_ME: Final = frozenset(("me", "unsubscribe", "mute", "messages", "alone"))  # silence for whoever says it
_THROWN_OVER: Final = frozenset(("blanket", "blankets", "sheet", "sheets", "duvet", "tarp", "fleece", "throw"))


def read_question(clause: Clause, context: Context) -> Meaning | None:
    """The question or wish of a clause; None where it is none after all."""
    trees = tuple(
        dict.fromkeys(tree for word in clause.words if word[0] == "@" for tree in clause.marked.tree_of(word).trees)
    )
    if clause.tells in PICTURES:
        single = len(trees) == 1 or not trees
        return Meaning(verb=Verb.PICTURE, text=PICTURES[clause.tells], trees=trees) if single else None
    verb = ASKED_AS.get(clause.tells) or Verb(clause.tells)
    meaning = Meaning(verb=verb, trees=trees)
    match verb:
        case Verb.TONIGHT:
            return _of_a_night(meaning, clause)
        case Verb.MORE:
            befell = next((kind for name, kind in _BEFELL.items() if _speaks_of(clause, name)), None)
            return replace(meaning, condition=befell, text="heat" if _speaks_of(clause, "HEAT") else "")
        case Verb.BY_WHEN:
            return _by_when(meaning, clause, context)
        case Verb.WHAT_IF:
            return _what_if(meaning, clause, context)
        case Verb.LAST_NIGHT if _is_to_come(clause):
            return _of_a_night(replace(meaning, verb=Verb.TONIGHT), clause)
        case Verb.LAST_NIGHT:
            return _of_last_night(meaning, clause)
        case Verb.DUE if clause.has("day") and clause.moment and clause.moment.is_tonight:
            return None
        case Verb.DUE if "or" in clause.words:  # "both or only the porch one" asks of all
            return replace(meaning, trees=())
        case Verb.DUE:
            return replace(meaning, month=_month(clause.text("month"), context))
        case Verb.AWAY:
            return read_absence(meaning, clause, context)
        case Verb.HOW_TO if any(named.is_open for named in clause.named):
            return replace(meaning, trees=())  # "how do I wrap a fig"
        case Verb.BACK if any(word[0] == "&" for word in clause.words):
            return None  # "juniper home" is of her
        case Verb.MEAN:
            return replace(meaning, text=_word_asked_about(clause))
        case Verb.YES | Verb.NO | Verb.WHY if not trees and len(context.asks) == 1:
            return replace(meaning, trees=context.asks[0].trees, ask_key=context.asks[0].key)
        case Verb.STOP if clause.moment is not None and "now" not in clause.marked.typed.casefold():
            return None  # "no more messages tonight" is no end of them
        case Verb.STOP:
            alone = not _OF_ME.isdisjoint(clause.words)
            return replace(meaning, trees=(), text="me" if alone else "")
        case Verb.UNDO | Verb.THANKS | Verb.HELLO:
            return replace(meaning, trees=())
    return meaning


def _word_asked_about(clause: Clause) -> str:
    """The word that a line keeps, else the first that is not part of the asking: "what means vent"."""
    kept = clause.text("word").removeprefix("a ").removeprefix("the ")
    asking = WH | TURNED | _OF_MEANING
    return kept or next((word for word in clause.words if word.isalpha() and word not in asking), "")


def _speaks_of(clause: Clause, name: str) -> bool:
    chart = chart_of(tuple(clause.marked.words))
    return any(clause.start <= at < clause.end and chart.name_at(name, at) for at in chart.may_begin(name))


def one_of_those(clause: Clause, context: Context) -> Read:
    """The three likeliest matters of a question as choices."""
    likely = learned().likely(ASKED, spoken_of(clause.marked, clause.start, clause.end))[:MOST]
    ways = [read_question(replace(clause, tells=one.matter), context) for one in likely if one.matter != BEYOND]
    return Read(options=tuple((way,) for way in ways if way is not None), question=Question.WHAT_ABOUT)


MOST: Final = 3  # choices


def _of_a_night(meaning: Meaning, clause: Clause) -> Meaning | None:
    """Which night; None where a time alone is said that is not tonight, since that may put something off."""
    moments = [clause.marked.moment_of(word) for word in clause.words if word[0] == "#"]
    if clause.has("when") or clause.has("night_word"):
        return meaning if clause.moment and clause.moment.is_tonight else None
    other = next((one for one in moments if _is_other_night(one)), None)
    return replace(meaning, at_utc=other.future[0] if other else None)


def _is_to_come(clause: Clause) -> bool:
    """ "How cold on sunday night": no word of what was."""
    moment = clause.moment
    return moment is not None and _is_other_night(moment) and _PAST.isdisjoint(clause.words)


_PAST: Final = frozenset(("was", "were", "did", "got", "get", "went", "had", "felt", "dropped", "last"))


def _is_other_night(one: Moment) -> bool:
    return one.is_deliberate and bool(one.future) and not (one.is_tonight or one.is_duration)


def _by_when(meaning: Meaning, clause: Clause, context: Context) -> Meaning:
    """Of the trees of what is asked where none is named; with the hour that it would be done at."""
    asked = tuple(dict.fromkeys(tree for ask in context.asks for tree in ask.trees))
    hour = next((one.future[0] for one in (clause.moment,) if one and one.future and not one.is_today), None)
    return replace(meaning, trees=meaning.trees or asked, at_utc=hour or _bare_hour(clause, context))


def _bare_hour(clause: Clause, context: Context) -> datetime | None:
    """The next time that a clock shows a number named alone: "is 6 too late"; None where none is."""
    said = next((int(word) for word in clause.words if word.isdigit() and 1 <= int(word) <= 12), None)
    if said is None:
        return None
    now = context.local_now
    hours = (now.replace(hour=(said + add) % 24, minute=0, second=0, microsecond=0) for add in (0, 12))
    return min((one for one in hours if one > now), default=None)


def _of_last_night(meaning: Meaning, clause: Clause) -> Meaning | None:
    """None where a time to come is named: "what's the low tonight"; refused where another night is."""
    moments = [clause.marked.moment_of(word) for word in clause.words if word[0] == "#"]
    named = [moment for moment in moments if not moment.is_today]
    if any(moment.is_tonight or not (moment.past or moment.told) for moment in named):
        return None
    if any(not moment.is_night and moment.told and not moment.past for moment in named):
        raise UnreadableError("a night further back: I can only tell of last night")
    return meaning


def _what_if(meaning: Meaning, clause: Clause, context: Context) -> Meaning:
    """How cold, and in `text` the weather and the cover that are supposed: "windy bucket fill 0.400" (metres)."""
    words = clause.words
    supposed = [word for word in words if word in WEATHER_WORDS] + _supposed_cover(clause)
    given = clause.temperature or _bare_number(words, context)
    if given is None:  # a blanket thrown over helps as other little things do; else it is of the coming nights
        thrown = not _THROWN_OVER.isdisjoint(words)
        return replace(meaning, verb=Verb.MORE) if thrown else replace(meaning, text=" ".join(supposed))
    if given.air_c is None:
        raise UnreadableError("what if, but not how cold")
    return replace(meaning, air_c=given.air_c, text=" ".join(supposed))


def _bare_number(words: Sequence[str], context: Context) -> Temperature | None:
    number = next((word for word in words if re.fullmatch(r"\d{1,3}", word)), None)
    return believed(float(number), fahrenheit=context.fahrenheit, as_written=number) if number else None


def _supposed_cover(clause: Clause) -> list[str]:
    """The words for a bucket, for each thickness of fill, and for the question whether what there is will do."""
    words = clause.words
    supposed = ["bucket"] if {"bucket", "buckets"} & set(words) else []
    for word in words:
        if word[0] == "~":
            supposed += ["fill", f"{clause.marked.lengths_m[int(word[1:])]:.3f}"]
    return supposed or (["enough"] if "enough" in words else [])


def _month(word: str, context: Context) -> int | None:
    if word in ("next month", "this month"):
        return (context.local_now.month - (word == "this month")) % 12 + 1
    return next((i for i, name in enumerate(MONTHS, 1) if word and name[:3] == word[:3]), None)
