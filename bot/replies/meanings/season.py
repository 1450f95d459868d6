"""What a clause tells of the year's jobs and of the season: done or not wanted, fruit, cuttings, wood lost, a move."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime, time
from itertools import pairwise
from typing import Final

from bot.replies.clause import Clause
from bot.replies.grammar import somebody_else
from bot.replies.grammar.recogniser import Kept
from bot.replies.meanings.deeds import read_promise
from bot.replies.meanings.free_hours import names_hours
from bot.replies.meanings.read import MOST_TREES, Meanings, Read
from bot.replies.nouns import Context, Meaning, Question, UnreadableError, Verb
from bot.replies.words.amounts import number_of, share_of_words
from bot.replies.words.names import Named
from bot.replies.words.time_phrases import MONTHS
from rules.garden.records import LONGEST_STEM_M
from rules.garden.tree import Tending
from rules.garden.units import CM_PER_INCH
from rules.jobs import JobKind, MarkState

MOST_FRUIT: Final = 100_000  # of one picking; beyond it somebody leant on a key. Assumed, no source
NEWS: Final = {"stock": Verb.STOCK, "bought": Verb.STOCK, "free": Verb.FREE_HOURS, "way": Verb.TENDING}
WAYS: Final = {
    "taught": Tending.AS_TAUGHT,
    "fewest": Tending.FEWEST_TRIPS,
    "early": Tending.EARLY,
}
_MARKS: Final = {"done_job": MarkState.DONE, "skip_job": MarkState.REFUSED, "off_job": MarkState.PUT_OFF}
PLACED: Final = re.compile(r"^(?!.*\b(?:bought|ordered|fetched)\b).*\b(?:on|round|around|over|onto|at) @")
_SMALL: Final = frozenset(("the", "my", ",", ".", "and", "it"))


def read_job(clause: Clause, context: Context) -> Read:
    """A job of the year done, put off or not wanted; nothing of what "they" did, whose tree is none of ours."""
    if "they" in clause.words and not clause.named:
        return Read()
    kept = next(n for n, one in enumerate(clause.kept) if one.name in _MARKS)
    mark = _MARKS[clause.kept[kept].name]
    kind = next(JobKind(one.name) for one in clause.kept if one.name in set(JobKind))
    if kind is JobKind.PRUNE_TO_FIT and mark is MarkState.DONE and clause.named and "pruned" in clause.words:
        return read_season(replace(clause, tells="pruned"), context)  # at a tree it is news of the season
    if kind is JobKind.CHECK_SUPPLIES and mark is MarkState.DONE and PLACED.search(" ".join(clause.words)):
        trees = tuple(t for word in clause.words if word[0] == "@" for t in clause.marked.tree_of(word).trees)
        bought = Meaning(verb=Verb.JOB, job=kind, mark=mark, trees=trees)  # "got the film on porch" may be no shopping
        ways = ((Meaning(verb=Verb.WRAPPED, trees=trees),), (bought,))
        return Read(options=ways, question=Question.WHAT_ABOUT)
    moment, until = clause.moment, None
    if mark is not MarkState.DONE:
        until = _until(clause, context)
        today = moment is not None and (moment.is_today or moment.is_tonight)
        mark = MarkState.PUT_OFF if until or today else mark
    past = (moment.past or moment.told) if moment is not None and not moment.is_today else ()
    at = past[0] if past and mark is MarkState.DONE else None
    found = _bark(clause) if kind is JobKind.SCRATCH_TEST and mark is MarkState.DONE else ""
    meaning = Meaning(verb=Verb.JOB, job=kind, mark=mark, at_utc=at, until_utc=until, text=found)
    return _on(clause.named, meaning)


def _bark(clause: Clause) -> str:
    """What was found under the bark of the only tree named: "scratched wall. tips brown, green lower down"."""
    words = ("", *clause.marked.words)
    seen = [
        word for before, word in pairwise(words) if word in ("green", "alive", "brown", "brittle") and before != "not"
    ]
    found = dict.fromkeys(seen)
    return " and ".join(found) if len(clause.marked.trees_named) == 1 else ""


def _until(clause: Clause, context: Context) -> datetime | None:
    """When to ask again: a time still to come, or the first of a month."""
    month = clause.text("month")
    today = context.local_now.date()
    if month:
        wanted = today.month % 12 + 1 if month == "next month" else MONTHS.index(month) + 1
        day = today.replace(year=today.year + (wanted <= today.month), month=wanted, day=1)
        return datetime.combine(day, time(8), context.zone)
    moment = clause.moment
    return moment.future[0] if moment is not None and moment.future and not moment.is_tonight else None


def read_of_job(clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    """A job asked about, promised or denied."""
    trees = clause.trees_named
    kind = next((JobKind(one.name) for one in clause.kept if one.name in set(JobKind)), None)
    if clause.tells in ("why_job", "when_job"):
        return Read(options=((Meaning(verb=Verb.DUE, job=kind, trees=trees),),))
    if clause.tells == "not_job":
        return Read(options=((Meaning(verb=Verb.NOT_DONE, trees=trees),),))
    if (until := _until(clause, context)) is not None:
        meaning = Meaning(verb=Verb.JOB, job=kind, mark=MarkState.PUT_OFF, trees=trees, until_utc=until)
        return Read(options=((meaning,),))
    return replace(
        read_promise(clause, replace(context, open_asks=(), quoted=None), spoken),
        options=((Meaning(verb=Verb.WILL_DO, trees=trees),),),
    )


def read_news(clause: Clause) -> Read:
    """What lies in the shed, when somebody has time, whose way is followed."""
    if clause.tells == "way":
        what = next(way for name, way in WAYS.items() if clause.has(name))
        return Read(options=((Meaning(verb=Verb.TENDING, trees=clause.trees_named, text=what.value),),))
    if clause.tells == "free":
        hours = " ".join(_spelled(word, clause) for word in clause.text("hours").split())
        return Read(options=((Meaning(verb=Verb.FREE_HOURS, text=hours),),)) if names_hours(hours) else Read()
    if not somebody_else().isdisjoint(clause.words[:3]):
        return Read()  # my brother's
    return Read(options=(tuple(_goods(clause)),))


def _goods(clause: Clause) -> Iterator[Meaning]:
    """Each thing of a list with the count that stands nearest to it: "4 bales of straw and a roll of fleece"."""
    words = clause.marked.words
    things = [one for one in clause.kept if one.name == "supply"]
    lengths = [Kept("length", n, n + 1) for n in range(clause.start, clause.end) if words[n][0] == "~"]
    counts = [one for one in (*clause.kept, *lengths) if one.name in ("num", "half", "length")]
    nearest = [min((_apart(thing, one), n) for n, thing in enumerate(things))[1] for one in counts]
    for n, thing in enumerate(things):
        text, count = " ".join(words[thing.start : thing.end]), 0 if clause.has("none") else None
        for one in [one for one, of in zip(counts, nearest, strict=True) if of == n][:1]:
            if one.name == "num":
                count = int(number_of(" ".join(words[one.start : one.end])))
            else:
                much = "half a" if one.name == "half" else f"{clause.marked.lengths_m[int(words[one.start][1:])]:g} m"
                text = f"{much} {text}"
        bought = MarkState.DONE if clause.tells == "bought" else None
        yield Meaning(verb=Verb.STOCK, text=text, count=count, mark=bought)


def _apart(one: Kept, other: Kept) -> int:
    return max(one.start - other.end, other.start - one.end)


def _spelled(word: str, clause: Clause) -> str:
    return clause.marked.moments_said[int(word[1:])] if word[0] == "#" else word


def read_season(clause: Clause, context: Context) -> Read:
    """Fruit picked, cuttings taken, wood lost or pruned."""
    if clause.tells == "picked":
        return _picked(clause)
    if clause.tells == "cuttings":
        whom = clause.text("whom")
        for_whom = f"for {_as_typed(whom, clause)}" if whom else ""
        return _about(clause, Meaning(verb=Verb.CUTTINGS, count=_whole(clause.text("num")), text=for_whom))
    if clause.tells == "pruned":
        how = [word for word in clause.text("how").split() if word[0] not in "@#" and word not in _SMALL]
        return _about(clause, Meaning(verb=Verb.PRUNED, text=" ".join(_length_said(word, clause) for word in how)))
    return _about(clause, _dieback(clause, context))


def _as_typed(words: str, clause: Clause) -> str:
    found = re.search(re.escape(words).replace(r"\ ", r"\s+"), clause.marked.typed, re.IGNORECASE)
    return found[0] if found else words


def _length_said(word: str, clause: Clause) -> str:
    is_length = word[0] == "~" and word[1:].isdigit()  # "~0'" is none
    return f"{clause.marked.lengths_m[int(word[1:])] * 100:.0f} cm" if is_length else word


def _picked(clause: Clause) -> Read:
    """A count at a tree; "3 kakis" is fruit of the tree where the name is a plural."""
    count = _whole(clause.text("num"))
    if clause.has("plural"):
        named = clause.marked.trees[int(clause.text("plural")[1:])]
        if not named.is_group:
            return Read()
        return _on((named,), Meaning(verb=Verb.PICKED, count=count))
    return _about(clause, Meaning(verb=Verb.PICKED, count=count))


def _whole(words: str) -> int:
    count = number_of(words)
    if not 0 < count <= MOST_FRUIT or count != int(count):
        raise UnreadableError("a count that is no whole number")
    return int(count)


def _dieback(clause: Clause, context: Context) -> Meaning:
    if clause.has("none"):
        return Meaning(verb=Verb.DIEBACK, share=0.0)
    if clause.has("alldead"):
        return Meaning(verb=Verb.DIEBACK, share=1.0)
    if any(clause.has(name) for name in ("percent", "part", "frac")):
        share = share_of_words(clause.text("percent") or clause.text("part") or clause.text("frac"))
        if share > 1:
            raise UnreadableError("more wood lost than there was")
        return Meaning(verb=Verb.DIEBACK, share=round(share, 4))
    whole_m = _length_m(clause.text("whole"), clause, context, beside=clause.text("dead"))
    lost_m = _length_m(clause.text("dead"), clause, context, beside=clause.text("whole"))
    if lost_m is None or lost_m > (whole_m or LONGEST_STEM_M):
        raise UnreadableError("more wood lost than there was")
    return Meaning(verb=Verb.DIEBACK, length_m=lost_m, whole_m=whole_m)


def _length_m(word: str, clause: Clause, context: Context, *, beside: str) -> float | None:
    """A length; a bare number has the unit of the one beside it."""
    if not word or word[0] == "~":
        return clause.marked.lengths_m[int(word[1:])] if word else None
    own = CM_PER_INCH / 100 if context.inches else 0.01
    unit = clause.marked.length_units[int(beside[1:])] if beside[:1] == "~" else own
    return round(number_of(word) * unit, 6)


def _about(clause: Clause, meaning: Meaning) -> Read:
    """The meaning on the trees named; "figs" is fruit where a tree is named besides."""
    single = [named for named in clause.named if not named.is_group]
    moment = clause.moment
    behind = (moment.past or moment.told) if moment is not None and not moment.is_today else ()
    return _on(single or clause.named, replace(meaning, at_utc=behind[0] if behind else None))


def _on(named: Sequence[Named], meaning: Meaning) -> Read:
    """A choice where a name may mean several trees."""
    unclear = next((one for one in named if len(one.trees) > 1 and (one.is_open or meaning.count is not None)), None)
    if unclear is not None and meaning.verb is Verb.JOB and unclear.is_group:
        unclear = None
    if unclear is not None:
        ways: tuple[Meanings, ...] = tuple((replace(meaning, trees=(tree,)),) for tree in unclear.trees[:MOST_TREES])
        return Read(options=ways, question=Question.WHICH_TREE)
    trees = tuple(dict.fromkeys(tree for one in named for tree in one.trees))
    return Read(options=((replace(meaning, trees=trees),),))
