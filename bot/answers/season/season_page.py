"""`season`: a page of words and, where it can be drawn, the picture of one tree or of two twins."""

from collections.abc import Callable, Sequence
from datetime import datetime

import numpy as np

from bot.answers.exchange import Answer, Exchange
from bot.answers.season.pictures import saved
from bot.answers.season.season_record import season_start, season_told
from bot.charts import ChartsMissing, Dieback, Picture, draw_season, draw_twins
from bot.logbook import Entry, Note, Refusal, Told
from bot.logbook.garden.entries import UNSAID
from bot.replies import Meaning
from bot.rounds.inputs import style_of
from bot.settings import Garden
from bot.wording import learned as say_learned
from bot.wording.covers.condition import told_words
from bot.wording.covers.words import Covers, done_alone
from bot.wording.formats import Style
from bot.wording.year import season as say
from rules.garden.condition import ConditionTold
from rules.garden.cultivars import repeated_cultivars
from rules.garden.records import Deed, Reading, Sighting
from rules.garden.records import Dieback as ToldDieback
from rules.garden.season_records import Photo
from rules.garden.tree import Tree
from rules.jobs import JobMark
from rules.learning import Forgotten, ThresholdAnswer
from rules.outlook.views.season_so_far import SeasonSoFar, season_so_far, seasons_so_far


def season(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """The page of the garden, or of the trees named; then the picture, with its own line of words."""
    told = season_told(exchange)
    if meaning.trees:
        pages = [
            say.tree_page(name, _lines(exchange, told, name), exchange.style, exchange.now) for name in meaning.trees
        ]
        return [Answer(text="\n\n".join(pages)), *_picture(exchange, meaning.trees[0], told)]
    return [Answer(text=_page(exchange, told)), *_picture(exchange, None, told)]


def _page(exchange: Exchange, told: list[Told]) -> str:
    names = [tree.name for tree in exchange.garden.trees]
    so_far = seasons_so_far(exchange.inputs(), names, exchange.now) if exchange.look() is not None else {}
    return page_of(exchange.garden, told, so_far.get, season_start(exchange.garden.site, exchange.now))


def page_of(
    garden: Garden, told: Sequence[Told], so_far: Callable[[str], SeasonSoFar | None], since_utc: datetime
) -> str:
    """A garden's season in words: its trees, its twins, what it has twice, who did what."""
    entries, style = [one.entry for one in told], style_of(garden)
    pairs = [(tree.twin, tree.name) if tree.left_bare else (tree.name, tree.twin) for tree in _twinned(garden)]
    twins = [say.twins_line(covered, bare, entries, style) for covered, bare in pairs if covered and bare]
    return say.page(
        since_utc,
        [known_of_tree(tree, so_far(tree.name), entries) for tree in garden.trees],
        [line for line in twins if line],
        repeated_cultivars(garden.trees),
        say.done_by([(one.person_id, one.person, one.entry) for one in told]),
        style,
    )


def _twinned(garden: Garden) -> list[Tree]:
    return [tree for tree in garden.trees if tree.twin]


def known_of_tree(tree: Tree, so_far: SeasonSoFar | None, entries: Sequence[Entry]) -> say.TreePage:
    """What is known of one tree's season, of all that was told of the garden."""
    own = [entry for entry in entries if entry.tree == tree.name]
    if so_far is None or not so_far.days or np.isnan(so_far.low_c).all():
        return say.TreePage(name=tree.name, entries=own)
    return say.TreePage(
        name=tree.name,
        low_c=float(np.nanmin(so_far.low_c)),
        lt10_c=float(so_far.lt10_c[-1]),
        too_cold_days=len(so_far.too_cold),
        entries=own,
    )


def told_of_tree(exchange: Exchange, told: list[Told], name: str) -> list[str]:
    """What was told of one tree this season, a line each."""
    return say.tree_page(name, _lines(exchange, told, name), exchange.style, exchange.now).splitlines()[1:]


def _so_far(exchange: Exchange, name: str) -> SeasonSoFar | None:
    """The tree's days as the model has them; None while there is no outlook to stand on."""
    return season_so_far(exchange.inputs(), name, exchange.now) if exchange.look() is not None else None


def _lines(exchange: Exchange, told: list[Told], name: str) -> list[tuple[datetime, str, str]]:
    of_tree = [one for one in told if one.entry.tree == name and one.person not in UNSAID]
    lines = [(one.entry.at_utc, entry_words(one.entry, exchange.style, exchange.covers), one.person) for one in of_tree]
    return [line for line in lines if line[1]]


def entry_words(entry: Entry, style: Style, covers: Covers) -> str:
    """One record without its tree; empty for what tells nothing of it later."""
    match entry:
        case Deed():
            return done_alone(entry.kind, covers.get(entry.tree))
        case ConditionTold():
            return told_words(entry, covers)
        case Sighting():
            return entry.sight
        case Reading():
            return style.degrees(entry.air_c, tenths=True)
        case Note():
            return entry.text
        case Photo() if not entry.file:
            return ""
        case Refusal():
            return ""
        case Forgotten() | ThresholdAnswer():
            return say_learned.word_in_words(entry)
        case JobMark():
            return say.entry_in_words(entry, style).replace(f" at {entry.tree}", "")
    words = say.entry_in_words(entry, style)
    return words.replace(f" from {entry.tree}", "").replace(f" of {entry.tree}", "").replace(f"{entry.tree} ", "")


def _picture(exchange: Exchange, name: str | None, told: list[Told]) -> list[Answer]:
    """The picture as a message of its own: a page is longer than a caption may be."""
    if exchange.home is None or exchange.look() is None:
        return []
    try:
        picture = _drawn(exchange, name, told)
    except ChartsMissing:
        return []
    return [Answer(text=picture.text, picture=str(saved(exchange, picture, "season")))] if picture else []


def _drawn(exchange: Exchange, name: str | None, told: list[Told]) -> Picture | None:
    twin = next((tree for tree in _twinned(exchange.garden) if name in (None, tree.name, tree.twin)), None)
    if twin is not None and twin.twin is not None and name is None:
        covered, bare = (twin.twin, twin.name) if twin.left_bare else (twin.name, twin.twin)
        both = _so_far(exchange, covered), _so_far(exchange, bare)
        if both[0] is not None and both[1] is not None:
            return draw_twins(both[0], both[1], exchange.style, dieback=_diebacks(told))
    so_far = _so_far(exchange, name or exchange.garden.trees[0].name)
    return draw_season(so_far, exchange.style) if so_far else None


def _diebacks(told: list[Told]) -> dict[str, Dieback]:
    found = [one.entry for one in told if isinstance(one.entry, ToldDieback)]
    return {one.tree: Dieback(share=one.lost, length_m=one.length_m) for one in found}
