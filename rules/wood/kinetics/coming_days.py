"""What the coming days begin from: wood as its season left it, to be marched on under whatever is done to a cover."""

from dataclasses import dataclass

from rules.wood.course import WoodCourse
from rules.wood.kinetics.day_by_day import LaneRates, WoodLanes
from rules.wood.season_drivers import hardening_rates


@dataclass(frozen=True, kw_only=True, eq=False)
class ComingDays:
    """The season's course so far, how ready its wood is to wake, and what that gains a day."""

    wood: WoodCourse
    ready: float
    ready_per_day: float

    def lanes(self, count: int) -> WoodLanes:
        """The wood of today, so many times over, to be marched on as one likes."""
        row = self.wood.row
        rates = LaneRates(
            rates=hardening_rates([row]), frost_gain=row.kinetics.frost_gain, evergreen=row.kinetics.evergreen
        )
        return WoodLanes.at_end(rates, self.wood.course, float(self.wood.leaves[-1]), count)


def coming_days(wood: WoodCourse) -> ComingDays:
    """What follows a season's course; its last week says how fast readiness grows."""
    ready = wood.course.readiness[:, 0]
    week = ready[-8:]
    gained = float(week[-1] - week[0]) / max(1, len(week) - 1)
    return ComingDays(wood=wood, ready=float(ready[-1]), ready_per_day=gained)
