"""The memory of the talk: a typed answer picks a choice offered, a correction puts right what was told last."""

from dataclasses import replace
from typing import Final

from bot.replies.nouns import Ambiguous, Choice, Context, Meaning, Question, Reply, Understood, Verb
from bot.replies.talk.instead import NEAR_C
from bot.replies.talk.picking import STATES
from bot.replies.words.marking import Marked
from bot.replies.words.numbers import believed
from rules.garden.units import f_from_c

Meanings = tuple[Meaning, ...]
_WROTE: Final = frozenset(("wrote", "said", "told", "put", "typed", "called"))
# "no wait, wall not porch", "it was B, not A", "wall too", "only wall"
_LEAD: Final = frozenset((
    "no", "wait", "sry", "we", "sorry", "oops", ",", ".", "i", "meant", "mean", "that", "it", "was", "is", "not",
    "and", "the", "one", "actually", "hang", "on", "correction", "rather", "instead", "whoops", "ah", "oh", "hmm",
    "but", "my", "bad", "typo", "make", "scratch", "scrap", "strike", "you", "thermometer", "cage", "tree", "meter",
    "at", "been", "should", "be", "have", *_WROTE,
))  # fmt: skip


_MEASURED: Final = frozenset(("low", "reading", "degrees", "it's", "the", "last", "said", "at", "minus", "reads"))
_FORGET: Final = frozenset(("forget", "scrap", "ignore", "cancel", "disregard", "strike"))
_SAID: Final = frozenset(
    ("what", "i", "just", "said", "told", "you", "about", "the", "one", "bit", "only", "that", "please")
)
_TOO: Final = frozenset(["too", "also", "as", "well", "and", "the", "there", "now", ","])
_OTHER_TOO: Final = frozenset(
    ("the", "and", "other", "last", "one", "too", "also", "now", ",", ".", "done", "as", "well")
)
_TURNS: Final = frozenset((
    "not", "no", "wait", "sorry", "oops", "meant", "mean", "actually", "correction", "rather", "instead", "whoops",
    "typo", "make", *_WROTE,
))  # fmt: skip
_ONLY: Final = frozenset(("only", "just"))
_DENYING: Final = frozenset(("didn't", "haven't", "both", "all", "everything", "did"))
_EDITED: Final = frozenset((Verb.WRAPPED, Verb.VENTED, Verb.CLOSED, Verb.STRIPPED, Verb.READING, Verb.PICKED))


def corrected(line: Marked, context: Context) -> Reply | None:
    """What was told last put right: its trees changed, one added or taken back, its number another."""
    last = context.last_told
    if set(line.words) <= _OTHER_TOO and {"other", "last"} & set(line.words) and (rest := _rest_of_ask(last, context)):
        return rest
    some = _reading_taken_back(last, line) or _some_kept(last, line)
    if some is not None:
        return some
    if len({one.trees for one in last}) != 1 or any(one.verb not in _EDITED for one in last):
        return None
    return _number_corrected(last, line, context) or _trees_corrected(last, line, context)


def _rest_of_ask(last: Meanings, context: Context) -> Understood | None:
    """ "Other one too": the one tree still asked about, where that was done at another just now."""
    asks = [ask for ask in context.asks if len(ask.trees) == 1 and any(one.verb is ask.verb for one in last)]
    done = tuple(Meaning(verb=ask.verb, trees=ask.trees, ask_key=ask.key) for ask in asks)
    return Understood(meanings=done) if len(asks) == len(context.asks) == 1 else None


def _reading_taken_back(last: Meanings, line: Marked) -> Understood | None:
    """ "That reading was wrong", "forget the reading": where a reading is what was told last."""
    words = {word for word in line.words if word[0] not in "@#"}
    named = set(line.trees_named)
    is_reading = len(last) == 1 and last[0].verb is Verb.READING and named <= set(last[0].trees)
    denies = bool(words & {"wrong", "false", "undo", *_FORGET})
    if not (is_reading and denies and "reading" in words and words <= _LEAD | _FORGET | {"reading", "wrong", "false"}):
        return None
    return Understood(meanings=(Meaning(verb=Verb.UNDO),))


def _some_kept(last: Meanings, line: Marked) -> Reply | None:
    """ "No I didn't, only wall", "undo wall": of what was told of several trees a part stands."""
    marks = [word for word in line.words if word[0] == "@"]
    named = {tree for word in marks for tree in line.tree_of(word).trees}
    words = {word for word in line.words if word[0] != "@"}
    told = {tree for one in last for tree in one.trees}
    if not named or not named < told or any(one.verb not in _EDITED for one in last):
        return None
    if words & _ONLY and words <= _LEAD | _ONLY | _DENYING:
        stands = named
    elif "undo" in words and words <= {"undo", "and", ",", ".", "the", "please"}:
        stands = told - named
    elif line.words[:1] == ["no"] and words & {"didn't", "haven't"} and words <= _LEAD | _DENYING:
        names = " and ".join(sorted(named))
        ways = {f"only {names} stands": named, f"{names} taken back": told - named}
        choices = (Choice(label=words, meanings=_standing(last, kept)) for words, kept in ways.items())
        return Ambiguous(question=Question.TAKE_BACK, choices=tuple(choices))
    else:
        return None
    return Understood(meanings=_standing(last, stands))


def _standing(last: Meanings, trees: set[str]) -> Meanings:
    """All that was told taken back, and told again of these trees."""
    kept = (replace(one, trees=tuple(tree for tree in one.trees if tree in trees)) for one in last)
    return (Meaning(verb=Verb.UNDO), *(one for one in kept if one.trees))


def _number_corrected(last: Meanings, line: Marked, context: Context) -> Understood | None:
    """ "19 not 29", "no, -9": the other number, with the sign of the one told where it has none."""
    told = last[0]
    plain = {word for word in line.words if word[0] not in "@%" and not word.isdigit()}
    turns = bool(_TURNS & plain) or line.typed.lstrip().startswith("*")
    if told.air_c is None or len(last) > 1 or not plain <= _LEAD | _MEASURED or not turns:
        return None
    shown = f_from_c(told.air_c) if context.fahrenheit else told.air_c
    values = {
        n: _degrees(word, line, context, shown) for n, word in enumerate(line.words) if word[0] == "%" or word.isdigit()
    }
    wrong = [n for n in values if "not" in line.words[max(0, n - 2) : n]]
    right = [air_c for n, air_c in values.items() if n not in wrong and air_c is not None]
    if len(right) != 1 or any(abs((values[n] or 99.0) - told.air_c) > NEAR_C for n in wrong):
        return None
    named = {tree for one in line.trees for tree in one.trees}
    return _instead((replace(told, air_c=right[0]),), told.trees) if named <= set(told.trees) else None


def _degrees(word: str, line: Marked, context: Context, shown: float) -> float | None:
    if word[0] == "%":
        return line.temperature_of(word).air_c
    return believed(float(word) * (-1 if shown < 0 else 1), fahrenheit=context.fahrenheit, as_written=word).air_c


def _trees_corrected(last: Meanings, line: Marked, context: Context) -> Reply | None:
    marks = [n for n, word in enumerate(line.words) if word[0] == "@"]
    named = [line.tree_of(line.words[n]).trees for n in marks]
    if not named or any(len(trees) != 1 for trees in named):
        return None
    trees, before = tuple(tree for (tree,) in named), last[0].trees
    words = tuple(word for word in line.words if word[0] != "@")
    if set(words) <= _TOO and set(words) & {"too", "also", "well"}:
        return Understood(meanings=tuple(replace(one, trees=trees) for one in last))
    if words[:1] in (("only",), ("just",)) and set(words[1:]) <= _LEAD:
        return _instead(last, trees) if set(trees) < set(before) else None
    if (
        words[:1]
        and words[0] in _FORGET
        and "about" in words
        and set(words) <= _FORGET | _SAID
        and set(trees) <= set(before)
    ):
        return _instead(last, tuple(tree for tree in before if tree not in trees))
    of_that_deed = {word for one in last for word, verb in STATES.items() if verb is one.verb} | {"did"}
    that_was = {"that", "was"} <= set(words) or {"it", "was"} <= set(words)
    if not set(words) <= _LEAD | of_that_deed or not (_TURNS.intersection(words) or that_was):
        return None
    denied = {tree for n, tree in zip(marks, trees, strict=True) if _is_what_was_wrong(n, line)}
    meant = tuple(tree for tree in trees if tree not in denied)
    if not meant or not denied <= set(before) or set(meant) == set(before):
        return None
    if not denied and len(before) > 1:
        return None if any(set(meant) & set(ask.trees) for ask in context.asks) else _too_or_only(last, meant)
    return _instead(last, (*(tree for tree in before if denied and tree not in denied), *meant))


def _is_what_was_wrong(at: int, line: Marked) -> bool:
    """Whether a tree is the one not meant: "not wall", "I wrote kaki but it was pomegranate"."""
    before = line.words[max(0, at - 3) : at]
    return "not" in before[-2:] or bool(_WROTE.intersection(before) and not {"it", "meant"}.intersection(before))


def _too_or_only(last: Meanings, meant: tuple[str, ...]) -> Ambiguous:
    names = " and ".join(meant)
    added = tuple(replace(one, trees=meant) for one in last)
    ways = {f"{names} too": added, f"only {names}": _instead(last, meant).meanings}
    choices = tuple(Choice(label=words, meanings=told) for words, told in ways.items())
    return Ambiguous(question=Question.WHICH_TREE, choices=choices)


def _instead(last: Meanings, trees: tuple[str, ...]) -> Understood:
    """The last record taken back, and the same told of other trees."""
    told = (replace(one, trees=tuple(dict.fromkeys(trees))) for one in last if trees)
    return Understood(meanings=(Meaning(verb=Verb.UNDO), *told))


_DENIALS: Final = frozenset((Verb.NOT_DONE, Verb.CANNOT))


def denied(told: Meanings, line: Marked, context: Context) -> Ambiguous | None:
    """ "Couldn't reach wall" of what was noted a while ago and nothing asks for: whether to take it back, in a tap."""
    last = [one for one in context.last_told if one.is_deed]
    if not told or any(one.verb not in _DENIALS for one in told) or not last or context.asks:
        return None
    named = {tree for one in told for tree in one.trees} or set(line.trees_named)
    noted = tuple(dict.fromkeys(tree for one in last for tree in one.trees))
    wrong = tuple(tree for tree in noted if not named or tree in named)
    if not wrong or len(last) < len(context.last_told):
        return None
    left = tuple(replace(one, trees=tuple(tree for tree in one.trees if tree not in wrong)) for one in last)
    back = (Meaning(verb=Verb.UNDO), *(one for one in left if one.trees))
    names, deed = " and ".join(wrong), last[-1].verb.value
    stays = Choice(label=f"{names} {deed}, as noted", meanings=(Meaning(verb=Verb.NO),))
    choices = (Choice(label=f"{names} not {deed}", meanings=back), stays)
    return Ambiguous(question=Question.TAKE_BACK, choices=choices)
