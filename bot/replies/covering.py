"""A reply covered by clauses, word for word; words that no line of the grammar accounts for are kept as such."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final

from bot.replies.clause import Clause, clause_of
from bot.replies.grammar import Line, grammar, ours
from bot.replies.grammar.recogniser import ENDS, RUN, Chart, Kept, chart_of
from bot.replies.learned.asking import BEYOND, UNDECIDED, asked_from
from bot.replies.words.marking import Marked
from bot.replies.words.spelling import deed_forms

STOPS: Final = frozenset((",", ".", ";", "!", ":", "-"))
JOINS: Final = frozenset(("and", "but", "then", "plus", "also", "n", "so", "&"))
LEFT_OVER: Final = "left over"
QUESTIONS: Final = frozenset((
    "what_if", "strip_when", "first_frost", "last_frost", "ripen", "last_night", "how_hard", "need", "why",
    "season", "learned", "review", "due", "tonight", "trees", "mean", "why_job", "when_job", "help", "first",
    "more", "may_open", "stay_shut", "how_to", "by_when", "noted", "alive", "nights",
    "best_forecast", "who", "settings", "compare", UNDECIDED, BEYOND,
))  # fmt: skip
HEARD: Final = frozenset((
    "tree", "item", "when", "temp", "num", "dead", "whole", "percent", "part", "frac", "hours", "plural",
    "where", "how", "whom", "day", "night_word", "month", "inside", "low", "supply",
))  # fmt: skip
MAY_RUN_ON: Final = frozenset(("did", "reading", "job", "picked", "left"))  # into a question, with no stop between
ASKING: Final = frozenset((
    "what", "what's", "whats", "how", "when", "why", "which", "who", "should", "shall", "can", "could", "do",
    "did", "is", "are", "will", "may", "must", "anything", "any",
))  # fmt: skip
TELLERS: Final = frozenset((  # who did the next thing: "ben shut porch i did wall"
    "i", "we", "he", "she", "they", "i'm", "i've", "i'll", "i'd", "we're", "we've", "we'll", "she's", "he's", "it's",
    "there's", "that's", "because", "cause", "cos",
))  # fmt: skip
ADDING: Final = frozenset((  # may begin words that nothing stops before
    "it", "it's", "with", "while", "what", "tell", "ask", "let", "don't", "please", "so", "my",
))  # fmt: skip
SCOPING: Final = frozenset(("later", "plan", "cannot", "not_done", "base", "no", "undo", "will_job", "not_job", "half"))
BIDDING: Final = frozenset(("leave", "stop", "quit", "don't", "remind"))
AT_TIME: Final = frozenset(("at", "on", "about", "around"))
OBJECTS: Final = frozenset(("tree", "item", "lid"))
MOST_WAYS: Final = 6
# What a cover costs: the fewest clauses win, an account of every word before one with any words in it.
CLAUSE, ANY_WORDS, BEFORE_WORD, SOME_RUN, UNHEARD = 1.0, 3.0, 1.5, 0.3, 0.4
ASIDE, NOT_SET_APART = 1.05, 1.5
LOST, LOST_WORD = 30.0, 3.0
NO_TREE = 20.0  # a number that no tree has
HEARD_MORE, OVER_STOP = 0.05, 2.0


@dataclass(frozen=True)
class Cover:
    """Clauses that together are the whole reply."""

    cost: float = 0.0
    clauses: tuple[Clause, ...] = ()

    @property
    def lost(self) -> list[Clause]:
        """The runs of words that nothing accounts for."""
        return [clause for clause in self.clauses if clause.tells == LEFT_OVER]


def covers(marked: Marked) -> list[Cover]:
    """The cheapest ways to cover a reply, each different."""
    words = marked.words
    chart = chart_of(tuple(words))
    ways: dict[int, list[Cover]] = {len(words): [Cover()]}
    for at in range(len(words) - 1, -1, -1):
        if words[at] in STOPS or (words[at] in JOINS | {"?"} and at):
            ways[at] = ways.get(at + 1, [])
        if words[at] in STOPS or (words[at] == "?" and at):
            continue
        found = [*ways.get(at, ()), *(_begun(at, marked, chart, ways) if _may_begin(words, at) else ())]
        least = min((one.cost for one in found), default=0.0)
        ways[at] = list({_key(one): one for one in found if one.cost < least + 0.001}.values())[:MOST_WAYS]
    return ways.get(0, [])


def _may_begin(words: Sequence[str], at: int) -> bool:
    """Whether a clause may begin here: behind a stop, or where a question or the next reading runs on."""
    behind_stop = not at or words[at - 1] in STOPS | JOINS | {"?"}
    return behind_stop or words[at][0] in "@%&#" or words[at] in _beginnings()


@cache
def _beginnings() -> frozenset[str]:
    return ASKING | ADDING | AT_TIME | _telling()


@cache
def _telling() -> frozenset[str]:
    """The words by which what was done begins."""
    return TELLERS | BIDDING | deed_forms() | grammar().words("PUT", "TOOK", "MOVED") | {"left", "leaving"}


def _key(cover: Cover) -> tuple[object, ...]:
    return tuple((one.tells, one.start, one.end, tuple(one.kept)) for one in cover.clauses)


def _begun(at: int, marked: Marked, chart: Chart, ways: dict[int, list[Cover]]) -> Iterator[Cover]:
    """The covers of the words from `at` on, by what their first clause may be."""
    joined_by = next((word for word in marked.words[max(0, at - 1) : at] if word in STOPS | JOINS), "")
    yield from _by_lines(at, joined_by, marked, chart, ways)
    yield from _by_questions(at, joined_by, marked, ways)
    yield from _by_loss(at, joined_by, marked, ways)


def _by_lines(at: int, joined_by: str, marked: Marked, chart: Chart, ways: dict[int, list[Cover]]) -> Iterator[Cover]:
    """By the lines of the grammar that fit."""
    words = marked.words
    seen: set[tuple[object, ...]] = set()
    for line, end, kept in chart.lines_at(at):
        if (line.tells, end, kept) in seen or not (set_apart := _set_apart(words, end, line.tells)):
            continue
        seen.add((line.tells, end, kept))
        if line.is_open and _runs_over_what_is_told(words, at, kept):
            continue
        if line.tells == "later" and words[end : end + 1] == ["?"] and not any(one.name == "lt" for one in kept):
            continue  # "tomorrow?" asks
        clause = clause_of(line.tells, kept, marked, at, end, joined_by)
        cost = _cost(line, clause, kept, marked)
        for rest in ways.get(end, ()):
            if set_apart == "yes":
                yield Cover(cost + rest.cost, (clause, *rest.clauses))
            elif _may_run_on(clause, kept, rest, marked):
                yield Cover(cost + NOT_SET_APART + rest.cost, (clause, *rest.clauses))


def _cost(line: Line, clause: Clause, kept: Sequence[Kept], marked: Marked) -> float:
    """What a clause costs by itself."""
    words, at, end = marked.words, clause.start, clause.end
    cost = CLAUSE if line.tells != "aside" else ASIDE
    cost += NO_TREE * any(number > marked.highest for number in clause.numbers)
    if not line.is_open:
        return cost + UNHEARD * _unheard(words, at, end, kept)
    over = _run_over(words[at:end], at, kept)
    if line.tells in QUESTIONS:
        return cost + ANY_WORDS + over
    return cost + SOME_RUN + (over if line.tells == "thanks" else 0.0)


def _may_run_on(clause: Clause, kept: Sequence[Kept], rest: Cover, marked: Marked) -> bool:
    """Whether a clause may be followed by the rest with no sign between."""
    words, at, end = marked.words, clause.start, clause.end
    follows = rest.clauses[0].tells if rest.clauses and rest.clauses[0].start == end else ""
    if clause.tells == "aside" and _says_when(words[at:end], marked):
        return False  # the time is of what follows
    if follows in QUESTIONS and _denies(rest.clauses[0]):
        return False  # "closed both why not" may deny the deed
    return _runs_on(clause.tells, kept, follows, words[at : end + 1])


def _by_questions(at: int, joined_by: str, marked: Marked, ways: dict[int, list[Cover]]) -> Iterator[Cover]:
    """By what is asked in words of a person's own."""
    words = marked.words
    for asked in asked_from(marked, at):
        clause = clause_of(asked.tells, (), marked, at, asked.end, joined_by)
        stops = sum(words[n] in STOPS and words[n + 1][0] != "@" for n in range(at, asked.end - 1))
        for rest in ways.get(asked.end, ()):
            yield Cover(
                CLAUSE + ANY_WORDS + BEFORE_WORD * asked.before + OVER_STOP * stops + rest.cost, (clause, *rest.clauses)
            )


def _by_loss(at: int, joined_by: str, marked: Marked, ways: dict[int, list[Cover]]) -> Iterator[Cover]:
    """By words that nothing accounts for; two such runs side by side are one."""
    words = marked.words
    for end in _lost_until(words, at):
        for rest in ways.get(end, ()):
            after = rest.clauses[0] if rest.clauses else None
            if after is not None and after.tells == LEFT_OVER and (words[end] in JOINS or after.start == end):
                lost_both = clause_of(LEFT_OVER, (), marked, at, after.end, joined_by)
                yield Cover(rest.cost + LOST_WORD * (end - at), (lost_both, *rest.clauses[1:]))
            else:
                lost = clause_of(LEFT_OVER, (), marked, at, end, joined_by)
                yield Cover(LOST + LOST_WORD * (end - at) + rest.cost, (lost, *rest.clauses))


def _lost_until(words: Sequence[str], at: int) -> Iterator[int]:
    """Where words without account may end: before whoever tells the next thing, at the latest at a stop."""
    for n in range(at + 1, len(words)):
        if words[n] in STOPS | JOINS | {"?"}:
            yield n
            return
        if words[n] in TELLERS | BIDDING or words[n][0] == "&":
            yield n
    yield len(words)


def _denies(clause: Clause) -> bool:
    return not ours().words("DENIES").isdisjoint(clause.words)


def _says_when(words: Sequence[str], marked: Marked) -> bool:
    return any(not marked.moment_of(word).is_today for word in words if word[0] == "#")


def _runs_on(tells: str, kept: Sequence[Kept], follows: str, words: Sequence[str]) -> bool:
    """Whether a clause may be followed by the next with no sign between: "opened porch opened wall i left kaki".

    `words` are its own and the first of what follows. Behind a deed of no tree that may be what it was done to.
    """
    if tells in MAY_RUN_ON and follows in QUESTIONS:
        return True
    if tells in QUESTIONS or not follows or follows in QUESTIONS:
        return False
    if tells == follows == "reading":
        return True
    if tells in SCOPING and follows not in (LEFT_OVER, "aside", *SCOPING):
        return False  # "maybe closed porch"
    if tells == "week" and follows == "did":
        return False  # "I want both closed" wants no picture
    if tells == "bare" and follows == "away":
        return False  # "wall fig I'm leaving another week"
    if tells in ("did", "left", "base", "bare") and follows in ("not_done", "no"):
        return False  # "wrapped all not closed both" may deny either
    begins, has_object = words[-1], any(one.name in OBJECTS for one in kept)
    if not has_object and tells in ("job", "did", "left", "base", "ok") and begins not in TELLERS:
        return False
    if begins in ADDING:
        return follows in (LEFT_OVER, "aside")
    if begins[0] == "#" or begins in AT_TIME:  # behind a deed without a time of its own it is the time of that deed
        return tells not in ("did", "left", "moved") or any(word[0] == "#" for word in words[:-1])
    return begins in _telling() or begins[0] in "&@"


def _run_over(words: Sequence[str], start: int, kept: Sequence[Kept]) -> float:
    """What the words cost that a question runs over before it begins, or behind a stop: they may tell something."""
    runs = [one for one in kept if one.name == RUN]
    told = not words[0].startswith(tuple(ASKING))
    before = sum(one.end - one.start for one in runs if told and one.start == start)
    over = [n - start for one in runs for n in range(one.start, min(one.end, start + len(words) - 1))]
    stops = sum(words[n] in STOPS | {"?"} and words[n + 1][0] != "@" for n in over)  # "why porch, wall" is one question
    return BEFORE_WORD * before + OVER_STOP * stops


def _runs_over_what_is_told(words: Sequence[str], start: int, kept: Sequence[Kept]) -> bool:
    """Whether any words of a line run over the end of a sentence, or before it begins over a tree or a temperature."""
    runs = [one for one in kept if one.name == RUN]
    ended = any(words[n] in ENDS and n + 1 < one.end for one in runs for n in range(one.start, one.end))
    return ended or any(words[n][0] in "@%" for one in runs if one.start == start for n in range(start, one.end))


def _unheard(words: Sequence[str], start: int, end: int, kept: Sequence[Kept]) -> float:
    """How many names and measures a line passes over without keeping them, less a little for all it keeps."""
    heard = {n for one in kept if one.name in HEARD for n in range(one.start, one.end)}
    passed = sum(1 for n in range(start, end) if n not in heard and (words[n][0] in "@~%#" or words[n].isdigit()))
    return passed - HEARD_MORE * len(heard)


def _set_apart(words: Sequence[str], end: int, tells: str) -> str:
    """Whether what after is set apart from a clause: "yes"; "no" without a sign; nothing where a question mark asks."""
    if end == len(words):
        return "yes"
    if words[end] == "?":
        return "yes" if tells in QUESTIONS or tells in ("hello", "later", "plan", "wake", "undo") else ""
    return "yes" if words[end] in STOPS or words[end] in JOINS or words[end - 1] == "?" else "no"
