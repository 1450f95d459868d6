"""Can it stay shut: what is known of dry leafless wood in the dark, and what speaks against it here."""

from bot.answers.exchange import NO_LOOK, Answer, Exchange
from bot.replies import Meaning
from bot.wording.people.tending import stay_shut


def tell_stay_shut(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """For the trees named, or all that have a cover."""
    seen = exchange.outlook()
    if seen is None:
        return [NO_LOOK]
    covered = [one for one in seen.trees if one.cover is not None and not one.tree.left_bare]
    asked = [one for one in covered if one.tree.name in meaning.trees] or covered
    if not asked:
        return [Answer(text="No tree here has a cover.")]
    said: dict[str, list[str]] = {}
    for one in asked:
        said.setdefault(stay_shut(one), []).append(one.tree.name)
    if len(said) == 1:
        return [Answer(text=next(iter(said)))]
    return [Answer(text="\n".join(f"{', '.join(names)}: {text}" for text, names in said.items()))]
