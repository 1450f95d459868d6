"""Whose way covers are tended and when somebody can work, said in the chat and written into the garden file."""

from typing import Final

from bot.answers.exchange import Answer, Exchange
from bot.answers.garden_file.writing import refusal, written
from bot.replies import Meaning
from bot.replies.meanings.free_hours import free_hours_said
from bot.rounds.said_once import note_way_told
from bot.settings import Garden
from bot.settings.editing import setting_free_hours, setting_tending
from bot.wording.people import tending as words
from rules.garden.tree import Tending, Tree
from rules.plan.grower.free_hours import ANY_TIME
from rules.plan.grower.way_price import own_way_price

TOLD_PRICES: Final = 3  # trees whose price is told; a phone shows no more


def choose_way(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """The way of some trees, or of all, written down; what it costs is told once."""
    tending = Tending(meaning.text)
    if (refused := refusal(exchange)) is not None:
        return refused
    garden = written(exchange, setting_tending(meaning.trees, tending.value))
    if isinstance(garden, list):
        return garden
    trees = [tree for tree in garden.trees if tree.cover and not tree.left_bare]
    asked = [tree for tree in trees if not meaning.trees or tree.name in meaning.trees]
    note_way_told(exchange.c, garden, tending)
    prices = [words.price_line(tree.name, _price(exchange, garden, tree, tending)) for tree in asked[:TOLD_PRICES]]
    return [Answer(text=words.way_chosen(tending, meaning.trees, prices), must_be_heard=True)]


def _price(exchange: Exchange, garden: Garden, tree: Tree, tending: Tending) -> words.Price:
    if tending is Tending.FEWEST_TRIPS or tree.cover is None:
        return None
    climate = exchange.inputs().climate
    return own_way_price(
        tree, garden.covers[tree.cover], garden.site, climate, exchange.today, tending, garden.free
    )  # fmt: skip


def choose_hours(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """When somebody can work, written down."""
    hours = free_hours_said(meaning.text)
    if (refused := refusal(exchange)) is not None:
        return refused
    garden = written(exchange, setting_free_hours(hours))
    if isinstance(garden, list):
        return garden
    text = words.any_time() if garden.free == ANY_TIME else words.hours_chosen(hours)
    return [Answer(text=text, must_be_heard=True)]
