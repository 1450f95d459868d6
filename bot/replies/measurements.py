"""What one clause measures or sees: a reading, a sighting, a bare number; at which trees."""

from dataclasses import dataclass, replace
from datetime import datetime

from bot.replies.clause import Clause
from bot.replies.nouns import Context, Meaning, Question, Verb
from bot.replies.targets import Target, targets
from bot.replies.words.numbers import believed
from bot.replies.words.times import Moment
from rules.garden.records import Place


@dataclass(frozen=True, kw_only=True)
class Read:
    """The readings of one clause: one is certain, several leave `question` open, none was not understood."""

    options: tuple[tuple[Meaning, ...], ...] = ()
    question: Question = Question.WHICH_TREE
    heard: str = ""
    answers_to: tuple[Meaning, ...] = ()  # offered where nothing was understood


def without_deed(clause: Clause) -> Clause:
    """The clause without its deed: what is refused or promised need not fit how the cover stands."""
    return replace(clause, did=None)


def reading_trees(context: Context) -> tuple[str, ...]:
    """The trees a reading without a tree may belong to: those asked about, else all."""
    asked = tuple(dict.fromkeys(tree for ask in context.asks for tree in ask.trees))
    return asked or tuple(tree.name for tree in context.trees)


def read_temperature(clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    """The reading of a thermometer."""
    shown = clause.temperature
    if shown is None or shown.air_c is None:
        return Read(heard=f"{shown.as_written if shown else ''} — no thermometer in a garden shows that")
    meaning = Meaning(
        verb=Verb.READING,
        air_c=shown.air_c,
        place=Place.INSIDE if clause.is_inside else Place.AIR,
        is_minimum=clause.is_lowest,
        at_utc=_read_at(clause.moment),
    )
    return _per_tree(meaning, clause, context, spoken)


def _read_at(moment: Moment | None) -> datetime | None:
    if moment is None:
        return None
    behind = moment.past or moment.told  # the low of a night has its own hour
    return behind[0] if behind else None


def read_sight(clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    """What was seen of the tree itself."""
    meaning = Meaning(verb=Verb.SIGHTING, sight=clause.sight, at_utc=_read_at(clause.moment))
    return _per_tree(meaning, clause, context, spoken)


def _per_tree(meaning: Meaning, clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    """What was seen or measured, at the trees named; else at the tree spoken of, the only candidate, or asked."""
    if clause.named or clause.group == "all":
        ways = targets(without_deed(clause), context, () if clause.group == "all" else context.asks)
        if clause.group == "all" and not clause.named:
            ways = [Target(trees=tuple(tree.name for tree in context.trees))]
        return Read(options=tuple((replace(meaning, trees=way.trees),) for way in ways[:3]))
    trees = spoken if len(spoken) == 1 else reading_trees(context)
    return Read(options=tuple((replace(meaning, trees=(tree,)),) for tree in trees[:3]), heard="a reading")


def bare_number(clause: Clause, context: Context) -> Read:
    """A whole number with nothing else: the reading of some thermometer, most likely."""
    if len(clause.numbers) != 1:
        return Read(heard="numbers")
    shown = believed(float(clause.numbers[0]), fahrenheit=context.fahrenheit, as_written=str(clause.numbers[0]))
    if shown.air_c is None:
        return Read(heard=shown.as_written)
    trees = reading_trees(context)
    options = [(Meaning(verb=Verb.READING, trees=(tree,), air_c=shown.air_c),) for tree in trees[:3]]
    if len(options) == 1:
        options.append((replace(options[0][0], is_minimum=True),))
    return Read(options=tuple(options), question=Question.WHICH_TREE)
