"""What a grower says of the year's jobs: done, not yet, put off, not wanted. Never a deed on a cover."""

import re
import tomllib
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, time
from pathlib import Path
from typing import Final

from bot.replies.nouns import Ambiguous, Choice, Context, Meaning, Question, Reply, Understood, Verb
from bot.replies.phrases.line import MarkedLine, joined, line_of
from bot.replies.phrases.season_phrases import LONGEST_TOLD
from bot.replies.words.normalising import normalised
from bot.replies.words.patterns import NEGATIVE
from bot.replies.words.sightings import sight_in
from bot.replies.words.time_phrases import MONTHS
from bot.replies.words.times import mark_times
from bot.replies.words.vocabulary import FILLERS, FORMS
from rules.jobs import JobKind, MarkState

_PARTS: Final = re.compile(r"\s*(?:[,;\n]|[.!](?!\d)|\band\b|\bthen\b|\bbut\b|&)\s*", re.IGNORECASE)
_WORTH_MENDING: Final = ("watered", "checked", "mulched", "pruned", "straps", "bought", "postpone", "scratch")
_SPELLED: Final = frozenset({"prune", "bough"})  # right as they stand
_THINGS: Final = frozenset({"cover", "covers", "cap", "caps", "air"})  # not the act
_MONTH: Final = re.compile(rf"\b(?:until|till|til|to|in|for) (?:early |late |mid )?({'|'.join(MONTHS)})\b")
_WHY: Final = re.compile(
    r"^why (?:(?:should|must|do|would|am) (?:i|we) )?(?:(?:have|need|want|asked|told) to )?"
    r"(?:the |a |to |all |check |do )*"
)
_TABLE: Final = tomllib.loads((Path(__file__).parent / "job_phrases.toml").read_text(encoding="utf-8"))


def _in_full(pattern: str) -> str:
    for name in ("FEW", "SUPPLY"):
        pattern = pattern.replace(name, "".join(_TABLE["part"][name]))
    return pattern


def _compiled(rows: dict[str, list[str]]) -> dict[JobKind, re.Pattern[str]]:
    return {JobKind(kind): re.compile(rf"\b(?:{'|'.join(map(_in_full, ways))})\b") for kind, ways in rows.items()}


_TOLD: Final = _compiled(_TABLE["told"])
_THING: Final = _compiled(_TABLE["thing"])
_ANY: Final = {name: re.compile("|".join(ways)) for name, ways in _TABLE["any"].items()}


def _has(line: MarkedLine, name: str) -> bool:
    return _ANY[name].search(line.text) is not None


def told_of_jobs(
    text: str, context: Context, read_other: Callable[[str], Reply], season: Callable[[str], Reply | None]
) -> Reply | None:
    """What one reply tells of the year's jobs; None where it tells nothing of the kind.

    Parameters
    ----------
    text, context
        The reply, and what it is read against.
    read_other
        How a part of the reply that tells of something else is read, such as a deed beside a job.
    season
        What is news of the season: how long the dead wood is says more than that it was measured.
    """

    def one(part: str) -> Reply | None:
        found = _one(part, context)
        return None if found is None or season(part) is not None else found

    if len(text) > LONGEST_TOLD:
        return None
    read = [(part, one(part)) for part in _parts(text, context)]
    rest = [part for part, job in read if job is None]
    others = [part for part in rest if _tells_of_deeds(part) or season(part) is not None]
    if len(rest) == len(read) and (others or _tells_of_deeds(text)):
        return None
    if len(read) - len(rest) <= 1 and not others:
        return one(text)
    if any(NEGATIVE.search(normalised(part)) for part in rest if part not in others):
        return Understood(meanings=(Meaning(verb=Verb.NOT_DONE),))  # who takes something back means all of it
    return joined(_with_others([(part, job) for part, job in read if job or part in others], read_other))


def _parts(text: str, context: Context) -> list[str]:
    """The clauses; one that only names trees stays with the clause before it."""
    parts: list[str] = []
    for part in filter(str.strip, _PARTS.split(text)):
        if parts and _is_only_trees(part, context):
            parts[-1] += f" and {part}"
        else:
            parts.append(part)
    return parts


def _is_only_trees(part: str, context: Context) -> bool:
    words = _line(part, context).text.split()
    return any(word.startswith("@") for word in words) and all(word[0] == "@" or word in FILLERS for word in words)


def _tells_of_deeds(text: str) -> bool:
    words = [word for word in normalised(text).split() if word not in _THINGS]
    return any(FORMS.get(word, "=done") != "=done" for word in words)


def _with_others(read: list[tuple[str, Reply | None]], read_other: Callable[[str], Reply]) -> list[Reply]:
    """Every part's meaning in order; neighbours that tell of no job are read together, as they were said."""
    replies: list[Reply] = []
    waiting: list[str] = []
    for part, one in [*read, ("", Understood(meanings=()))]:
        if one is None:
            waiting.append(part)
            continue
        if waiting:
            replies.append(read_other(" and ".join(waiting)))
            waiting = []
        replies.append(one)
    return replies


def _line(text: str, context: Context) -> MarkedLine:
    line = line_of(text, context, _WORTH_MENDING, _SPELLED)
    marked, moments = mark_times(line.text, context)
    return replace(line, text=marked, moments=moments)


def _one(text: str, context: Context) -> Reply | None:
    line = _line(text, context)
    told = next((kind for kind, pattern in _TOLD.items() if pattern.search(line.text)), None)
    thing = told or next((kind for kind, pattern in _THING.items() if pattern.search(line.text)), None)
    if thing is JobKind.CHECK_SUPPLIES and sight_in(line.text) is not None:
        return None  # "frost got the leaves" buys none
    if thing is None or (told is JobKind.PRUNE_TO_FIT and line.named and not NEGATIVE.search(line.text)):
        return None  # a pruning at a tree is news of the season
    if (lead := _WHY.match(line.text)) and _THING[thing].match(line.text, lead.end()):
        return _about(line, Meaning(verb=Verb.DUE, job=thing))
    if _has(line, "question") or _has(line, "asks_when"):
        asks_when = _has(line, "asks_when") and told is None
        return _about(line, Meaning(verb=Verb.DUE, job=thing)) if asks_when else None
    return _answered(line, thing, context, is_told=told is not None)


def _answered(line: MarkedLine, kind: JobKind, context: Context, *, is_told: bool) -> Reply | None:
    """What became of a job; a negation never makes it done, and neither does trouble found on the way."""
    if kind is JobKind.LOOK_FOR_VOLES and _has(line, "all_clear") and not _has(line, "trouble"):
        return _about(line, _mark(line, kind, MarkState.DONE))
    until = None if is_told else _until(line, context)
    today = any(moment.is_today or moment.is_tonight for moment in line.moments)
    if _has(line, "skip") and not is_told:
        return _about(line, _mark(line, kind, MarkState.PUT_OFF if today or until else MarkState.REFUSED, until))
    is_bidden = _THING[kind].match(line.text) is not None  # "water tomorrow"
    if not is_told and (_has(line, "put_off") or (until and (_has(line, "promise") or is_bidden))):
        return _about(line, _mark(line, kind, MarkState.PUT_OFF, until))
    if NEGATIVE.search(line.text):
        return _about(line, Meaning(verb=Verb.NOT_DONE))
    if _has(line, "trouble"):
        return None
    if _has(line, "promise"):
        return _about(line, Meaning(verb=Verb.WILL_DO))
    if is_told or _has(line, "done"):
        return _about(line, _mark(line, kind, MarkState.DONE))
    return None


def _mark(line: MarkedLine, kind: JobKind, state: MarkState, until: datetime | None = None) -> Meaning:
    past = next((at for moment in line.moments if not moment.is_today for at in moment.past or moment.told), None)
    at = past if state is MarkState.DONE else None
    return Meaning(verb=Verb.JOB, job=kind, mark=state, at_utc=at, until_utc=until)


def _until(line: MarkedLine, context: Context) -> datetime | None:
    """When to ask again: a time still to come, or the first of a month."""
    month = _MONTH.search(line.text)
    near = re.search(r"\bnext month\b", line.text)
    today = context.local_now.date()
    if month or near:
        wanted = MONTHS.index(month[1]) + 1 if month else today.month % 12 + 1
        day = today.replace(year=today.year + (wanted <= today.month), month=wanted, day=1)
        return datetime.combine(day, time(8), context.zone)
    ahead = [moment.future[0] for moment in line.moments if moment.future and not moment.is_tonight]
    return ahead[-1] if ahead else None


def _about(line: MarkedLine, meaning: Meaning) -> Reply:
    """The meaning on the trees named, of all where none is; with a choice where a name may mean several."""
    unclear = next((one for one in line.named if one.is_open), None)
    if unclear is not None and meaning.verb is Verb.JOB:
        choices = tuple(Choice(label=tree, meanings=(replace(meaning, trees=(tree,)),)) for tree in unclear.trees[:3])
        return Ambiguous(question=Question.WHICH_TREE, choices=choices)
    trees = tuple(dict.fromkeys(tree for one in line.named for tree in one.trees))
    return Understood(meanings=(replace(meaning, trees=trees),))
