"""The same cultivar under several names: which trees of a garden are twice there."""

from collections.abc import Sequence
from dataclasses import dataclass

from rules.garden.species import one_name, plain, species_names
from rules.garden.tree import Purpose, Tree


@dataclass(frozen=True, kw_only=True)
class Repeated:
    """Trees of one cultivar: its name as the first of them has it, the trees, and the spare ones to give away."""

    cultivar: str
    trees: tuple[str, ...]
    spare: tuple[str, ...]


def cultivar_key(species: str, cultivar: str) -> str:
    """One name for all synonyms of a cultivar; a name that is not in the table stands for itself.

    >>> cultivar_key("fig", "Malta") == cultivar_key("fig", "celeste")
    True
    """
    kind = species_names().get(plain(species), plain(species))
    return f"{kind}: {one_name(kind, cultivar)}"


def repeated_cultivars(trees: Sequence[Tree]) -> list[Repeated]:
    """The cultivars a garden has more than once, in the order of its trees.

    Trees without a cultivar do not count, and neither does one that is there as the twin of another.
    """
    known: dict[str, list[Tree]] = {}
    for tree in trees:
        if tree.cultivar.strip() and tree.twin is None:
            known.setdefault(cultivar_key(tree.species, tree.cultivar), []).append(tree)
    return [
        Repeated(
            cultivar=same[0].cultivar,
            trees=tuple(tree.name for tree in same),
            spare=tuple(tree.name for tree in same if tree.purpose is Purpose.GIVE_AWAY),
        )
        for same in known.values()
        if len(same) > 1
    ]
