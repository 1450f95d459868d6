"""What thermometers taught of a garden: reckoned once for each new reading, forecast or day, kept by the watch."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, time
from typing import TypeVar, cast

from bot.logbook import Connection, read_readings, readings_mark
from bot.rounds.learning.forecast_error import learn_service, learn_together
from bot.rounds.learning.inside import learn_inside, readings_inside
from bot.rounds.learning.recorded_weather import LOOKS_BACK, recorded_weather
from bot.settings import Garden
from rules.garden.records import Deed, Place, Reading
from rules.garden.tree import Tree
from rules.learning import (
    Forgotten,
    LearnedCover,
    LearnedOffset,
    LearnedServices,
    Sky,
    ThresholdAnswer,
    forgotten_since,
    learn_site,
    learned_offsets,
    lows_of,
    remembered,
)
from rules.site.microclimate import PRIORS
from rules.weather.hourly import Forecast

Words = Sequence[Forgotten | ThresholdAnswer]
T = TypeVar("T")


@dataclass(frozen=True, kw_only=True, eq=False)
class Learned:
    """What was learned of one garden: the air at each tree with a thermometer, the covers with one, the services."""

    air: Mapping[str, LearnedOffset]
    inside: Mapping[str, LearnedCover]
    services: LearnedServices


class Learner:
    """What was learned of one garden, kept until readings, what is forgotten, trees, deeds or forecast change."""

    def __init__(self) -> None:
        self._kept: dict[str, tuple[object, object]] = {}

    def learned(
        self,
        c: Connection,
        garden: Garden,
        weather_of: str,
        words: Words,
        deeds: Sequence[Deed],
        forecast: tuple[int | None, Forecast | None],
        now: datetime,
    ) -> Learned:
        """All of it; `words` are what was said of the learning, `forecast` has its number.

        The air is reckoned anew when there is another reading, covers and service when there is another one inside, or
        another night's low, and all of it once a day; not with each forecast, nor do covers with each hour that a
        sensor tells: what is past hardly changes.
        """
        zone, today = garden.site.zone, now.astimezone(garden.site.zone).date()
        since = datetime.combine(today, time(), zone) - LOOKS_BACK
        forgotten, named = (
            forgotten_since(words),
            (forecast[1].service if forecast[1] else "", garden.services_together),
        )
        mark = readings_mark(c, garden.name, since), forgotten, garden.trees
        readings = self._unless(mark, "readings", lambda: counting_readings(c, garden, forgotten, now))
        air = self._unless(
            (today, mark, named[0]),
            "air",
            lambda: offsets_of(garden.trees, readings, sky_over(c, garden, weather_of, readings, forecast[1], now)),
        )
        read = self._unless(
            mark, "read", lambda: {tree.name: readings_inside(readings, tree.name, zone) for tree in garden.trees}
        )
        lows = self._unless(mark, "lows", lambda: _lows(garden, readings))
        return Learned(
            air=air,
            inside=self._unless(
                (today, garden.trees, tuple(garden.covers.items()), tuple(deeds), read),
                "inside",
                lambda: insides_of(c, garden, weather_of, read, deeds, air, forecast[1], now),
            ),
            services=self._unless(
                (today, garden.trees, named, lows),
                "services",
                lambda: services_of(c, garden, weather_of, lows, air, forecast[1], now),
            ),
        )

    def _unless(self, rests_on: object, name: str, reckon: Callable[[], T]) -> T:
        """What was reckoned last under this name, or anew where it rested on something else."""
        if name not in self._kept or self._kept[name][0] != rests_on:
            self._kept[name] = rests_on, reckon()
        return cast(T, self._kept[name][1])


def counting_readings(
    c: Connection, garden: Garden, forgotten: Mapping[str, datetime], now: datetime, tree: str | None = None
) -> tuple[Reading, ...]:
    """The readings that teach: of two winters, without what was forgotten; of one tree where it is named."""
    return remembered(read_readings(c, garden.name, now - LOOKS_BACK, tree), forgotten)


def sky_over(
    c: Connection, garden: Garden, weather_of: str, readings: Sequence[Reading], forecast: Forecast | None,
    now: datetime,
) -> Sky | None:  # fmt: skip
    """The field over the readings of the air among some; None without any, or where nothing is known of it."""
    read = any(one.place is Place.AIR for one in readings)
    past = recorded_weather(c, weather_of, readings[0].at_utc, forecast, now) if read else None
    return Sky(past, garden.site) if past is not None else None


def offsets_of(trees: Sequence[Tree], readings: Sequence[Reading], sky: Sky | None) -> Mapping[str, LearnedOffset]:
    """What readings of their air taught of some trees; those without one are left out.

    `readings` are those that count: what was forgotten is not among them.
    """
    names = {one.tree for one in readings if one.place is Place.AIR}
    return learned_offsets([tree for tree in trees if tree.name in names], readings, sky) if sky else {}


def _lows(garden: Garden, readings: Sequence[Reading]) -> tuple[Reading, ...]:
    """The lows of the air at every tree, oldest first."""
    zone = garden.site.zone
    by_tree = ([one for one in readings if one.tree == tree.name and one.place is Place.AIR] for tree in garden.trees)
    return tuple(sorted((low for own in by_tree for low in lows_of(own, zone)), key=lambda one: one.at_utc))


def insides_of(
    c: Connection,
    garden: Garden,
    weather_of: str,
    read: Mapping[str, Sequence[Reading]],
    deeds: Sequence[Deed],
    air: Mapping[str, LearnedOffset],
    forecast: Forecast | None,
    now: datetime,
) -> Mapping[str, LearnedCover]:
    """What readings inside taught of the covers; trees without one are left out. `read` is of `readings_inside`."""
    found = {}
    for tree in garden.trees:
        own = read[tree.name]
        offset = air.get(tree.name) or learn_site([], PRIORS[tree.standing])
        inside = learn_inside(c, garden, weather_of, tree, own, deeds, offset, forecast, now) if own else None
        if inside is not None and inside.learned.readings:
            found[tree.name] = inside.learned
    return found


def services_of(
    c: Connection,
    garden: Garden,
    weather_of: str,
    lows: Sequence[Reading],
    air: Mapping[str, LearnedOffset],
    forecast: Forecast | None,
    now: datetime,
) -> LearnedServices:
    """How far the services are off at this garden: that of the present forecast, or all that are heard together."""
    if garden.services_together:
        return learn_together(c, garden.site, weather_of, lows, air, forecast, now)
    past = recorded_weather(c, weather_of, lows[0].at_utc, forecast, now) if lows else None
    if past is None or forecast is None:
        return LearnedServices(by_name={})
    return LearnedServices(
        by_name={forecast.service: learn_service(c, garden.site, weather_of, forecast.service, lows, air, past)}
    )
