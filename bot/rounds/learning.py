"""What thermometers taught of each tree's air: reckoned once for each new reading or forecast, kept by the watch."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Final

from bot.logbook import Connection, past_weather
from bot.settings import Garden
from rules.history import joined_weather, until
from rules.learning import LearnedOffset, learned_offsets, remembered
from rules.records import Place, Reading
from rules.tree import Tree
from rules.weather import Forecast, HourlyWeather

LOOKS_BACK: Final = timedelta(days=500)  # two winters; older readings are of another service's field. Assumed
NIGHT_ENDS: Final = timedelta(hours=6)  # so far ahead the forecast tells the rest of a night whose low is told already
Taught = tuple[tuple[Reading, ...], tuple[Tree, ...], int | None]


class Learner:
    """What was learned of one garden, kept until readings, trees or forecast change."""

    def __init__(self) -> None:
        self._taught: Taught | None = None
        self._found: Mapping[str, LearnedOffset] = {}

    def offsets(
        self,
        c: Connection,
        garden: Garden,
        weather_of: str,
        readings: Sequence[Reading],
        forecast: Forecast | None,
        forecast_id: int | None,
        now: datetime,
    ) -> Mapping[str, LearnedOffset]:
        """As `offsets_of`, of all trees."""
        taught = tuple(readings), garden.trees, forecast_id
        if taught != self._taught:
            self._found = offsets_of(c, garden.trees, garden, weather_of, readings, forecast, now)
            self._taught = taught
        return self._found


def offsets_of(
    c: Connection,
    trees: Sequence[Tree],
    garden: Garden,
    weather_of: str,
    readings: Sequence[Reading],
    forecast: Forecast | None,
    now: datetime,
) -> Mapping[str, LearnedOffset]:
    """What readings of their air taught of some trees; those without one are left out.

    `readings` are those that count: what was forgotten is not among them.
    """
    names = {one.tree for one in readings if one.place is Place.AIR}
    read = [tree for tree in trees if tree.name in names]
    past = told_field(c, weather_of, readings, forecast, now) if read else None
    return learned_offsets(read, readings, past, garden.site) if past is not None else {}


def told_field(
    c: Connection, weather_of: str, readings: Sequence[Reading], forecast: Forecast | None, now: datetime
) -> HourlyWeather | None:
    """The open field as it was told, from two days before the first reading to the end of the present night."""
    first = min(one.at_utc for one in readings) - timedelta(days=2)
    past = past_weather(c, weather_of, max(first, now - LOOKS_BACK))
    gone = until(past, now) if past is not None else None
    whole = joined_weather(forecast.weather, gone) if forecast and gone else forecast.weather if forecast else gone
    return until(whole, now + NIGHT_ENDS) if whole is not None else None


def counting(readings: Sequence[Reading], forgotten: Mapping[str, datetime], now: datetime) -> tuple[Reading, ...]:
    """The readings that teach: of two winters, without what was forgotten."""
    recent = [one for one in readings if one.at_utc >= now - LOOKS_BACK]
    return remembered(recent, forgotten)
