"""Chance of a freeze later in spring, or earlier in autumn, than a date, from past winters.

The published method (Koss, Owenby, Steurer & Ezell 1988; Thom & Shaw 1958, from memory): the dates of the seasons that
had such a freeze are normal, and a share q of seasons has one at all, so P(later than d) = q (1 - F(d)). The plain
share of past seasons stands beside it, for sites where the dates are not normal.
"""

from dataclasses import dataclass
from datetime import date
from statistics import NormalDist
from typing import Final, Self

import numpy as np

from rules.garden.doubt import Doubt, DoubtKind
from rules.weather.daily_minima import DailyMinima
from rules.weather.freeze_seasons import (
    ENOUGH_WINTERS,
    LEAST_WINTERS,
    FreezeDays,
    WhichFreeze,
    date_of,
    day_of_year,
    freeze_days,
    freeze_year,
)

LEAST_FREEZES: Final = 5  # fewer dates carry no normal; assumed, no source
LEAST_SD_DAYS: Final = 0.5  # dates are whole days


@dataclass(frozen=True, kw_only=True, eq=False)
class FreezeLaw:
    """How the freeze dates of one threshold are spread.

    Parameters
    ----------
    which, threshold_c
        Last in spring or first in autumn, of nights at or below this [°C].
    share
        Share of seasons that have such a night at all, q.
    mean_day, sd_day
        Mean and sd of the day of the year among those seasons [days].
    past
        The seasons it was taken from; None where only two dates of a table are known.
    """

    which: WhichFreeze
    threshold_c: float
    share: float
    mean_day: float
    sd_day: float
    past: FreezeDays | None = None

    @classmethod
    def from_days(cls, days: FreezeDays) -> Self | None:
        """The law of past seasons; None with fewer than 10 usable seasons or 1 to 4 freezes among them."""
        frozen = days.day_of_year[~np.isnan(days.day_of_year)]
        if len(days.years) < LEAST_WINTERS or 0 < len(frozen) < LEAST_FREEZES:
            return None
        mean, sd = (float(frozen.mean()), float(frozen.std(ddof=1))) if frozen.size else (0.0, 0.0)
        return cls(
            which=days.which,
            threshold_c=days.threshold_c,
            share=len(frozen) / len(days.years),
            mean_day=mean,
            sd_day=max(sd, LEAST_SD_DAYS),
            past=days,
        )

    def chance(self, day: float) -> float:
        """Chance of such a night later than the day in spring, earlier than the day in autumn [0-1]."""
        if not self.share:
            return 0.0
        before = NormalDist(self.mean_day, self.sd_day).cdf(day)
        return self.share * (1.0 - before if self.which is WhichFreeze.LAST_IN_SPRING else before)

    def day_at(self, chance: float) -> float | None:
        """Day of the year that leaves this chance; None where fewer seasons than that freeze at all.

        Raises
        ------
        ValueError
            A chance that is not between 0 and 1.
        """
        _refuse_chance(chance)
        if chance >= self.share:
            return None
        beyond = NormalDist(self.mean_day, self.sd_day).inv_cdf
        return beyond(1.0 - chance / self.share if self.which is WhichFreeze.LAST_IN_SPRING else chance / self.share)

    def chance_seen(self, day: float) -> float | None:
        """Plain share of past seasons with such a night beyond the day; None without past seasons."""
        if self.past is None:
            return None
        days = self.past.day_of_year
        return float(np.mean(days > day if self.which is WhichFreeze.LAST_IN_SPRING else days < day))


def _refuse_chance(chance: float) -> None:
    if not 0 < chance < 1:
        raise ValueError(f"chance must lie between 0 and 1, got {chance:g}")


def freeze_law(
    past: DailyMinima | None, threshold_c: float, which: WhichFreeze, latitude_deg: float, *, offset_c: float = 0.0
) -> tuple[FreezeLaw | None, tuple[Doubt, ...]]:
    """The spread of freeze dates at one tree, or None with a doubt where the past does not tell.

    Parameters
    ----------
    past
        Daily minima of the open field; None where nothing is known.
    threshold_c
        Threshold at the tree [°C].
    which
        Last in spring or first in autumn.
    latitude_deg
        Which half of the earth.
    offset_c
        How much warmer the tree's nights are than the open field's [°C].
    """
    if past is None:
        return None, (Doubt(kind=DoubtKind.NO_PAST_WINTERS),)
    days = freeze_days(past, threshold_c, which, latitude_deg, offset_c=offset_c)
    law = FreezeLaw.from_days(days)
    winters = len(days.years)
    if law is None:
        return None, (Doubt(kind=DoubtKind.NO_PAST_WINTERS, amount=float(winters)), *past.doubts)
    if winters < ENOUGH_WINTERS:
        return law, (Doubt(kind=DoubtKind.FEW_PAST_WINTERS, amount=float(winters)), *past.doubts)
    return law, past.doubts


def freeze_chance_later(
    past: DailyMinima | None, threshold_c: float, on: date, latitude_deg: float, *, offset_c: float = 0.0
) -> tuple[float | None, tuple[Doubt, ...]]:
    """Chance that a night at or below the threshold still comes after the date this spring [0-1].

    Parameters as `freeze_law`.
    """
    return _chance(past, threshold_c, on, WhichFreeze.LAST_IN_SPRING, latitude_deg, offset_c)


def _chance(
    past: DailyMinima | None, threshold_c: float, on: date, which: WhichFreeze, latitude_deg: float, offset_c: float
) -> tuple[float | None, tuple[Doubt, ...]]:
    law, doubts = freeze_law(past, threshold_c, which, latitude_deg, offset_c=offset_c)
    day = day_of_year(on, freeze_year(on, which, latitude_deg))
    return (None if law is None else law.chance(day)), doubts


@dataclass(frozen=True, kw_only=True)
class FreezeDates:
    """What a grower asks of past winters: "last -2 °C: half of years by 26 April, one in ten after 11 May".

    Parameters
    ----------
    which, threshold_c
        Last in spring or first in autumn, of nights at or below this [°C] at the tree.
    safe
        Nine years in ten have passed it in spring, or not met it in autumn: one in ten is beyond; None where fewer
        than that freeze at all, or nothing is known.
    half
        Half of years; None likewise.
    bold
        Nine in ten are beyond; None likewise.
    share
        Share of seasons with such a night at all; None where nothing is known.
    winters
        How many past seasons it rests on.
    doubts
        Why it may be wrong.
    """

    which: WhichFreeze
    threshold_c: float
    safe: date | None
    half: date | None
    bold: date | None
    share: float | None
    winters: int
    doubts: tuple[Doubt, ...]


def freeze_dates(
    past: DailyMinima | None,
    threshold_c: float,
    which: WhichFreeze,
    year: int,
    latitude_deg: float,
    *,
    offset_c: float = 0.0,
) -> FreezeDates:
    """The three dates of one threshold in `year`, with what they rest on; parameters as `freeze_law`."""
    law, doubts = freeze_law(past, threshold_c, which, latitude_deg, offset_c=offset_c)
    days = [None if law is None else law.day_at(chance) for chance in (0.1, 0.5, 0.9)]
    safe, half, bold = (None if day is None else date_of(day, year) for day in days)
    return FreezeDates(
        which=which,
        threshold_c=threshold_c,
        safe=safe,
        half=half,
        bold=bold,
        share=None if law is None else law.share,
        winters=0 if law is None or law.past is None else len(law.past.years),
        doubts=doubts,
    )
