"""What a thermometer inside a cover taught: reckoned once, and then both told and used."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np

from bot.logbook import Connection
from bot.rounds.learning.recorded_weather import recorded_weather
from bot.settings import Garden
from rules.garden.records import Deed, Place, Reading, Records
from rules.garden.tree import Tree
from rules.learning import (
    CoverMoves,
    LearnedCover,
    LearnedOffset,
    counted,
    cover_moves,
    learn_cover,
    unread_cover,
)
from rules.outlook.inputs import OutlookInputs
from rules.outlook.past import exposure
from rules.weather.gaps import filled
from rules.weather.hourly import Forecast, evening_of
from rules.weather.timeline import lines_through, until

# Of readings inside a cover the last forty days of them are reckoned with: some two seconds for each cover. They count
# however long ago that was, until it is wrapped anew; older ones say little beside them.
READ_FOR: Final = timedelta(days=40)
SETTLES: Final = timedelta(days=10)  # before the first, in which an unknown start is washed out (see `cover_moves`)
HOURS_TOLD: Final = 24  # before a reading must be known: it rests on them


@dataclass(frozen=True, kw_only=True, eq=False)
class Inside:
    """One cover: what was learned of it, and the march it was learned by."""

    learned: LearnedCover
    moves: CoverMoves


def readings_inside(readings: Sequence[Reading], tree: str, zone: ZoneInfo) -> tuple[Reading, ...]:
    """What is reckoned with for one tree's cover: a few readings of a night inside, and of the same nights its air."""

    def night_of(one: Reading) -> date:
        return evening_of(one.at_utc, zone, is_minimum=one.is_minimum)

    own = [one for one in readings if one.tree == tree]
    inside, air = (counted([one for one in own if one.place is place], zone) for place in (Place.INSIDE, Place.AIR))
    inside = tuple(one for one in inside if one.at_utc > inside[-1].at_utc - READ_FOR)
    nights = {night_of(one) for one in inside}
    return tuple(sorted((*inside, *(one for one in air if night_of(one) in nights)), key=lambda one: one.at_utc))


def learn_inside(
    c: Connection,
    garden: Garden,
    weather_of: str,
    tree: Tree,
    readings: Sequence[Reading],
    deeds: Sequence[Deed],
    air: LearnedOffset,
    forecast: Forecast | None,
    now: datetime,
) -> Inside | None:
    """What is known of one tree's cover; without readings the prior, marched through the last ten days.

    None where the tree has no cover to read in, or too little of the weather is known.

    Parameters
    ----------
    readings
        From `readings_inside`; those of the air count where they taught its offset.
    deeds
        Of any tree.
    air
        What is known of the air at this tree.
    forecast
        For the hours up to now that no later answer has told again.
    """
    if tree.cover is None or tree.left_bare:
        return None
    first, last = (readings[0].at_utc, readings[-1].at_utc + timedelta(hours=HOURS_TOLD)) if readings else (now, now)
    told = recorded_weather(c, weather_of, first, forecast, now, SETTLES)
    whole = until(told, min(last, now)) if told else None
    if whole is None or whole.hours < SETTLES / timedelta(hours=2):
        return None
    past, _ = filled(whole)
    known = ~np.isnan(past.air_c)
    if not known.any():
        return None
    inputs = OutlookInputs(
        site=garden.site, trees=(tree,), covers=garden.covers, forecast=None, past=None, records=Records(deeds=deeds),
        offsets={tree.name: air.offset},
    )  # fmt: skip
    stood = exposure(inputs, lines_through(past), inputs.trees)
    moves = cover_moves(
        stood.covers[0],
        stood.states[0],
        stood.weathers[0],
        soil=inputs.soil,
        outside_sd_c=air.prior.sd_c(1.0) if readings else air.sd_c(1.0),
    )
    readings = [one for one in readings if one.place is Place.INSIDE or air.readings]
    rest_on_known = [
        one for one in readings if known[max(0, (at := moves.index_of(one.at_utc)) - HOURS_TOLD) : at + 1].all()
    ]
    if not rest_on_known:
        return Inside(learned=unread_cover(moves.outside_sd_c), moves=moves)
    air_sd_c = air.sd_c(1.0) if air.readings else None
    learned = learn_cover(rest_on_known, tree.name, moves, deeds, garden.site.zone, air_sd_c=air_sd_c)
    return Inside(learned=learned, moves=moves)
