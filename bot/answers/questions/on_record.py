"""What was told of the garden lately and stands on record."""

from datetime import timedelta
from typing import Final

from bot.answers.exchange import Answer, Exchange
from bot.logbook import read_told
from bot.replies import Meaning
from bot.wording.acknowledging import on_record

LATELY: Final = timedelta(hours=36)  # back to the evening before yesterday's; no source


def tell_noted(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """What was told since yesterday, of the trees named or of all, with who told it."""
    told = [
        one
        for one in read_told(exchange.c, exchange.garden.name, exchange.now - LATELY)
        if not meaning.trees or getattr(one.entry, "tree", "") in meaning.trees
    ]
    return [
        Answer(text=on_record([(one.entry, one.person) for one in told], exchange.style, exchange.now, exchange.covers))
    ]
