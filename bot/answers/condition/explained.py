"""How a cover is put on, and what our words mean."""

import re
from typing import Final

from bot.answers.exchange import Answer, Exchange
from bot.replies import Meaning
from bot.replies.phrases.descriptions import read_cover_words
from bot.replies.words.normalising import normalised
from bot.wording.covers.explained import WORDS, how_to, how_to_kind, meaning_of
from bot.wording.formats import names

KIND_IS_MEANT: Final = re.compile(r"\b(?:bend\w*|bury|peg down|lay down)\b")  # ways to say that a tree is mounded


def tell_how(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """How the cover of the trees named is put on; of the commonest of the garden where none is named."""
    garden = exchange.garden
    kind = None if meaning.trees else _kind_meant(exchange, exchange.incoming.text)
    if kind is not None:
        return [Answer(text=kind)]
    trees = [tree for tree in garden.trees if tree.name in meaning.trees] or [
        tree for tree in garden.trees if tree.cover
    ]
    by_manner: dict[str, list[str]] = {}
    for tree in trees:
        by_manner.setdefault(how_to(garden.cover_of(tree), exchange.style), []).append(tree.name)
    if not by_manner:
        return [Answer(text=how_to(None, exchange.style))]
    if meaning.trees:
        return [Answer(text="\n\n".join(f"{names(named)}: {how}" for how, named in by_manner.items()))]
    how, named = max(by_manner.items(), key=lambda one: len(one[1]))
    return [Answer(text=f"As at {names(named)}: {how}")]


def _kind_meant(exchange: Exchange, text: str) -> str | None:
    """How the kind of cover that was asked for by its name is put on; as at a tree that has it, where one does."""
    words = read_cover_words(KIND_IS_MEANT.sub("mound", normalised(text)), inches=False)
    if words is None or words.preset is None:
        return None
    garden = exchange.garden
    having = [tree for tree in garden.trees if (own := garden.cover_of(tree)) and own.preset is words.preset]
    if not having:
        return how_to_kind(words.preset, exchange.style)
    return f"As at {having[0].name}: {how_to(garden.cover_of(having[0]), exchange.style)}"


def tell_meaning(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """What a word of ours means."""
    said = meaning_of(meaning.text, exchange.style)
    return [Answer(text=said or f"I use no word like that. Ask me about: {', '.join(WORDS)}.")]
