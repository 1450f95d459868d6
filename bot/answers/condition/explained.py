"""How a cover is put on, and what our words mean."""

from bot.answers.exchange import Answer, Exchange
from bot.replies import Meaning
from bot.wording.covers.explained import WORDS, how_to, meaning_of
from bot.wording.formats import names


def tell_how(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """How the cover of the trees named is put on; of the commonest of the garden where none is named."""
    garden = exchange.garden
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


def tell_meaning(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """What a word of ours means."""
    said = meaning_of(meaning.text, exchange.style)
    return [Answer(text=said or f"I use no word like that. Ask me about: {', '.join(WORDS)}.")]
