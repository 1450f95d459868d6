"""What covers take and what is to be bought, in the grower's units."""

from collections.abc import Sequence
from typing import Final

from bot.settings.grower_units import PIECES
from bot.wording.formats import Style, sentence
from bot.wording.year.jobs import packed, short_names
from rules.garden.shed import SupplyKind, SupplyUnit
from rules.garden.supplies import SupplyLine, to_buy
from rules.garden.units import KG_PER_POUND, M_PER_FOOT

# Unit → (metric word, imperial word, how many imperial units one of ours is).
UNITS: Final = {
    SupplyUnit.KG: ("kg", "lb", 1 / KG_PER_POUND),
    SupplyUnit.M2: ("m²", "sq ft", 1 / M_PER_FOOT**2),
    SupplyUnit.M3: ("m³", "cu ft", 1 / M_PER_FOOT**3),
    SupplyUnit.M: ("m", "ft", 1 / M_PER_FOOT),
}


def amount_words(amount: float, unit: SupplyUnit, style: Style) -> str:
    """An amount in the grower's unit, to two figures or whole numbers.

    >>> from zoneinfo import ZoneInfo
    >>> amount_words(54.3, SupplyUnit.KG, Style(zone=ZoneInfo("UTC"), length="in"))
    '120 lb'
    >>> amount_words(0.12, SupplyUnit.M3, Style(zone=ZoneInfo("UTC")))
    '120 l'
    """
    if unit is SupplyUnit.PIECE:
        return f"{amount:.0f}"
    if unit is SupplyUnit.M3 and amount < 1 and style.length != "in":
        return f"{1000 * amount:.0f} l"
    metric, imperial, factor = UNITS[unit]
    shown, word = (amount * factor, imperial) if style.length == "in" else (amount, metric)
    return f"{shown:.0f} {word}" if shown >= 10 else f"{style.number(f'{shown:.1f}')} {word}"


def _each(line: SupplyLine, style: Style) -> str:
    size = amount_words(line.piece, line.unit, style)
    return f"{size} each" if line.buy > 1 else size


def piece_words(kind: SupplyKind, count: int) -> str:
    """So many pieces as they are asked for in a shop.

    >>> piece_words(SupplyKind.STRAW, 3)
    '3 bales of straw'
    """
    return f"{count} {PIECES[kind][count != 1]}"


def needs_messages(trees: Sequence[str], lines: Sequence[SupplyLine], style: Style) -> list[str]:
    """What the covers of these trees take, what the shed has of it and what to buy."""
    if not lines:
        return [f"The covers of {short_names(trees)} take nothing that is bought."]
    return packed([f"For {short_names(trees)}:", *(_need(line, style) for line in lines)])


def _need(line: SupplyLine, style: Style) -> str:
    """What is needed of one thing, and in how many bales, rolls or sheets it is bought."""
    needed = amount_words(line.amount, line.unit, style)
    pieces, _, thing = PIECES[line.kind][line.buy != 1].rpartition(" of ")
    named = sentence(thing if pieces else PIECES[line.kind][1]).rstrip(".")
    if not line.buy:
        return f"{named}: {needed}, in the shed"
    return f"{named}: {needed}, buy {f'{line.buy} {pieces}'.rstrip()}{_in_shed(line, style)}"


def _in_shed(line: SupplyLine, style: Style) -> str:
    return f" ({amount_words(line.have, line.unit, style)} in the shed)" if line.have else ""


def shopping_messages(trees: Sequence[str], lines: Sequence[SupplyLine], style: Style) -> list[str]:
    """The shopping list for the covers of these trees: pieces to buy, and how large a piece was taken to be."""
    wanted = to_buy(lines)
    if not wanted:
        return [f"Nothing to buy for {short_names(trees)}: the shed has it all."]
    return packed([f"To buy for {short_names(trees)}:", *(_shop(line, style) for line in wanted)])


def _shop(line: SupplyLine, style: Style) -> str:
    text = piece_words(line.kind, line.buy)
    if line.unit is SupplyUnit.PIECE:
        return text if line.piece == 1 else f"{text} of {line.piece:.0f}"
    return f"{text}, {_each(line, style)}"
