"""When the grower can work in the garden: hours by weekday, and by how many hands."""

from datetime import date
from typing import Annotated, Final

from pydantic import AfterValidator, Field

from rules.garden.tree import Noun

DAYS: Final = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
ALL_DAY: Final = "all day"
WHOLE_DAY_H: Final = 24.0


def hours_of(text: str) -> tuple[float, float]:
    """First and last hour of the day that a text like "18:00-20:30", "18:00-" or "all day" means.

    Raises
    ------
    ValueError
        It is none of these, or ends before it begins.

    >>> hours_of("18:00-20:30"), hours_of("9-12"), hours_of("18:00-"), hours_of("all day")
    ((18.0, 20.5), (9.0, 12.0), (18.0, 24.0), (0.0, 24.0))
    """
    if text.strip().casefold() == ALL_DAY:
        return 0.0, WHOLE_DAY_H
    first, dash, last = text.partition("-")
    try:
        begins, ends = _hour(first), _hour(last) if last.strip() else WHOLE_DAY_H
    except ValueError:
        dash = ""
    if not dash or not 0.0 <= begins < ends <= WHOLE_DAY_H:
        raise ValueError(f'must be hours like "18:00-20:30", "18:00-" or "all day", got {text!r}')
    return begins, ends


def _hour(text: str) -> float:
    hour, _, minute = text.strip().partition(":")
    return int(hour) + int(minute or 0) / 60.0


def _readable(text: str) -> str:
    hours_of(text)
    return text


Hours = Annotated[str, AfterValidator(_readable)]


class FreeHours(Noun):
    """Free hours of each weekday on the grower's own clock; a day left out is none. `hands` is how many help.

    >>> FreeHours(saturday="all day").on(date(2026, 11, 28)), FreeHours(saturday="all day").on(date(2026, 11, 29))
    ((0.0, 24.0), None)
    """

    monday: Hours | None = None
    tuesday: Hours | None = None
    wednesday: Hours | None = None
    thursday: Hours | None = None
    friday: Hours | None = None
    saturday: Hours | None = None
    sunday: Hours | None = None
    hands: Annotated[int, Field(ge=1, le=20)] = 1

    def on(self, day: date) -> tuple[float, float] | None:
        """First and last free hour of a day; None where there is none."""
        text = getattr(self, DAYS[day.weekday()])
        return None if text is None else hours_of(text)

    def minutes(self) -> tuple[float, ...]:
        """Free minutes of each weekday from Monday on, of all hands together."""
        each = (getattr(self, name) for name in DAYS)
        spans = (hours_of(text) if text else (0.0, 0.0) for text in each)
        return tuple(60.0 * (ends - begins) * self.hands for begins, ends in spans)


ANY_TIME: Final = FreeHours(**dict.fromkeys(DAYS, ALL_DAY))
