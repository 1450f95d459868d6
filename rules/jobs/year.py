"""The year of jobs: from midsummer to midsummer, so that one winter lies in one year; mirrored in the south."""

import calendar
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Self

from rules.jobs.nouns import Basis, JobReason, Window

MonthDay = tuple[int, int]


@dataclass(frozen=True, kw_only=True)
class JobYear:
    """One year of jobs, known by its first day: 1 July, in the south 1 January.

    >>> JobYear.of(date(2027, 5, 3), 45.0).on(10, 15)
    datetime.date(2026, 10, 15)
    >>> JobYear.of(date(2027, 5, 3), -45.0).on(10, 15)
    datetime.date(2027, 4, 15)
    """

    start: date

    @classmethod
    def of(cls, day: date, latitude_deg: float) -> Self:
        """The year a day lies in."""
        if latitude_deg < 0:
            return cls(start=date(day.year, 1, 1))
        return cls(start=date(day.year if day.month >= 7 else day.year - 1, 7, 1))

    @property
    def last(self) -> date:
        """Its last day."""
        return self.start.replace(year=self.start.year + 1) - timedelta(days=1)

    def on(self, month: int, day: int) -> date:
        """The day of this year that answers to a northern month and day."""
        return self._at((month - 7 + self.start.month - 1) % 12 + 1, day)

    def same_day(self, day: date) -> date:
        """The day of this year with the month and day of a date of any year."""
        return self._at(day.month, day.day)

    def months(self, *northern: int) -> list[tuple[date, date]]:
        """First and last day of each of these northern months."""
        firsts = [self.on(month, 1) for month in northern]
        return [(first, first.replace(day=_days_in(first.year, first.month))) for first in firsts]

    def _at(self, month: int, day: int) -> date:
        year = self.start.year + (1 if month < self.start.month else 0)
        return date(year, month, min(day, _days_in(year, month)))


def _days_in(year: int, month: int) -> int:
    return calendar.monthrange(year, month)[1]


@dataclass(frozen=True, kw_only=True)
class TurnDates:
    """A turn of the frost year at one tree: the day one year in ten goes beyond, the day half of years do.

    In autumn `safe` lies before `half`, in spring after it.
    """

    safe: date
    half: date
    basis: Basis

    def window(self, first: int, last: int, reason: JobReason, amount: float | None = None) -> Window:
        """A window of days counted from the middle day; negative is before it."""
        return Window(
            from_day=self.half + timedelta(days=first),
            by_day=self.half + timedelta(days=last),
            reason=reason,
            basis=self.basis,
            amount=amount,
        )
