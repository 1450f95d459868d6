"""One clause of a reply: what it says of which trees, and where nothing of it is left over."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from bot.replies.grammar.recogniser import Kept
from bot.replies.nouns import Verb
from bot.replies.words.marking import Marked
from bot.replies.words.names import Named
from bot.replies.words.numbers import Temperature
from bot.replies.words.times import Moment

# Words that mean a deed only together with what was asked, or with how the cover stands.
COVERED, UNCOVERED, DONE = "covered", "uncovered", "done"
DEED_WORDS = (*(Verb.CLOSED, Verb.VENTED, Verb.WRAPPED, Verb.STRIPPED, Verb.BLANKETED), COVERED, UNCOVERED, DONE)
EITHER_TENSE = frozenset(("open", "shut", "put", "set"))  # told or wished
TOLD_BY = frozenset(("i", "we", "got", "been", "has", "had", "was", "were", "since", "already"))  # of what is past
ASKING = frozenset(("is", "are", "was", "were", "has", "did", "does", "do"))  # "have mice" may be "I have mice"
SUBJECTS = frozenset(("the", "my", "our", "that", "this", "it", "they", "there", "any"))
NO_ITEM = 9999  # no garden has as many trees
_ORDINALS = {"first": 1, "second": 2, "third": 3}
GROUPS = ("all", "both", "rest", "them", "one")


@dataclass(frozen=True, kw_only=True)
class Clause:
    """A run of words that one line of the grammar fits, with what that line keeps of them."""

    tells: str
    kept: Sequence[Kept] = ()
    marked: Marked
    start: int = 0
    end: int = 0
    joined_by: str = ""
    named: Sequence[Named] = field(default=())
    excepted: Sequence[Named] = ()
    numbers: Sequence[int] = ()
    excepted_numbers: Sequence[int] = ()
    group: str | None = None
    did: str | None = None
    ways: Sequence[Sequence[Named]] = ()  # the trees it may be of, where it says only how many
    told_at: Moment | None = None  # said apart from it, and more nearly than in it

    @property
    def words(self) -> Sequence[str]:
        """Its words and marks."""
        return self.marked.words[self.start : self.end]

    @property
    def asks_by_its_order(self) -> bool:
        """Whether its verb stands before its subject: "is the olive dead", with or without a question mark."""
        first, second = (*self.words[:2], "", "")[:2]
        return first in ASKING and (second[:1] == "@" or second in SUBJECTS)

    @property
    def trees_named(self) -> tuple[str, ...]:
        """Every tree that it names, each once."""
        return tuple(dict.fromkeys(tree for one in self.named for tree in one.trees))

    @property
    def has_targets(self) -> bool:
        """Whether it says which trees."""
        return bool(self.named or self.group or self.numbers or self.excepted or self.excepted_numbers)

    @property
    def moment(self) -> Moment | None:
        """When; of several times the one that says more than "today"."""
        found = [self.marked.moments[_number(word)] for word in self.words if word[0] == "#"]
        return self.told_at or next((one for one in found if not one.is_today), found[0] if found else None)

    @property
    def temperature(self) -> Temperature | None:
        """The first temperature in it."""
        return next((self.marked.temperatures[_number(word)] for word in self.words if word[0] == "%"), None)

    @property
    def is_either_tense(self) -> bool:
        """Whether its deed may be told or wished: "put the cover on the kaki on monday"."""
        told_by = not TOLD_BY.isdisjoint(self.words)
        return self.tells == "did_or_later" or not (told_by or EITHER_TENSE.isdisjoint(self.words))

    def has(self, name: str) -> bool:
        """Whether its line keeps something under this name."""
        return any(one.name == name for one in self.kept)

    def text(self, name: str) -> str:
        """The words kept under a name; empty where there are none."""
        return next(
            (" ".join(self.marked.words[one.start : one.end]) for one in self.kept if one.name == name), ""
        ).replace("&", "")


def clause_of(tells: str, kept: Sequence[Kept], marked: Marked, start: int, end: int, joined_by: str) -> Clause:
    """The clause with its trees, items and deed read off from what its line keeps."""
    but = [one for one in kept if one.name == "but"]
    left_out = [one for one in kept if any(b.start <= one.start < b.end for b in but)]
    meant = [one for one in kept if one not in left_out]
    return Clause(
        tells=tells,
        kept=tuple(kept),
        marked=marked,
        start=start,
        end=end,
        joined_by=joined_by,
        named=_trees(meant, marked),
        excepted=_trees(left_out, marked),
        numbers=_items(meant, marked),
        excepted_numbers=_items(left_out, marked),
        group=next((one.name for one in meant if one.name in GROUPS), None),
        did=next((one.name for one in kept if one.name in DEED_WORDS), None),
    )


def last_apart(clause: Clause) -> list[Clause]:
    """ "Closed porch, wall at 6": the last tree apart, where the time is of it alone; else the clause as it is."""
    if clause.tells == "did" and clause.excepted:
        return _left_out_apart(clause)
    marks = sorted(one.start for one in clause.kept if one.name in ("tree", "item"))
    times = [n for n in range(clause.start, clause.end) if clause.marked.words[n][0] == "#"]
    if clause.tells not in ("did", "did_later") or len(marks) < 2 or clause.excepted:
        return [clause]
    if clause.tells == "did" and times[:1] < marks[-1:]:
        return [clause]
    moment = clause.moment
    before = clause.marked.words[marks[-1] - 1 : marks[-1]]
    ahead = moment is not None and bool(moment.future) and not (moment.past or moment.told or moment.is_tonight)
    later = clause.tells == "did_later" and before == [","]
    if not later and (moment is None or moment.is_today or not (before == [","] or ahead)):
        return [clause]
    cut = _behind_comma(clause, marks) if later or ahead else marks[-1]
    parts = (clause.start, cut, "did"), (cut, clause.end, "later" if later else "did_or_later")
    kept = [[one for one in clause.kept if one.name in (*DEED_WORDS, "lt") or a <= one.start < b] for a, b, _ in parts]
    return [
        clause_of(tells, which, clause.marked, a, b, clause.joined_by)
        for (a, b, tells), which in zip(parts, kept, strict=True)
    ]


def _left_out_apart(clause: Clause) -> list[Clause]:
    """ "All but wall tomorrow": a time that can only lie ahead is of what is left out."""
    but, moment = next((one for one in clause.kept if one.name == "but"), None), clause.moment
    if but is None:
        return [clause]  # what is left out was told in the clause that this one joined
    times = [n for n in range(but.end, clause.end) if clause.marked.words[n][0] == "#"]
    if not times or moment is None or moment.past or moment.told or moment.is_today:
        return [clause]
    later = replace(clause, tells="later", kept=(), start=but.start, named=clause.excepted, excepted=(), group=None)
    done = replace(clause, end=but.end, kept=tuple(one for one in clause.kept if one.start < but.end))
    return [done, replace(later, numbers=clause.excepted_numbers, excepted_numbers=(), did=None)]


def _behind_comma(clause: Clause, marks: list[int]) -> int:
    """Where the trees behind the last comma begin, "closed porch, wall and kaki tomorrow"; else the last tree."""
    return next((n for n in reversed(marks[1:]) if clause.marked.words[n - 1] == ","), marks[-1])


def _trees(kept: Sequence[Kept], marked: Marked) -> tuple[Named, ...]:
    marks = dict.fromkeys(marked.words[one.start] for one in kept if one.name == "tree")
    return tuple(marked.trees[_number(mark)] for mark in marks)


def _items(kept: Sequence[Kept], marked: Marked) -> tuple[int, ...]:
    counts = {one.start for one in kept if marked.words[one.start - 1 : one.start] == ["all"]}  # "all 5" are five trees
    items = [one for one in kept if one.name == "item" and one.start not in counts]
    words = [word for one in items for word in marked.words[one.start : one.end]]
    return tuple(
        _ORDINALS.get(word) or min(int(word), NO_ITEM) for word in words if word in _ORDINALS or word.isdigit()
    )


def _number(mark: str) -> int:
    return int(mark[1:])
