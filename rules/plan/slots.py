"""The times at which somebody can go to the garden: a morning and an evening slot on each day, by daylight."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from rules.garden.tree import Site
from rules.plan.grower.free_hours import ANY_TIME, FreeHours
from rules.site.microclimate import TreeWeather
from rules.site.sun import Daylight, sun_day

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

DAWN_REST: Final = timedelta(hours=1)  # nobody is sent out at first light; assumed
DUSK_REST: Final = timedelta(minutes=20)  # back before it is dark; assumed
NOON_REST: Final = timedelta(hours=1)  # a morning lasts until an hour after the sun's noon; assumed
POLAR_DAY_HALF: Final = timedelta(hours=8)  # where the sun does not set, people still sleep; assumed
HOUR: Final = timedelta(hours=1)
NO_FILM_GUST_M_S: Final = 10.0  # no work with film or ladders from here on; assumed, no published figure


class DayPart(StrEnum):
    """The two slots of a day."""

    MORNING = "morning"
    EVENING = "evening"


@dataclass(frozen=True, kw_only=True)
class Slot:
    """A time at which covers can be tended.

    Parameters
    ----------
    day, part
        Local date and part of the day.
    light_utc
        When work may begin that day: an hour after sunrise, or now; after the last gust.
    from_utc, by_utc
        The part of the day itself; all must be done by `by_utc`.
    mark
        Index of the hour from which the new state counts.
    calm
        Whether there is an hour without gusts in it.
    hands
        How many people are free then; 0 where nobody is.
    """

    day: date
    part: DayPart
    light_utc: datetime
    from_utc: datetime
    by_utc: datetime
    mark: int
    calm: bool
    hands: int = 1

    @property
    def room_minutes(self) -> float:
        """Working time there is [min]; none in gusts. An evening's job may begin any time in that day's light."""
        begins = self.light_utc if self.part == DayPart.EVENING else self.from_utc
        return self.hands * max(0.0, (self.by_utc - begins) / timedelta(minutes=1)) if self.calm else 0.0

    def in_free_hours(self, free: FreeHours, zone: ZoneInfo) -> "Slot":
        """The same slot within somebody's free hours; nobody's where they do not meet.

        Whoever is free only after dark works by lamp: an evening's slot moves there.
        """
        hours = free.on(self.day)
        if hours is None:
            return replace(self, hands=0)
        midnight = datetime.combine(self.day, time(), zone)
        begins, ends = ((midnight + timedelta(hours=h)).astimezone(UTC) for h in hours)
        if self.part is DayPart.EVENING and begins >= self.by_utc:
            return replace(self, light_utc=begins, from_utc=begins, by_utc=ends, hands=free.hands)
        light, first, by = max(self.light_utc, begins), max(self.from_utc, begins), min(self.by_utc, ends)
        met = by > (light if self.part is DayPart.EVENING else first)
        return (
            replace(self, light_utc=light, from_utc=min(first, by), by_utc=by, hands=free.hands)
            if met
            else replace(self, hands=0)
        )


def slots_ahead(
    weathers: Sequence[TreeWeather],
    site: Site,
    now: datetime,
    no_film_gust_m_s: float = NO_FILM_GUST_M_S,
    free: FreeHours = ANY_TIME,
) -> tuple[Slot, ...]:
    """The slots from now to the end of the forecast; none in a polar night, at its very end, or without trees.

    Parameters
    ----------
    weathers
        At the trees to be tended; (members, hours), of equal hours.
    now
        Aware.
    no_film_gust_m_s
        Gust from which no work at covers is asked for [m/s]; assumed, no published figure.
    free
        When somebody can work.

    Raises
    ------
    ValueError
        Naive `now`, or weather that does not begin at it.
    """
    if now.tzinfo is None:
        raise ValueError(f"now must be aware, got {now}")
    if not weathers:
        return ()
    first = weathers[0]
    for one in weathers:
        if one.start_utc != first.start_utc or one.air_c.ndim != 2:
            raise ValueError(f"weather at each tree must be (members, hours) from {first.start_utc} on")
    if not timedelta(0) <= now - first.start_utc < timedelta(hours=1):
        raise ValueError(f"weather begins at {first.start_utc}, it must begin within the hour before {now}")
    gust_m_s = np.ravel(first.gust_m_s)[-first.air_c.shape[-1] :]
    light = slots(site, first.start_utc, gust_m_s, now, no_film_gust_m_s)
    return light if free == ANY_TIME else tuple(slot.in_free_hours(free, site.zone) for slot in light)


def slots(
    site: Site, start_utc: datetime, gust_m_s: Floats, now: datetime, no_work_gust_m_s: float
) -> tuple[Slot, ...]:
    """The slots from `now` to the end of the hours, in time order.

    Parameters
    ----------
    site
        For the sun and the local day.
    start_utc, gust_m_s
        Hour marks, with the gust of the hour before each [m/s]; NaN, unknown, counts as calm.
    now
        Aware; slots that are over are left out.
    no_work_gust_m_s
        Gust from which no work is asked for [m/s].
    """
    hours = len(gust_m_s)
    calm = ~(gust_m_s >= no_work_gust_m_s)
    first, last = (t.astimezone(site.zone).date() for t in (now, start_utc + HOUR * hours))
    found = []
    for ahead in range((last - first).days + 1):
        day = first + timedelta(days=ahead)
        for part, (begins, ends) in _parts(day, site).items():
            slot = _slot(day, part, (max(begins[0], now), max(begins[1], now), ends), start_utc, calm)
            if slot:
                found.append(slot)
    return _apart(found)


def marks_of(times: Sequence[Slot], hours: int) -> list[int]:
    """Hour marks of the slots, and the last one of the weather."""
    return [*(slot.mark for slot in times), hours - 1]


def longest_wait_h(times: Sequence[Slot], hours: int) -> int:
    """The longest time a cover is left as it stands [h]."""
    return int(np.diff(marks_of(times, hours), prepend=0).max())


def _apart(found: Sequence[Slot]) -> tuple[Slot, ...]:
    """Slots with rising marks: of two at one hour the later one stays."""
    kept: list[Slot] = []
    for slot in found:
        if kept and kept[-1].mark >= slot.mark:
            kept.pop()
        kept.append(slot)
    return tuple(kept)


def _parts(day: date, site: Site) -> dict[DayPart, tuple[tuple[datetime, datetime], datetime]]:
    """(light, begin), end of each part; nothing where the sun does not rise."""
    sun = sun_day(day, site)
    if sun.daylight == Daylight.POLAR_NIGHT:
        return {}
    light = (sun.sunrise_utc or sun.noon_utc - POLAR_DAY_HALF) + DAWN_REST
    dusk = (sun.sunset_utc or sun.noon_utc + POLAR_DAY_HALF) - DUSK_REST
    turn = min(sun.noon_utc + NOON_REST, dusk)
    return {
        DayPart.MORNING: ((min(light, turn), min(light, turn)), turn),
        DayPart.EVENING: ((min(light, turn), turn), dusk),
    }


def _slot(
    day: date,
    part: DayPart,
    times: tuple[datetime, datetime, datetime],
    start_utc: datetime,
    calm: npt.NDArray[np.bool_],
) -> Slot | None:
    """A slot at the first calm hour of a morning or the last of an evening; None where it is over or has no hour."""
    light, begins, ends = times
    first = max(0, int(-((start_utc - begins) // HOUR)) if begins > start_utc else 0)
    first += start_utc + HOUR * first < begins
    last = min(int((ends - start_utc) // HOUR), len(calm) - 2)
    if begins >= ends or last < first:
        return None
    marks = np.arange(first, last + 1)
    still = marks[calm[marks]]
    if not len(still):
        return Slot(day=day, part=part, light_utc=light, from_utc=begins, by_utc=ends, mark=last, calm=False)
    mark = int(still[0] if part == DayPart.MORNING else still[-1])
    before, after = _calm_about(calm, mark)
    window = (max(t, start_utc + HOUR * before) for t in (light, begins))
    light, begins = window
    by = min(ends, start_utc + HOUR * after)
    return Slot(day=day, part=part, light_utc=light, from_utc=begins, by_utc=by, mark=mark, calm=True)


def _calm_about(calm: Flags, mark: int) -> tuple[int, int]:
    """First and last hour of the calm stretch about `mark`; a gust belongs to the hour before its mark."""
    gusty = np.flatnonzero(~calm)
    before, after = gusty[gusty < mark], gusty[gusty > mark]
    return (int(before[-1]) if len(before) else 0, int(after[0]) - 1 if len(after) else len(calm))
