"""What was told of the season becomes a record: dieback, fruit, prunings, cuttings, gifts; each can be undone."""

from collections.abc import Sequence
from datetime import UTC, datetime
from itertools import chain

from bot.answers.exchange import Answer, Exchange, undo_button
from bot.answers.noting import source_of
from bot.answers.season.job_marks import settle_looks
from bot.logbook import Told, note_entry, read_told
from bot.replies import Meaning, Verb
from bot.wording.year import season as say
from rules.garden.records import Dieback
from rules.garden.season_records import Cuttings, Gift, Harvest, Pruning, SeasonEntry
from rules.garden.tree import Site
from rules.wood.season import season_place


def note_told(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """What one reply told of one or several trees, noted, with what is known of it besides."""
    entries = [_entry(meaning, tree, min(meaning.at_utc or exchange.now, exchange.now)) for tree in meaning.trees]
    for entry in entries:
        note_entry(exchange.c, source_of(exchange), entry)
    if meaning.verb is Verb.DIEBACK:
        settle_looks(exchange, meaning.trees)
    told = [one.entry for one in season_told(exchange)]
    lines = chain.from_iterable(
        say.noted(entry, told, _twin(exchange, entry.tree), exchange.style) for entry in entries
    )
    return [Answer(text="\n".join(lines), buttons=(undo_button(exchange),))]


def season_told(exchange: Exchange) -> list[Told]:
    """All that was told of the garden since its season began, oldest first."""
    site, now = exchange.garden.site, exchange.now
    since = min(season_start(site, now), crop_start(site, now))
    return of_this_season(read_told(exchange.c, exchange.garden.name, since), site, now)


def of_this_season(told: Sequence[Told], site: Site, now: datetime) -> list[Told]:
    """What was told since the season began; of fruit what belongs to the crop of the year, which ripens across it."""
    season, crop = season_start(site, now), crop_start(site, now)
    return [one for one in told if one.entry.at_utc >= (crop if isinstance(one.entry, Harvest) else season)]


def crop_start(site: Site, now: datetime) -> datetime:
    """From when on fruit counts to this year's crop: April, in the south October (assumed: by then all is picked)."""
    local = now.astimezone(site.zone)
    first = local.replace(month=4 if site.latitude_deg >= 0 else 10, day=1, hour=0, minute=0, second=0, microsecond=0)
    return (first if first <= local else first.replace(year=first.year - 1)).astimezone(UTC)


def season_start(site: Site, now: datetime) -> datetime:
    """When the season of a place began: early September, in the south early March."""
    first = season_place(now.astimezone(site.zone).date(), site.latitude_deg).start
    return datetime(first.year, first.month, first.day, tzinfo=site.zone).astimezone(UTC)


def _entry(meaning: Meaning, tree: str, at: datetime) -> SeasonEntry:
    match meaning.verb:
        case Verb.DIEBACK:
            lost = {"share": meaning.share, "length_m": meaning.length_m, "whole_m": meaning.whole_m}
            return Dieback(tree=tree, at_utc=at, **lost)
        case Verb.PICKED:
            return Harvest(tree=tree, count=meaning.count or 0, at_utc=at)
        case Verb.PRUNED:
            return Pruning(tree=tree, text=meaning.text, at_utc=at)
        case Verb.CUTTINGS:
            return Cuttings(tree=tree, count=meaning.count or 0, text=meaning.text, at_utc=at)
        case Verb.GIVE:
            return Gift(tree=tree, to=meaning.text, at_utc=at)
    raise ValueError(f"{meaning.verb} tells nothing of the season")


def _twin(exchange: Exchange, name: str) -> str | None:
    """The tree this one is compared with, whichever of the two says so in the file."""
    for tree in exchange.garden.trees:
        if tree.twin is not None and name in (tree.name, tree.twin):
            return tree.twin if tree.name == name else tree.name
    return None
