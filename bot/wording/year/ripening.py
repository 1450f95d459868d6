"""The sentences about ripening: in time or not, with live wood and from the ground, and what wood is worth."""

from collections.abc import Sequence

from bot.wording.doubts import doubts_in_words
from bot.wording.formats import Style, counted, names
from rules.wood.ripening import DateSpread, Ripening


def ripe(trees: Sequence[str], found: Ripening, worth_trips: float, style: Style) -> str:
    """Whether the main crop of some trees ripens before the first killing freeze, and what live wood gains."""
    who = names(trees)
    if found.with_wood is None or found.from_ground is None:
        why = doubts_in_words(found.doubts, style)
        return f"{who}: I cannot say whether they ripen. {' '.join(why)}"
    lines = [
        f"{who}, ripe before the first killing freeze: on last year's wood {share(found.with_wood)}, "
        f"from the ground {share(found.from_ground)}.",
        _dates(found, style),
        _gain(found, worth_trips),
        f"From {found.years} years, the heat a crop needs only roughly known.",
    ]
    return "\n".join(line for line in lines if line)


def share(chance: float) -> str:
    """A share of years, in words.

    >>> share(0.0), share(0.42), share(0.95), share(1.0)
    ('hardly ever', 'in 4 years of 10', 'in 9 years of 10', 'nearly always')
    """
    if chance < 0.05:
        return "hardly ever"
    tenths = min(max(1, round(10 * chance)), 9)
    return "nearly always" if chance > 0.95 else f"in {counted(tenths, 'year')} of 10"


def _dates(found: Ripening, style: Style) -> str:
    parts = [
        (f"Ripe about {_half(found.ripe_with_wood, style)} on wood", found.ripe_with_wood),
        (f"about {_half(found.ripe_from_ground, style)} from the ground", found.ripe_from_ground),
        (f"killing freeze about {_half(found.killing_freeze, style)}", found.killing_freeze),
    ]
    told = [words for words, spread in parts if spread and spread.half]
    return f"{'; '.join(told)}." if told else ""


def _half(spread: DateSpread | None, style: Style) -> str:
    return style.long_date(spread.half) if spread and spread.half else ""


def _gain(found: Ripening, worth_trips: float) -> str:
    weeks = found.weeks_gained
    gained = "Most years the crop from the ground never ripens." if weeks is None else f"Wood gains {weeks:.0f} weeks."
    return f"{gained} You put live wood at {worth_trips:.0f} trips to the garden."


def heat_unknown(trees: Sequence[str]) -> str:
    """That nobody knows what heat some trees need."""
    return f"{names(trees)}: I do not know how much heat they need to ripen, so I cannot say."
