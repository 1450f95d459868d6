"""What the plan weighs against each other, all in trips to the garden."""

from dataclasses import dataclass, fields
from typing import Final


@dataclass(frozen=True, kw_only=True)
class PlanPrices:
    """What each thing costs or is worth [trips]; none has a source, all are first guesses a grower may change.

    Parameters
    ----------
    visit
        One walk to the garden, shared by the trees tended in it.
    minutes_per_trip
        Minutes of work that weigh as much as one more walk.
    least_gain
        What opening a shut cover must save, beyond its price, before it is asked for: the plan must not flutter, and
        the forecast of tomorrow knows more. Shutting needs none: where it must be shut sooner or later, a margin lets
        each night's risk below it pass, all winter through.
    rot_per_day
        A day shut in full leaf at 10 °C inside: leaves rot and mould comes; under an open top by their share of the
        dark. Without leaves it costs nothing.
    mould_per_day
        A day shut at 10 °C inside where the grower saw mould under this cover, leaves or none.
    pale_per_day
        A day in the dark once buds have broken: shoots without light are pale and weak; 0.05 to 1.
    shoots
        What the new shoots of a tree in leaf are worth: they grow again, and cost weeks; 1 to 15.

    Raises
    ------
    ValueError
        A price below 0, or no minutes in a trip.
    """

    visit: float = 1.0
    minutes_per_trip: float = 20.0
    least_gain: float = 0.15
    rot_per_day: float = 0.1
    mould_per_day: float = 0.05
    pale_per_day: float = 0.3
    shoots: float = 3.0

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            if not value >= 0:
                raise ValueError(f"{field.name} is {value:g} trips, it must be 0 or more")
        if self.minutes_per_trip == 0:
            raise ValueError("minutes_per_trip is 0, it must be above 0")

    def of_work(self, minutes: float) -> float:
        """Price of this many minutes of work [trips].

        >>> PlanPrices().of_work(10.0)
        0.5
        """
        return minutes / self.minutes_per_trip


ASSUMED: Final = PlanPrices()
