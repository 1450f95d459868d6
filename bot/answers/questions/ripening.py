"""The answer to "will they ripen"."""

from datetime import date
from typing import Final

import numpy as np

from bot.answers.exchange import Answer, Exchange
from bot.answers.questions.freezes import trees_named, winters_unknown
from bot.replies import Meaning
from bot.rounds.job_facts import night_offset_c
from bot.wording.year.ripening import heat_unknown, ripe
from rules.garden.records import Records, SightingKind
from rules.garden.species import ripening_heat
from rules.garden.tree import Tree
from rules.outlook.inputs import OutlookInputs
from rules.weather.daily_minima import DailyMinima
from rules.wood.daily_temperatures import wood_days_from
from rules.wood.hardiness import tree_row
from rules.wood.ripening import LEAF_OUT_SD_DAYS, Ripening, expected_leaf_out, ripening

NORTHERN_NEXT: Final = 11  # from this month on the crop asked about is next year's; in the south half a year on


def tell_ripening(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """Whether the crop will ripen, species by species."""
    past = exchange.inputs().climate
    trees = trees_named(exchange, meaning.trees) if meaning.trees else list(exchange.garden.trees)
    groups: dict[tuple[str, float], list[Tree]] = {}
    for tree in trees:
        species = tree_row(tree, exchange.today).species
        groups.setdefault((species, night_offset_c(tree.standing)), []).append(tree)
    known = {key: same for key, same in groups.items() if ripening_heat(key[0]) is not None}
    if known and past is None:
        return winters_unknown(exchange)
    told = [_group(exchange, species, offset_c, same) for (species, offset_c), same in known.items()]
    strange = [tree.name for tree in trees if ripening_heat(tree_row(tree, exchange.today).species) is None]
    told += [heat_unknown(strange)] if strange else []
    return [Answer(text="\n\n".join(told))]


def _group(exchange: Exchange, species: str, offset_c: float, trees: list[Tree]) -> str:
    """Trees of one species in spots of one warmth; the worth told is that of the dearest."""
    found = _ripening(exchange, species, offset_c, trees)
    worth = max(tree.worth_trips for tree in trees)
    return ripe([tree.name for tree in trees], found, worth, exchange.style)


def _ripening(exchange: Exchange, species: str, offset_c: float, trees: list[Tree]) -> Ripening:
    inputs, latitude_deg = exchange.inputs(), exchange.garden.site.latitude_deg
    today = exchange.today
    year = crop_year(today, latitude_deg)
    seen = _leaf_out_seen(exchange.records, trees, year, exchange)
    leaf_out = seen or expected_leaf_out(inputs.climate, year, latitude_deg)
    if leaf_out is None:
        return ripening(None, ripening_heat(species), today, latitude_deg)
    return ripening(
        inputs.climate,
        ripening_heat(species),
        leaf_out,
        latitude_deg,
        leaf_out_sd_days=0.0 if seen else LEAF_OUT_SD_DAYS,
        offset_c=offset_c,
        this_year=days_of(inputs),
    )


def crop_year(today: date, latitude_deg: float) -> int:
    """Calendar year of the leaf-out of the crop a grower asks about.

    >>> crop_year(date(2026, 9, 1), 40.0), crop_year(date(2026, 11, 25), 40.0), crop_year(date(2027, 3, 1), -35.0)
    (2026, 2027, 2026)
    """
    if latitude_deg >= 0:
        return today.year + (today.month >= NORTHERN_NEXT)
    return today.year - (today.month < NORTHERN_NEXT - 6)


def _leaf_out_seen(records: Records, trees: list[Tree], year: int, exchange: Exchange) -> date | None:
    names = {tree.name for tree in trees}
    days = [
        seen.at_utc.astimezone(exchange.garden.site.zone).date()
        for seen in records.sightings
        if seen.tree in names and seen.sight is SightingKind.LEAFED_OUT
    ]
    return min((day for day in days if day.year == year), default=None)


def days_of(inputs: OutlookInputs) -> DailyMinima | None:
    """The days gone by as they were in the open field; None where no whole one is known."""
    past = inputs.past
    if past is None:
        return None
    days = wood_days_from(past, past.air_c, ~np.isnan(past.air_c), inputs.site.zone)
    if np.isnan(days.min_c).all():
        return None
    return DailyMinima(first=days.first, min_c=days.min_c, max_c=days.max_c)
