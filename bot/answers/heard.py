"""What is heard of the shed: kept in the garden file or as a note, and said so; never a deed."""

from collections.abc import Mapping
from typing import Final

from bot.answers.exchange import Answer, Exchange, undo_button
from bot.answers.garden_file.writing import written
from bot.answers.noting import source_of
from bot.answers.rights import is_owner
from bot.logbook import Note, note_entry
from bot.replies import Meaning
from bot.settings import Garden
from bot.settings.editing import stocking
from bot.wording.people import heard as say
from rules.garden.shed import SupplyKind
from rules.garden.supplies import bought_as, takes
from rules.jobs import MarkState

SUPPLY_WORDS: Final[Mapping[str, tuple[SupplyKind, ...]]] = {
    "straw": (SupplyKind.STRAW,), "bale": (SupplyKind.STRAW,), "hay": (SupplyKind.STRAW,),
    "lea": (SupplyKind.LEAVES,), "film": tuple(bought_as("film").values()), "burlap": (SupplyKind.BURLAP,),
    "hessian": (SupplyKind.BURLAP,), "fleece": (SupplyKind.FLEECE,), "blanket": tuple(bought_as("blanket").values()),
    "stake": (SupplyKind.STAKES,), "tie": (SupplyKind.TIES,), "strap": (SupplyKind.STRAPS,),
    "mesh": (SupplyKind.WIRE_MESH,), "wire": (SupplyKind.WIRE_MESH,),
}  # fmt: skip


def hear_stock(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """What lies in the shed: into the garden file where an owner may change it, else a note."""
    if meaning.mark is MarkState.DONE:
        return [_brought_home(exchange, meaning)]
    kind = supply_meant(meaning.text, exchange.garden)
    if kind is None or meaning.count is None or exchange.home is None or not is_owner(exchange):
        return [_kept(exchange, meaning, say.stock(meaning.text, meaning.count))]
    garden = written(exchange, stocking(kind.value, meaning.count))
    if isinstance(garden, list):
        return garden
    return [Answer(text=say.stocked(kind, garden.shed.have.get(kind, 0.0)), must_be_heard=True)]


def _brought_home(exchange: Exchange, bought: Meaning) -> Answer:
    """What was bought beside what lies in the shed, where the garden file counts it; else a note, and said so."""
    kind = supply_meant(bought.text, exchange.garden)
    have = exchange.garden.shed.have.get(kind) if kind is not None else None
    if kind is None or have is None or not bought.count or exchange.home is None or not is_owner(exchange):
        return _kept(exchange, bought, say.bought(bought.text, bought.count))
    garden = written(exchange, stocking(kind.value, have + bought.count))
    if isinstance(garden, list):
        return garden[0]
    return Answer(text=say.stocked(kind, have + bought.count), must_be_heard=True)


def supply_meant(words: str, garden: Garden) -> SupplyKind | None:
    """The supply that a word means; film and blankets are of the kind that the garden's covers take."""
    for stem, kinds in SUPPLY_WORDS.items():
        if stem in words:
            used = {kind for cover in garden.covers.values() for kind in takes(cover)}
            return next((kind for kind in kinds if kind in used), kinds[0])
    return None


def _kept(exchange: Exchange, meaning: Meaning, text: str) -> Answer:
    """The words as they were said, kept as a note."""
    words = exchange.incoming.text.strip() or meaning.text
    note_entry(exchange.c, source_of(exchange), Note(tree="", text=words, at_utc=exchange.now))
    return Answer(text=text, buttons=(undo_button(exchange),), must_be_heard=True)
