"""What thermometers taught of each tree's air: reckoned once for each new reading or forecast, kept by the watch."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Final

from bot.logbook import Connection, past_weather, read_readings, readings_mark
from bot.settings import Garden
from rules.history import joined_weather, until
from rules.learning import Forgotten, LearnedOffset, ThresholdAnswer, forgotten_since, learned_offsets, remembered
from rules.records import Place, Reading
from rules.tree import Tree
from rules.weather import Forecast, HourlyWeather

LOOKS_BACK: Final = timedelta(days=500)  # two winters; older readings are of another service's field. Assumed
NIGHT_ENDS: Final = timedelta(hours=6)  # so far ahead the forecast tells the rest of a night whose low is told already
Words = Sequence[Forgotten | ThresholdAnswer]


class Learner:
    """What was learned of one garden, kept until readings, what is forgotten, trees or forecast change."""

    def __init__(self) -> None:
        self._taught: object = None
        self._found: Mapping[str, LearnedOffset] = {}

    def offsets(
        self,
        c: Connection,
        garden: Garden,
        weather_of: str,
        words: Words,
        forecast: tuple[int | None, Forecast | None],
        now: datetime,
    ) -> Mapping[str, LearnedOffset]:
        """As `offsets_of`, of all trees; `words` are what was said of the learning, `forecast` has its number."""
        forgotten = forgotten_since(words)
        taught = readings_mark(c, garden.name), forgotten, garden.trees, forecast[0]
        if taught != self._taught:
            readings = counting_readings(c, garden, forgotten, now)
            self._found = offsets_of(c, garden.trees, garden, weather_of, readings, forecast[1], now)
            self._taught = taught
        return self._found


def counting_readings(
    c: Connection, garden: Garden, forgotten: Mapping[str, datetime], now: datetime, tree: str | None = None
) -> tuple[Reading, ...]:
    """The readings that teach: of two winters, without what was forgotten; of one tree where it is named."""
    return remembered(read_readings(c, garden.name, now - LOOKS_BACK, tree), forgotten)


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
