"""How each kind of cover is put on, step by step, and what our words mean."""

from collections.abc import Mapping
from typing import Final

from bot.wording.covers.words import Manner, manner_of
from bot.wording.formats import Style, sentence
from rules.garden.condition import Layer
from rules.garden.cover import Cover, Preset
from rules.garden.materials import BlanketPlace
from rules.plan.slots import NO_FILM_GUST_M_S

COOL_C: Final = (0.0, 10.0)

# Common practice, no source, but where a job of the year names one.
HOW: Final[Mapping[Manner, str]] = {
    Manner.CAPPED: "Tie the branches up loosely. Drive stakes and set the wire rings round it, the inner a hand off "
    "the twigs. {layers} {top}",
    Manner.TOPPED: "Tie the branches up loosely, set the ring of wire round it, fill or wrap it up to the tips, "
    "then draw the top together and tie it. Open or shut: as I ask in the nudge.",
    Manner.WRAP: "Tie the branches up loosely. Wind the blanket or burlap round from the bottom up, each turn "
    "half over the last, past the tips, and tie it every hand's width or two.",
    Manner.TENT: "Set three or four poles round it, the film round them, weighed down at the foot and clear of "
    "the twigs. Open it on every sunny day: under clear film it gets hot.",
    Manner.BOX: "Set the boards round it, fill up with dry straw to the tips, then the lid, sloping for the rain.",
    Manner.MOUND: "Two people: loosen the roots on one side, bend it down slowly, peg it. Heap straw or leaves "
    "over all of it, then a sheet against the rain, weighed down at the edges.",
    Manner.POT: "Bring it in before a hard night, after the leaves are off: dark and cool is fine, {cool}, "
    "away from heating. Water it a little once a month.",
}
# Open or shut is the plan's to say, night by night: no rule of thumb beside it.
OVER: Final = "Then the cap; open or shut: as I ask in the nudge."
THROUGH: Final = "Then the cap, in two halves round the stems that stand through it."
ROOF: Final = (
    "Move the pot under the roof before a hard night, against the house wall if there is one. Water it when dry."
)
UPRIGHT: Final = (Manner.CAPPED, Manner.TOPPED, Manner.WRAP, Manner.BOX)
WORDS: Final[Mapping[str, str]] = {
    "cap": "The cap is the insulated lid on top of a straw cage. Open, the tree gets air; shut, it keeps warm.",
    "lid": "The lid is what lies on top of a box of boards. Off, the tree gets air; on, it keeps warm.",
    "wrapped": "Wrapped means that the cover is on: cage, straw, blanket, film, whatever it is built of. Its top "
    "may be open or shut.",
    "open": "Open means that the cover is on and its top stands open.",
    "closed": "Closed means that the cover is on and its top is shut.",
    "bare": "Bare means that no cover is on.",
    "uncovered": "Uncovered means that the cover has been taken off for the season.",
    "mulch": "Mulch is straw, leaves or bark spread over the soil round the foot, clear of the bark of the stem.",
    "mound": "A mound is a tree bent down to the ground and heaped over with straw, leaves or soil.",
    "safe to": "Safe to {safe} means: down to there at least nine tenths of the wood lives. A few degrees "
    "colder, half of it dies. It is the wood's own cold: inside a cover that is less than the air's outside.",
    "trip": "I count in trips to the garden: a visit costs one, and a tree is worth as many as you told me you "
    "would make for it.",
    "hardening": "Hardening is the weeks in autumn in which the wood gets ready for frost.",
    "resting": "Resting wood is at its hardiest, in the middle of winter.",
    "waking": "Waking wood is losing its hardiness because it was warm.",
    "dieback": "Dieback is the wood that a winter killed.",
    "gust": "A gust is the strongest blow of wind in an hour. From {gust} on nobody should work with film or ladders.",
}
ALIKE: Final[Mapping[str, str]] = {
    "shut": "closed", "vented": "open", "vent": "open", "venting": "open", "opened": "open",
    "strip": "uncovered", "stripping": "uncovered", "stripped": "uncovered", "top": "cap", "safe": "safe to",
    "trips": "trip", "lt10": "safe to", "worth": "trip", "wrap": "wrapped", "mulching": "mulch", "mounded": "mound",
    "gusts": "gust",
}  # fmt: skip


def meaning_of(word: str, style: Style) -> str | None:
    """What a word of ours means; None for a word that is none of them.

    >>> from zoneinfo import ZoneInfo
    >>> (meaning_of("the cap", Style(zone=ZoneInfo("UTC"))) or "").split(".")[0]
    'The cap is the insulated lid on top of a straw cage'
    """
    plain = word.casefold().strip(" ?.!\"'")
    plain = plain.removeprefix("a ").removeprefix("an ").removeprefix("the ")
    found = WORDS.get(ALIKE.get(plain, plain))
    return found and _in_units(found, style)


def how_to(cover: Cover | None, style: Style) -> str:
    """How a cover is put on, in a few lines."""
    manner = manner_of(cover)
    steps = ROOF if manner is Manner.POT and cover is not None and cover.open_sides else HOW[manner]
    tall = cover is not None and manner in UPRIGHT and (cover.tree_height_m or 0.0) > cover.height_m
    told = _in_units(steps, style, _layers(cover, tall=tall), THROUGH if tall else OVER)
    return f"{told} {_out_at_the_top(cover, style)}" if tall and cover is not None else told


def _out_at_the_top(cover: Cover, style: Style) -> str:
    """What a cage too low for its tree leaves bare, and what can be done about it."""
    out_m = (cover.tree_height_m or 0.0) - cover.height_m
    return f"The top {style.size(out_m)} stays bare and may die back: build higher, tie it down, or accept that."


def how_to_kind(kind: Preset, style: Style) -> str:
    """How a kind of cover is put on of which the garden may have none."""
    return how_to(Cover(name=kind.value, preset=kind), style)


def _layers(cover: Cover | None, *, tall: bool = False) -> str:
    """The layers of a cage from the inside out, as they go on; up to its rim where the tree is taller."""
    up = "rim" if tall else "tips"
    if cover is None:
        return "Dry straw between the rings up to the tips, film round the outside, strapped twice or three times."
    parts = ["the blanket round the inner ring"] if cover.blanket_place is BlanketPlace.INSIDE else []
    parts = parts if Layer.BLANKET in cover.built_of else []
    parts += [f"dry {cover.fill} between the rings up to the {up}"] if Layer.FILL in cover.built_of else []
    outside = Layer.BLANKET in cover.built_of and cover.blanket_place is BlanketPlace.OUTSIDE
    parts += ["the blanket round the outside, strapped"] if outside else []
    parts += ["film round the outside, strapped twice or three times"] if Layer.FILM in cover.built_of else []
    return sentence(", then ".join(parts))


def _in_units(text: str, style: Style, layers: str = "", top: str = "") -> str:
    cool = f"{style.degrees(COOL_C[0], unit=False)} to {style.degrees(COOL_C[1])}"
    return text.format(layers=layers, top=top, cool=cool, safe=style.degrees(-6.0), gust=style.speed(NO_FILM_GUST_M_S))
