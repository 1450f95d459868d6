"""What words that no line of the grammar fits likely tell, as the clause that the grammar would have made of them."""

from collections.abc import Collection, Iterator, Sequence
from itertools import pairwise
from typing import Final, NamedTuple

from bot.replies.clause import COVERED, DONE, UNCOVERED, Clause, clause_of
from bot.replies.cues.spotting import Spotter
from bot.replies.grammar import grammar, ours
from bot.replies.grammar.recogniser import Kept, chart_of
from bot.replies.learned.features import spoken_of
from bot.replies.learned.harm import is_gone, is_none_there, is_of_other_years
from bot.replies.learned.likely import TOLD, Likely, learned
from bot.replies.nouns import Verb
from bot.replies.words.marking import Marked

SURE: Final = 0.8  # from here on 99 of 100 were it, each sentence left out of what was learned (cross-validation)
# What is learned, as a line of the grammar tells it, and what that line keeps of its words.
AS_TOLD: Final[dict[str, tuple[str, tuple[str, ...]]]] = {
    **{kind: ("damage", (kept,)) for kind, kept in {
        "mice": "pests", "mould": "mould", "wet": "wet", "sunk": "sunk", "torn": "torn", "snow_on": "snowed",
        "branch_broken": "branch", "cap_off": "cap_off", "mended": "mended",
    }.items()},
    **{kind: ("did", (kept,)) for kind, kept in {
        "closed": "closed", "opened": "vented", "wrapped": "wrapped", "stripped": "stripped",
    }.items()},
    "buds": ("swelling", ()), "leaves_off": ("dropped", ()),
    "wood_alive": ("job", ("done_job", "scratch_test")), "wood_dead": ("job", ("done_job", "scratch_test")),
    "stock": ("stock", ()), "out_of": ("stock", ("none",)), "pruned": ("pruned", ()), "fruit": ("picked", ()),
    "away": ("away", ()), "back": ("back", ()), "reading": ("reading", ()), "done": ("did", (DONE,)),
}  # fmt: skip
# Of these a false record costs little and stands in the answer with its undo; a deed is only offered.
NOTED: Final = frozenset((
    "mice", "mould", "wet", "sunk", "torn", "snow_on", "branch_broken", "cap_off", "buds", "leaves_off",
    "wood_alive", "mended", "stock", "out_of", "moved_in", "moved_out", "pruned", "away", "back", "reading",
))  # fmt: skip
NEEDED: Final = {"stock": "supply", "out_of": "supply", "fruit": "num", "reading": "temp"}  # or it tells nothing
HARM: Final = ("mice", "mould", "wet", "sunk", "torn", "snow_on", "branch_broken", "cap_off")
SHORTLY_ASKED: Final = frozenset(
    ("moved_in", "moved_out", "torn")
)  # "satsuma out" may be asked, "pom torn" be a branch
FEWEST_OF_THESE: Final = 3  # words; no source
FEWEST: Final = 3  # words besides marks and stops that can belie what they seem to tell; no source
NEARLY_NEVER, PLAINLY = 0.03, 0.75  # as below, of a deed that was asked for: what is asked tells more than the words
LIKELIER_BESIDE: Final = 0.3  # as the next, where words are left over; no source
UNLIKELY, LIKELIER = 0.15, 0.4  # that a deed was told, and that something else was; both by cross-validation
APART: Final = frozenset((".", ";", ",", "then"))
TELLS: Final = 0.2  # of what tells, at most so likely to ask; no source
LOW: Final = frozenset(("low", "lowest", "minimum", "min", "coldest"))
INSIDE: Final = frozenset(("inside", "within", "under"))
RIGHT_AGAIN: Final = frozenset(("redid", "redone", "refilled", "topped", "replaced", "repacked", "swapped", "renewed"))
COMPARES: Final = frozenset(("warmer", "colder", "difference", "differ", "than"))
PARTS: Final = frozenset(("half", "quarter", "third", "halves", "quarters", "thirds", "most", "mostly"))
HANGING: Final = frozenset(("since", "when", "after", "before", "while", "as", "because", "until"))  # "since I closed"
COUNTED: Final = frozenset(("stock", "fruit"))
NEVER_SURE: Final = ("WAVERS", "DOUBTS", "JOKES", "CORRECTS", "ASTRAY")  # of a deed
HARMLESS: Final = frozenset(("right", "sure"))  # "right, porch is shut", "made sure it's tight"
ALONE: Final = 0.9  # of a deed that nothing but what is learned tells, or that was asked about: 118 of 120, as above
OF_A_TREE: Final = ("TREEISH", "COVERS", "FILL", "LIDS", "BUDS", "BARK_GREEN")
MENDED: Final = {  # what was put right, by its cue
    "PESTS": "pests", "MOULD": "mould", "SOAKED": "wet", "SUNKEN": "sunk", "BRANCH": "branch",
    "LIDS": "cap_off",
}  # fmt: skip
OF_WHO_WRITES: Final = frozenset(("back", "away"))
OF_ALL: Final = OF_WHO_WRITES | {"reading"}  # told by the whole of a reply, never beside other things
SHOPS: Final = frozenset(("shop", "store", "market", "centre", "center"))
TO_BUY: Final = frozenset(("order", "ordered", "ordering", "need", "needs", "buy", "want"))
NO_STOCK: Final = SHOPS | {"patience", "ideas", "luck", "time", "breath"}
USED_TO: Final = frozenset(
    (
        "as",
        "usually",
        "always",
        "used",
        "years",
        "winters",
        "seasons",
        "days",
        "mornings",
        "evenings",
    )
)  # no deed of today
TO_COME: Final = frozenset(("close", "shut", "open", "wrap", "cover", "uncover", "strip", "vent", "do"))
UNTIL: Final = frozenset(("till", "until", "til", "to"))
DEEDS: Final = {  # "done" of each: it says that, not what
    Verb.CLOSED: ("done", "closed"), Verb.VENTED: ("done", "opened"),
    Verb.WRAPPED: ("done", "wrapped"), Verb.STRIPPED: ("done", "stripped"), Verb.BLANKETED: ("done", "wrapped"),
    COVERED: ("done", "closed", "wrapped"), UNCOVERED: ("done", "opened", "stripped"),
    DONE: ("done", "closed", "opened", "wrapped", "stripped"),
}  # fmt: skip
UP_TO_WHEN: Final = frozenset(("at", "by", "since", "until", "till", "til", "for", "around", "about"))
LISTING: Final = frozenset(("and", "n", ",", "plus"))
DENYING: Final = frozenset(("out_of", "wood_dead", "mended", "cap_off", "away"))  # "no straw left", "nobody here till"
SHOWN: Final = frozenset(("said", "says", "reads"))  # by a thermometer
ANOTHERS: Final = frozenset(("they", "their", "theirs", "your", "yours"))


class Told(NamedTuple):
    """A clause and the kind that its words likely tell."""

    clause: Clause
    kind: str


def kinds_told(line: Marked, start: int = 0, end: int | None = None) -> list[Likely]:
    """What some words of a reply may tell, by default all, the likeliest first; nothing where they rather ask."""
    spoken = spoken_of(line, start, end)
    return learned().likely(TOLD, spoken) if line.words[start:end] and learned().asks(spoken) < 1 / 2 else []


def likeliest(line: Marked, start: int = 0, end: int | None = None) -> Told | None:
    """The clause that some words most likely are; None where the kind has no line, or what it needs is not named."""
    end = len(line.words) if end is None else end
    best = next(iter(kinds_told(line, start, end)), None)
    tells, names = AS_TOLD.get(best.matter, ("", ())) if best is not None else ("", ())
    if best is None or not tells:
        return None
    kept = [*(Kept(name, start, start + 1) for name in names), *_measured(best.matter, line, start, end)]
    if any(one.name == "dead" for one in kept):
        tells = "dieback"
    if best.matter in NEEDED and not any(one.name == NEEDED[best.matter] for one in kept):
        return None
    return Told(clause_of(tells, kept, line, start, end, ""), best.matter)


def deed_told(did: str, line: Marked, start: int, end: int) -> Clause:
    """Some words as a clause that tells a deed."""
    return clause_of("did", [Kept(did, start, start + 1), *_measured(did, line, start, end)], line, start, end, "")


def certainly(line: Marked, start: int, end: int) -> Clause | None:
    """The clause that some words certainly are, for all that no line fits; none of a kind that has no line."""
    told = likeliest(line, start, end)
    if told is None or told.kind in OF_ALL or names_place_alone(told.clause):
        return None
    return told.clause if is_sure(line, start, end) else None


def is_sure(line: Marked, start: int = 0, end: int | None = None) -> bool:
    """Whether what some words tell may be noted: likely enough, and nothing of them denies, doubts, asks or is to come.

    Nothing of somebody else's tree, and no day ahead but of who goes away.
    """
    words = line.words[start:end]
    best = next(iter(kinds_told(line, start, end)), None)
    if best is None or best.chance < SURE or best.matter not in NOTED or "?" in line.words:
        return False
    if best.matter in SHORTLY_ASKED and len(words) < FEWEST_OF_THESE:
        return False
    if learned().asks(spoken_of(line, start, end)) > TELLS or (best.matter in COUNTED and not PARTS.isdisjoint(words)):
        return False
    said = SHOWN if best.matter == "reading" else frozenset[str]()
    wavers = (ours().words("WAVERS") - said) | denials(best.matter)
    to_come = any(word[0] == "#" and not line.moment_of(word).past for word in words) and best.matter != "away"
    whose = is_of_another(line, start, end)
    whose |= best.matter in OF_WHO_WRITES and any(word[0] == "&" for word in words)
    whose |= best.matter in ("away", "back") and words[:1] == ["my"] and words[2:3] in (["is"], ["are"])
    whose |= best.matter in ("sunk", "wet", "torn", "mould") and not RIGHT_AGAIN.isdisjoint(words)
    whose |= best.matter in HARM and (is_none_there(words) or is_gone(words))
    whose |= best.matter == "stock" and not TO_BUY.isdisjoint(words)
    whose |= best.matter == "out_of" and not NO_STOCK.isdisjoint(words)
    whose |= best.matter == "branch_broken" and "bark" in words
    whose |= best.matter == "reading" and (
        Spotter(line).has(start, len(line.words) if end is None else end, "NOT_AIR") or not COMPARES.isdisjoint(words)
    )
    both = {"green", "brown"} <= set(words) or {"inside", "outside"} <= set(words)
    return wavers.isdisjoint(words) and not (to_come or whose or both)


def tells_surely(kind: str, line: Marked, start: int, end: int) -> bool:
    """Whether some words tell one kind so that it may be noted."""
    best = next(iter(kinds_told(line, start, end)), None)
    return best is not None and best.matter == kind and is_sure(line, start, end)


def is_deed_told(did: str, line: Marked, start: int, end: int, unread: Collection[int], at_least: float = SURE) -> bool:
    """Whether some words in which a deed was read tell it by what their like told, and hold no word that doubts.

    The second witness to words beside a deed that no line accounts for, those at `unread`: "closed porch by the light
    of my phone". A number, a day or a second tree among them may be part of what is told: "closed porch and wahl 605".
    """
    words = line.words[start:end]
    if not (ours().words("DENIES", *NEVER_SURE) - HARMLESS).isdisjoint(words) or line.words[end : end + 1] == ["?"]:
        return False
    numbered = any(word.isdigit() and len(word) > 1 for word in words)
    several_times = sum(word[0] == "#" for word in words) > 1  # "open from 1.30 till 4"
    if numbered or several_times or is_of_other_years(words) or words[0] in HANGING or not USED_TO.isdisjoint(words):
        return False
    if undoes_itself(did, words):
        return False
    if any(line.words[n][0] == "@" or _leads_to_part(line, n) for n in unread):
        return False
    return deed_chance(did, line, start, end) >= at_least


def deed_chance(did: str, line: Marked, start: int = 0, end: int | None = None) -> float:
    """How likely it is that some words tell a deed, by its own words or as what was asked."""
    chances = dict(kinds_told(line, start, end))
    return sum(chances.get(kind, 0.0) for kind in DEEDS.get(did, ()))


def undoes_itself(did: str, words: Sequence[str]) -> bool:
    """ "Took the lid off and put it back", "open from one till four", "now i go to close it": not, or no longer, so."""
    back = did == Verb.VENTED and "back" in words
    from_till = "from" in words and not UNTIL.isdisjoint(words)
    return back or from_till or any(before == "to" and word in TO_COME for before, word in pairwise(words))


def is_belied(kinds: Collection[str], line: Marked, *, asked: bool, left: bool) -> str:
    """What a whole reply rather tells than one of some kinds; nothing where it may well tell one of them.

    "Once the delivery man has been I'll go and open the kaki" puts off. Of 12,000 sentences, each left out of what was
    learned, this doubts half of the deeds that were read though none was told, and six of a thousand that were.
    """
    spoken = sum(word[0].isalpha() for word in line.words)
    told = kinds_told(line) if spoken >= FEWEST else []
    unlikely, likelier = (NEARLY_NEVER, PLAINLY) if asked else (UNLIKELY, LIKELIER_BESIDE if left else LIKELIER)
    chance = sum(one.chance for one in told if one.matter in kinds)
    belied = bool(told) and chance < unlikely and told[0].chance >= likelier
    return told[0].matter if belied and not _tells_apart(kinds, line) else ""


def _tells_apart(kinds: Collection[str], line: Marked) -> bool:
    """Whether a part of a reply tells it by itself: "both closed. reading inside at that moment: -2"."""
    ends = [-1, *(n for n, word in enumerate(line.words) if word in APART), len(line.words)]
    parts = [(before + 1, end) for before, end in pairwise(ends) if before + 1 < end]
    chances = [sum(one.chance for one in kinds_told(line, *part) if one.matter in kinds) for part in parts]
    return len(parts) > 1 and max(chances, default=0.0) >= PLAINLY


def _leads_to_part(line: Marked, at: int) -> bool:
    """Whether an unread word stands where a time or another tree would: "since dinner", "kaki and Granatapfel"."""
    first, second = ("", "", *line.words)[at : at + 2]
    listed = second in LISTING and (first[:1] == "@" or line.words[at + 1 : at + 2][:1] == ["@"])
    return second in UP_TO_WHEN or (first in UP_TO_WHEN and second in grammar().words("DET")) or listed


def is_of_another(line: Marked, start: int = 0, end: int | None = None) -> bool:
    """Whether some words are of somebody else's tree."""
    end = len(line.words) if end is None else end
    return Spotter(line).has(start, end, "OTHERS") or not ANOTHERS.isdisjoint(line.words[start:end])


def denials(kind: str) -> frozenset[str]:
    """The words that deny what is told of a kind; none of a kind that is told by them."""
    return frozenset() if kind in DENYING else ours().words("DENIES")


def names_place_alone(clause: Clause) -> bool:
    """ "Raked the leaves off the porch": what it names may be of the house."""
    by_place = clause.marked.named_in_part(clause.trees_named)
    return bool(by_place) and not Spotter(clause.marked).has(clause.start, clause.end, *OF_A_TREE)


def _measured(kind: str, line: Marked, start: int, end: int) -> Iterator[Kept]:
    """The trees and times that some words name, the first count, and the first thing of the shed."""
    marks = {"@": "tree", "#": "when"}
    yield from (
        Kept(marks[word[0]], n, n + 1) for n, word in enumerate(line.words[:end]) if n >= start and word[0] in marks
    )
    if kind == "reading":
        shown = [n for n in range(start, end) if line.words[n][0] == "%"]
        yield from (Kept("temp", n, n + 1) for n in shown if len(shown) == 1)
        yield from (Kept("low", n, n + 1) for n in range(start, end) if line.words[n] in LOW)
        both = "outside" in line.words[start:end]
        yield from (Kept("inside", n, n + 1) for n in range(start, end) if line.words[n] in INSIDE and not both)
    if kind == "mended":
        spotter = Spotter(line)
        yield from (Kept(name, start, start + 1) for cue, name in MENDED.items() if spotter.has(start, end, cue))
    lengths = [n for n in range(start, end) if line.words[n][0] == "~"] if kind == "wood_dead" else []
    yield from (Kept("dead", n, n + 1) for n in lengths[:1])
    counts = [n for n in range(start, end) if line.words[n].isdigit()] if kind in COUNTED else []
    yield from (Kept("num", n, n + 1) for n in (counts if kind == "stock" else counts[:1]))
    yield from (Kept("supply", *one) for one in (_things(line, start, end) if kind in NEEDED else ()))


def _things(line: Marked, start: int, end: int) -> Iterator[tuple[int, int]]:
    """What of the shed some words name, none within another."""
    chart, reached = chart_of(tuple(line.words)), start
    found: list[tuple[int, int]] = []
    for at in range(start, end):
        ends = [to for to, _ in chart.name_at("SUPPLY", at) if at < to <= end]
        if ends and at >= reached:
            reached = max(ends)
            found.append((at, reached))
    named = [one for one in found if line.words[one[0]] not in ("bale", "bales")]  # "straw, 2 bales" is one thing
    yield from named or found
