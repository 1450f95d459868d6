"""A reply with what can be told at once replaced by marks: its trees, times, temperatures and lengths."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from rapidfuzz.distance import OSA

from bot.replies.nouns import Context
from bot.replies.words.amounts import mark_lengths
from bot.replies.words.names import Named, lexicon, mark_trees, reserved_names
from bot.replies.words.normalising import normalised
from bot.replies.words.numbers import Temperature, mark_temperatures, split_lists, spread_ranges
from bot.replies.words.spelling import deed_forms, nearest_word
from bot.replies.words.time_phrases import MONTHS, WEEKDAY_PATTERN, WEEKDAYS
from bot.replies.words.times import Moment, mark_times

_VULGAR: Final = str.maketrans({"⅓": " 1 third ", "⅔": " 2 thirds ", "¼": " 1 quarter ", "¾": " 3 quarters "})
_NOT_THEN: Final = re.compile(r"(\bback (?:on |the )*#\d+),? not (?:on |the )*#\d+")
_LENT: Final = re.compile(r"@\d+ ((?:lid|cap|top|hat|roof)s? (?:on|onto|over)) ((?:the )?@\d+)")  # the lid of another
_LENT_TO: Final = re.compile(r"(\boff (?:the )?@\d+) for (?:the )?@\d+")
_BESIDE: Final = re.compile(r"(@\d+) (?:which is |that is )?(?:next to|beside|opposite|in front of) (?:the |my )?@\d+")
_SAID_AGAIN: Final = re.compile(  # "minus 11 no hang on minus 12": what was taken back at once was not said
    r"%\d+ (?:, |\. )?(?=[^%]*\b(?:no|wait|sorry|mean|actually|make)\b)"
    r"(?:(?:no|wait|sorry|hang|on|i|mean|actually|er|erm|um|make|that|rather|,|\.|oh) )+(?=%\d)"
)
NOON: Final = 12
_THIS_NIGHT: Final = re.compile(r"\b(?:in |during )?this night\b")
_HOUR_OF_DEED: Final = re.compile(  # "porch shut 4": behind a tree and what was done to it a number is no other tree
    r"(@\d+ (?:(?:is|are|was|got|were) )?(?:shut|closed|opened|open|done|wrapped)) (1[0-2]|[1-9])(?= ?(?:[.,;!]|$))"
)
_HOUR_OF_PART: Final = re.compile(  # "-11 at the wall fig 7 this morning": an hour, the temperature is told already
    r"((?:^| )(?:minus |-|\d)[^.,]* @\d+ )(\d{1,2} (?:this|yesterday|in the) (?:morning|evening|afternoon))\b"
)
_WOOD: Final = re.compile(r"\b(?:lost|lose|dead|died|dieback|killed)\b", re.IGNORECASE)


@dataclass(frozen=True, kw_only=True)
class Marked:
    """A reply as words: `@0` is a tree, `#0` a time, `%0` a temperature, `~0` a length [m] and `&ben` a person.

    `length_units` [m] are the units the lengths came in, `moments_said` the times as they were said, `typed` is all of
    it as it was typed, `highest` the number of the last tree.
    """

    words: Sequence[str]
    trees: Sequence[Named]
    moments: Sequence[Moment]
    temperatures: Sequence[Temperature]
    lengths_m: Sequence[float]
    length_units: Sequence[float]
    moments_said: Sequence[str]
    typed: str
    through_typo: bool
    highest: int = 99
    in_fahrenheit: bool = False

    def tree_of(self, mark: str) -> Named:
        """The tree that `@2` stands for."""
        return self.trees[int(mark[1:])]

    def moment_of(self, mark: str) -> Moment:
        """The time that `#2` stands for."""
        return self.moments[int(mark[1:])]

    def temperature_of(self, mark: str) -> Temperature:
        """The temperature that `%2` stands for."""
        return self.temperatures[int(mark[1:])]

    @property
    def trees_named(self) -> tuple[str, ...]:
        """Every tree that is named, each once."""
        return tuple(dict.fromkeys(tree for named in self.trees for tree in named.trees))

    def named_in_part(self, trees: Iterable[str]) -> set[str]:
        """Those of some trees whose name of several words was not typed whole: "the wall" for Wall fig."""
        typed = " ".join(self.typed.casefold().split())
        return {name for name in trees if " " in name and name.casefold() not in typed}


def singled_out(text: str, context: Context) -> tuple[str, ...]:
    """The trees that a reply names one by one, or by their numbers: not those that "all" or "the figs" sweep along."""
    one = marked(text, context, keep_reserved=False)
    numbers = {int(word) for word in one.words if word.isdigit()}
    numbered = [tree.name for tree in context.trees if tree.number in numbers]
    return (*(named.trees[0] for named in one.trees if len(named.trees) == 1), *numbered)


def marked(text: str, context: Context, *, keep_reserved: bool) -> Marked:
    """The reply in marks. `keep_reserved` leaves words that are both a tree's name and grammar to the grammar."""
    plain = _days_spelled(_dated(normalised(_measures_spelled(text)), month_first=context.fahrenheit))
    names = lexicon(context.trees)
    spoken = plain.split()
    spoken = _initials_spelled(_ands_spelled(spoken), context)
    people = _people_known(context) - names.words
    spoken = _person_by_initial(spoken, people, names.words)
    spoken = _joined_names(spoken, names.words)
    words = [nearest_word(word, names.words) if word.isalpha() and word not in people else word for word in spoken]
    through_typo = words != spoken
    hidden = reserved_names(context.trees) if keep_reserved else frozenset()
    words, trees = mark_trees(words, names, hidden)
    words = _ticks_at_trees(_without_slips_of_fig(words, trees))
    words = [f"&{word}" if word.removesuffix("'s") in people else word for word in words]
    highest = max((tree.number for tree in context.trees), default=0)
    line = spread_ranges(" ".join(words), highest)
    if _speaks_of_items(words, context):
        line = split_lists(line, highest)
    line, lengths_m, length_units = mark_lengths(line)
    this_night = "last night" if context.local_now.hour < NOON else "tonight"
    line = _HOUR_OF_DEED.sub(r"\1 at \2", _HOUR_OF_PART.sub(r"\1at \2", _THIS_NIGHT.sub(this_night, line)))
    line, moments, said = mark_times(line, context)
    in_fahrenheit = _in_fahrenheit(line, context)
    line, temperatures = mark_temperatures(line, fahrenheit=in_fahrenheit)
    line = _BESIDE.sub(r"\1", _LENT_TO.sub(r"\1", _LENT.sub(r"\1 \2", line)))
    line = _NOT_THEN.sub(r"\1", _SAID_AGAIN.sub("", line))
    return Marked(
        words=line.split(), trees=trees, moments=moments, temperatures=temperatures, lengths_m=lengths_m,
        length_units=length_units, moments_said=said, typed=text, through_typo=through_typo, highest=highest,
        in_fahrenheit=in_fahrenheit,
    )  # fmt: skip


def _without_slips_of_fig(words: list[str], trees: Sequence[Named]) -> list[str]:
    """ "Porch pig", "wall fgi": behind all of a name but its last word, which is short, a slip of that word."""
    kept: list[str] = []
    for word in words:
        before = kept[-1] if kept else ""
        named = trees[int(before[1:])].trees if before[:1] == "@" else ()
        last = {name.casefold().split()[-1] for name in named if " " in name}
        slips = any(len(one) == 3 and OSA.distance(word, one) == 1 for one in last)
        kept += [] if slips and word.isalpha() and word not in _NO_SLIP else [word]
    return kept


_NO_SLIP: Final = frozenset(("fix", "fit", "fin", "dig", "if", "in", "is", "it"))


def _ticks_at_trees(words: list[str]) -> list[str]:
    """ "✅ porch ❌ wall": a tick or a cross before each tree is said of that tree."""
    signs = [n for n, word in enumerate(words) if word in ("tick", "cross")]
    if (
        not signs
        or signs[0] != 0
        or any(words[n + 1 : n + 2] != [","] or words[n + 2 : n + 3][:1] == [] for n in signs)
    ):
        return words
    if any(words[n + 2][0] != "@" for n in signs):
        return words
    said = {"tick": ["done", ","], "cross": ["not", "done", ","]}
    at_tree = {n + 2: said[words[n]] for n in signs}
    dropped = {m for n in signs for m in (n, n + 1)}
    spread = [[word, *at_tree.get(n, [])] for n, word in enumerate(words) if n not in dropped]
    return [word for part in spread for word in part]


def _in_fahrenheit(line: str, context: Context) -> bool:
    """The garden's unit, unless another is said apart from the numbers: "-2 at the bench. and that's celsius"."""
    said = {match[1][0] for match in re.finditer(r"(?<!\d )(?<!degrees )(?<!degree )\b(celsius|fahrenheit)\b", line)}
    return said == {"f"} or (context.fahrenheit and said != {"c"})


def _joined_names(words: list[str], names: frozenset[str]) -> list[str]:
    """ "Sat suma": two words that only together are a name, as one."""
    kept: list[str] = []
    for word in words:
        joins = bool(kept) and kept[-1] + word in names and word not in names
        kept = [*kept[:-1], kept[-1] + word] if joins else [*kept, word]
    return kept


def _ands_spelled(words: list[str]) -> list[str]:
    """ "Porch n wall": between two words an n is and, which alone says no."""
    inner = range(1, len(words) - 1)
    return ["and" if word == "n" and n in inner and _is_word(words, n) else word for n, word in enumerate(words)]


def _is_word(words: list[str], n: int) -> bool:
    return words[n - 1][-1].isalnum() and words[n + 1][0].isalnum()


def _initials_spelled(words: list[str], context: Context) -> list[str]:
    """ "P w k all shut": two initials or more in a row, each of one tree that is asked about, are those trees."""
    asked = [tree for ask in context.asks for tree in ask.trees]
    of = {letter: [t for t in asked if t.casefold().startswith(letter)] for letter in {w for w in words if len(w) == 1}}
    known = {letter: trees[0].casefold() for letter, trees in of.items() if len(trees) == 1}
    row = [n for n, word in enumerate(words) if word in known]
    if len(row) < 2 or row != list(range(row[0], row[0] + len(row))) or len({words[n] for n in row}) < len(row):
        return words
    spelled = [part for n in row for part in (",", *normalised(known[words[n]]).split())][1:]
    return [*words[: row[0]], *spelled, *words[row[-1] + 1 :]]


def _person_by_initial(words: list[str], people: frozenset[str], names: frozenset[str]) -> list[str]:
    """ "J is away": an initial of one of the people, and of no tree, beside a verb."""
    initials = [one[0] for one in people]
    known = {one[0]: one for one in people if initials.count(one[0]) == 1 and one[0] != "i"}
    known = {letter: one for letter, one in known.items() if not any(name[0] == letter for name in names)}
    return [
        known[word[0]] + word[1:]
        if word[0] in known and (word[1:] == "'s" or (not word[1:] and then in _ACTS))
        else word
        for word, then in pairwise([*words, ""])
    ]


_ACTS: Final = frozenset(("is", "was", "has", "did", "does", "says", "said", "leaves", "goes", "will"))


def _people_known(context: Context) -> frozenset[str]:
    """The names of the garden's people, as they are typed: no slip of a tree's name."""
    return frozenset(word for name in context.people for word in normalised(name).split()[:1] if word.isalpha())


def _days_spelled(plain: str) -> str:
    """Days as they are marked: "the twentieth of december", "thu to fri next week", "till sat" of no satsuma."""
    plain = _TO_DATE.sub(lambda match: f"{_ORDINALS[match[1]]} {match[2]} ", plain)
    plain = _DATE_SPELLED.sub(lambda match: f"{_ORDINALS[match[1]]} {match[2]}", plain)
    plain = _BOTH_NEXT_WEEK.sub(lambda match: f"{_whole_day(match[1])} next week until {match[2]} next week", plain)
    return _FORTNIGHT.sub("2 weeks", _TILL_SAT.sub("saturday", plain))


def _whole_day(word: str) -> str:
    return next(day for day in WEEKDAYS if day[:3] == word[:3])


_NTHS: Final = """first second third fourth fifth sixth seventh eighth ninth tenth eleventh twelfth thirteenth
    fourteenth fifteenth sixteenth seventeenth eighteenth nineteenth twentieth"""
_ORDINALS: Final = {
    **{word: n for n, word in enumerate(_NTHS.split(), start=1)},
    **{f"twenty {word}": 20 + n for n, word in enumerate(_NTHS.split()[:9], start=1)},
    "thirtieth": 30, "thirty first": 31,
}  # fmt: skip
_TO_DATE: Final = re.compile(  # "the twelfth to the fifteenth of february": both are of that month
    rf"\b({'|'.join(sorted(_ORDINALS, key=len, reverse=True))}) (?=(?:to|till|until) (?:the )?(?:\S+ ){{1,2}}(?:of )?"
    rf"({'|'.join(MONTHS)}))"
)
_DATE_SPELLED: Final = re.compile(
    rf"\b({'|'.join(sorted(_ORDINALS, key=len, reverse=True))}) (?:of )?({'|'.join(MONTHS)})\b"
)
_BOTH_NEXT_WEEK: Final = re.compile(
    rf"\b({WEEKDAY_PATTERN}) (?:- |to |till |until |and )?({WEEKDAY_PATTERN}) next week\b"
)
_TILL_SAT: Final = re.compile(
    r"(?<=\bfree )sat\b|(?<=\btill )sat\b|(?<=\buntil )sat\b|(?<=\bby )sat\b|(?<=\bon )sat\b|(?<=\bthis )sat\b"
)
_FORTNIGHT: Final = re.compile(r"\b(?:a |one )?fortnight\b")


def _dated(plain: str, *, month_first: bool) -> str:
    """Dates with a stroke by the name of their month: which figure it is the garden's units tell where both may be."""

    def named(match: re.Match[str]) -> str:
        first, second = int(match[1]), int(match[2])
        day, month = (second, first) if second > 12 or (month_first and first <= 12) else (first, second)
        return f"{day} {MONTHS[month - 1]}" if 1 <= month <= 12 and 1 <= day <= 31 else f"{first} {second}"

    return re.sub(r"(\d+)÷(\d+)", named, plain)


# what stands in quotes: "what does 'safe to -9' mean" is of no feet
_QUOTED = re.compile(r"""(?<!\w)["“'‘](\w[^"”'’]{1,30})["”'’](?!\w)""")


def _measures_spelled(text: str) -> str:
    """Signs for inches, feet, percent and parts of a whole as words."""
    spelled = _QUOTED.sub(r"\1", text.translate(_VULGAR))
    spelled = re.sub(r'(?<=\d)["″”]', " inches", spelled).replace("%", " percent ")
    spelled = re.sub(r"(?<=\d)['′’](?=\s|$|\d)", " ft ", spelled)
    return re.sub(r"(\d) ?/ ?(\d)(?!\d)", r"\1 out of \2", spelled) if _WOOD.search(text) else spelled


def _speaks_of_items(words: list[str], context: Context) -> bool:
    deeds = not deed_forms().isdisjoint(words)
    return deeds or (bool(context.asks) and all(re.fullmatch(r"\d(?:,\d)+", word) for word in words))
