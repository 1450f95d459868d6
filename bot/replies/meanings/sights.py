"""What a clause measures or sees: a reading, a number that may be one, a sighting, damage; at which trees."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Final

from bot.replies.clause import Clause
from bot.replies.grammar import grammar
from bot.replies.meanings.deeds import read_put_off
from bot.replies.meanings.read import MOST_TREES, Read, or_no
from bot.replies.meanings.targets import Target, targets
from bot.replies.nouns import Context, Meaning, Question, Verb
from bot.replies.words.numbers import Temperature, believed, number_of
from bot.replies.words.times import NIGHT_MINIMUM_HOUR, PART_HOURS, Moment
from rules.garden.condition import ConditionKind, Layer
from rules.garden.records import Place, SightingKind

SIGHTS: Final = {
    "dropped": SightingKind.LEAVES_DROPPED,
    "yellow": SightingKind.LEAVES_YELLOW,
    "frozen_green": SightingKind.LEAVES_FROZEN_GREEN,
    "swelling": SightingKind.BUDS_SWELLING,
    "leafed": SightingKind.LEAFED_OUT,
    "pea": SightingKind.FRUIT_PEA_SIZE,
    "first_bloom": SightingKind.FIRST_BLOOM,
    "full_bloom": SightingKind.FULL_BLOOM,
    "petals": SightingKind.PETALS_FALLEN,
}
# What may befall a cover or its tree, as the grammar keeps it.
BEFELL: Final = {
    "cap_off": ConditionKind.TOP_GONE,
    "cap_up": ConditionKind.TOP_OPEN,
    "naked": ConditionKind.NOT_ON,
    "found": ConditionKind.TOP_OPEN,
    "off": ConditionKind.NOT_ON,
    "torn": ConditionKind.TORN,
    "branch": ConditionKind.BRANCH_BROKEN,
    "pests": ConditionKind.MICE,
    "mould": ConditionKind.MOULD,
    "wet": ConditionKind.WET,
    "sunk": ConditionKind.SUNK,
    "snowed": ConditionKind.SNOW_ON,
    "mended": ConditionKind.TORN,
}
_LAYERS: Final = {
    Layer.FILM: "film films foil plastic polythene sheeting tarp tarps tarpaulin sheet sheets tent bubble",
    Layer.FILL: "straw fill filling leaves",
    Layer.BLANKET: "blanket blankets fleece burlap hessian sacking quilt duvet jacket coat",
}
LAYERS: Final = {word: layer for layer, words in _LAYERS.items() for word in words.split()}
# A bare number may be °F in a garden that speaks °C where that makes a winter's air of it.
LONGEST_FIGURES, BEYOND = 6, 1e9
LIKELY_F: Final = (-20.0, 40.0)
WARM_C: Final = 15.0  # a number without sign or unit above it may be °F; assumed, no source


def reading_trees(context: Context) -> tuple[str, ...]:
    """The trees a reading without a tree may belong to: those asked about, else all."""
    asked = tuple(dict.fromkeys(tree for ask in context.asks for tree in ask.trees))
    return asked or tuple(tree.name for tree in context.trees)


def read_temperature(clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    """The reading of a thermometer."""
    return _shown(clause.temperature, clause, context, spoken)


def _shown(shown: Temperature | None, clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    if shown is None or shown.air_c is None:
        return Read(heard=f"{shown.as_written if shown else ''}: no thermometer in a garden shows that")
    meaning = Meaning(
        verb=Verb.READING,
        air_c=shown.air_c,
        place=Place.INSIDE if clause.has("inside") or _hangs_in_a_tree(clause) else Place.AIR,
        is_minimum=clause.has("low") or _is_of_night(clause.moment),
        at_utc=_behind(clause.moment),
    )
    if _counts_instruments(clause):
        clause = replace(clause, numbers=())
    read = per_tree(_night_after(meaning, clause, context), clause, context, spoken)
    return or_no(read) if len(read.options) == 1 and _may_be_of_the_house(clause) else read


def _counts_instruments(clause: Clause) -> bool:
    """ "Sensor 3 shows -2.8": the number is the sensor's, no tree's."""
    before = {clause.marked.words[one.start - 1] for one in clause.kept if one.name == "item" and one.start}
    return not (grammar().words("THERM") - {"and"}).isdisjoint(before)


def _hangs_in_a_tree(clause: Clause) -> bool:
    """ "19 in wall fig" is within its cover; not where another number is said to be inside."""
    words = clause.marked.words
    marks = [n for n, word in enumerate(words) if word[0] == "@" and clause.marked.tree_of(word) in clause.named]
    before = [[one for one in words[max(0, n - 2) : n] if one not in grammar().words("DET")][-1:] for n in marks]
    return ["in"] in before and not {"inside", "outside", "out"}.intersection(words)


def _night_after(low: Meaning, clause: Clause, context: Context) -> Meaning:
    """A low of "sunday night" was in the night that began then, not in the one before."""
    if not low.is_minimum or low.at_utc is None or _is_of_night(clause.moment):
        return low
    local = low.at_utc.astimezone(context.zone)
    morning = (local + timedelta(days=1)).replace(hour=NIGHT_MINIMUM_HOUR, minute=0).astimezone(UTC)
    evening = local.hour >= PART_HOURS["tea"]
    return replace(low, at_utc=min(morning, context.now)) if evening else low


def _may_be_of_the_house(clause: Clause) -> bool:
    """ "14 on the porch": of a part of the house, and nothing says that its tree is meant."""
    words = clause.marked.words
    for n, word in enumerate(words):
        part = clause.marked.named_in_part(clause.marked.tree_of(word).trees) if word[0] == "@" else set()
        if any(not grammar().words("ROOM").isdisjoint(name.casefold().split()) for name in part):
            before = [one for one in words[max(0, n - 2) : n] if one not in grammar().words("DET")]
            if before[-1:] == ["on"]:
                return True
    return False


def _is_of_night(moment: Moment | None) -> bool:
    return moment is not None and moment.is_night


def _behind(moment: Moment | None) -> datetime | None:
    """When it was; the low of a night has its own hour."""
    behind = (moment.past or moment.told) if moment is not None else ()
    return behind[0] if behind else None


def read_number(clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    """A number without sign or unit: beside a word of thermometers a reading, else one in a tap."""
    figures = clause.text("num")
    if "already" in clause.words:
        return Read()  # "it's 5 already" is an hour
    value = float(number_of(figures) or 0) if len(figures) <= LONGEST_FIGURES or figures.isalpha() else BEYOND
    in_f = clause.marked.in_fahrenheit
    own = believed(value, fahrenheit=in_f, as_written=figures)
    if own.air_c is None:
        return Read(heard=figures)
    read = _shown(own, clause, context, spoken)
    if _may_be_below_zero(value, clause, context) and len(read.options) == 1:
        (now,) = read.options[0]
        below = replace(now, air_c=-value)
        return Read(options=((below,), (now,)), question=Question.WHICH_NUMBER)
    if (
        clause.tells == "numbers"
        or clause.has("therm")
        or clause.has("low")
        or clause.has("inside")
        or _is_of_night(clause.moment)
    ) and (in_f or value < WARM_C):
        return or_no(read) if len(read.options) == 1 and _may_be_an_hour(value, clause) else read
    if len(read.options) != 1:
        return replace(read, question=Question.WHICH_TREE)
    if in_f and clause.named and _behind(clause.moment) and LIKELY_F[0] <= value <= LIKELY_F[1]:
        return read  # "26 at the wall fig this morning"
    (now,) = read.options[0]
    options = [(now,), (replace(now, is_minimum=not now.is_minimum),)]
    as_f = believed(value, fahrenheit=True, as_written=figures).air_c
    if not in_f and as_f is not None and LIKELY_F[0] <= value <= LIKELY_F[1]:
        options.append((replace(now, air_c=as_f),))
    return Read(options=tuple(options), question=Question.WHICH_NUMBER)


def _may_be_an_hour(value: float, clause: Clause) -> bool:
    """ "8 last night porch": a number and the night, and no word of a thermometer."""
    told = any(clause.has(name) for name in ("therm", "low", "inside"))
    words, at = clause.marked.words, next((one.start for one in clause.kept if one.name == "num"), 0)
    led = at == 0 and [word[0] for word in words[1:2]] == ["#"]
    return led and not told and clause.tells == "number" and value in range(1, 13)


def _may_be_below_zero(value: float, clause: Clause, context: Context) -> bool:
    """ "9 at the wall last night", in °C and without a sign: of a frost its sign is often left out."""
    of_night = clause.has("low") or _is_of_night(clause.moment)
    return not context.fahrenheit and value > 0 and of_night and not clause.has("inside") and clause.tells != "numbers"


def read_sight(clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    """What was seen of the tree itself."""
    meaning = Meaning(verb=Verb.SIGHTING, sight=SIGHTS[clause.tells], at_utc=_behind(clause.moment))
    return per_tree(meaning, clause, context, spoken)


def read_condition(clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    """What befell a cover or its tree; of no tree named it is of the one spoken of, or asked."""
    kind = next((kind for name, kind in BEFELL.items() if clause.has(name)), None)
    if kind is None:
        return Read()
    layer = next((LAYERS[word] for word in clause.words if word in LAYERS), None)
    if kind is ConditionKind.NOT_ON and layer is not None and clause.has("off"):
        kind = ConditionKind.LAYER_OFF
    meaning = Meaning(
        verb=Verb.CONDITION, condition=kind, layer=layer if kind is ConditionKind.LAYER_OFF else None,
        is_over=clause.has("mended"), at_utc=_behind(clause.moment),
    )  # fmt: skip
    return per_tree(meaning, clause, context, spoken)


def read_half(clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    """Half a wrap: the cover on without one layer, once that is confirmed; else not done."""
    layer = next((LAYERS[word] for word in clause.text("missing").split() if word in LAYERS), None)
    not_done = Meaning(verb=Verb.NOT_DONE)
    if layer is None:
        return _at_some(not_done, clause, context, spoken)
    ways = _at_some(Meaning(verb=Verb.WRAPPED), clause, context, spoken)
    if len(ways.options) != 1:
        return replace(ways, options=tuple(_without(one, layer) for one in ways.options))
    (on,) = ways.options[0]
    options = _without((on,), layer), (replace(not_done, trees=on.trees, ask_key=on.ask_key),)
    return Read(options=options, question=Question.DONE_OR_NOT)


def _without(on: tuple[Meaning, ...], layer: Layer) -> tuple[Meaning, ...]:
    off = Meaning(verb=Verb.CONDITION, condition=ConditionKind.LAYER_OFF, layer=layer, trees=on[0].trees)
    return (*on, off)


def _at_some(meaning: Meaning, clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    """At the trees named, else at those a wrap is asked for, else asked."""
    asked = [ask for ask in context.asks if ask.verb is Verb.WRAPPED]
    if not clause.has_targets and len(asked) == 1:
        return Read(options=((replace(meaning, trees=asked[0].trees, ask_key=asked[0].key),),))
    return per_tree(meaning, clause, context, spoken)


def read_move(clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    """A tree brought to another place; what is yet to come is put off."""
    moment = clause.moment
    if clause.group and grammar().words("MOVED").isdisjoint(clause.words):
        return Read()  # "all inside" may be where the thermometers lie
    if moment is not None and moment.future and not (moment.past or moment.told or moment.is_today):
        return read_put_off(clause, context, spoken)
    meaning = Meaning(verb=Verb.CONDITION, condition=ConditionKind.MOVED, text=clause.text("where"))
    read = per_tree(replace(meaning, at_utc=brought_at(clause.moment, context)), clause, context, spoken)
    return or_no(read) if _stands_fast(clause, context) else read


def brought_at(moment: Moment | None, context: Context) -> datetime | None:
    """When a tree was brought; nobody carries it at the coldest hour of "last night", but in the evening before."""
    at = _behind(moment)
    if at is None or moment is None or not moment.is_night:
        return at
    evening = at.astimezone(context.zone).replace(hour=PART_HOURS["night"], minute=0)
    return (evening if evening <= at else evening - timedelta(days=1)).astimezone(UTC)


def _stands_fast(clause: Clause, context: Context) -> bool:
    """Whether a place alone is named, and the tree there has a cover built round it: "moved the bench inside"."""
    built = {tree.name for tree in context.trees if tree.has_cover and tree.standing != "pot"}
    return bool(clause.marked.named_in_part(clause.trees_named) & built)


def per_tree(meaning: Meaning, clause: Clause, context: Context, spoken: tuple[str, ...]) -> Read:
    """What was seen or measured, at the trees named; else at the tree spoken of, the only candidate, or asked."""
    if clause.named or clause.numbers or clause.group in ("all", "both"):
        asks = () if clause.group == "all" else context.asks
        ways = targets(replace(clause, did=None), context, asks)
        if clause.group == "all" and not clause.named:
            ways = [Target(trees=tuple(tree.name for tree in context.trees))]
        return Read(
            options=tuple((replace(meaning, trees=way.trees),) for way in ways[:MOST_TREES]), heard="some trees"
        )
    spoken = tuple(dict.fromkeys(spoken))
    trees = spoken if len(spoken) == 1 else reading_trees(context)
    return Read(options=tuple((replace(meaning, trees=(tree,)),) for tree in trees[:MOST_TREES]), heard="a reading")
