"""How a cover stands today: what of it is on, its top, what wind, wet and snow did to it, and since when."""

from collections.abc import Sequence
from datetime import datetime
from enum import StrEnum
from typing import Final, Self

from pydantic import AwareDatetime, model_validator

from rules.garden.tree import Noun


class Layer(StrEnum):
    """A part of a cover that can be on or off by itself; `film` is all of the film, also where there are two."""

    FILL = "fill"
    BLANKET = "blanket"
    FILM = "film"
    BOARDS = "boards"


class Top(StrEnum):
    """What is over the top: folded open, shut, gone (the wind has it), or none because it was built without one."""

    OPEN = "open"
    SHUT = "shut"
    GONE = "gone"
    NONE = "none"


# (lowest, highest) in the unit of the name; assumed, no source: a snow bank is thrown up with a shovel.
CONDITION_BOUNDS: Final[dict[str, tuple[float, float]]] = {
    "sunk_to_m": (0.0, 6.0),
    "snow_on_m": (0.0, 2.0),
    "snow_round_m": (0.0, 3.0),
}


class CoverCondition(Noun):
    """The condition of one cover, as its grower or the weather service told it.

    `off` are layers that it is built of and that are not on today: straw in, film tomorrow. `top` is told by the deeds
    of every day (vented, closed) unless it is gone. `torn` is the film, which then stops no wind; `wet` the fill,
    soaked through. `sunk_to_m` is how high the fill stands now [m]; None as high as it was built. `snow_on_m` lies on
    the top, `snow_round_m` is how high snow stands against the sides [m]. `since_utc` is when all this began; None from
    the start.

    Raises
    ------
    ValueError
        A height or depth out of its bounds.

    >>> CoverCondition(off={"film"}).off
    frozenset({<Layer.FILM: 'film'>})
    """

    off: frozenset[Layer] = frozenset()
    top: Top = Top.SHUT
    torn: bool = False
    wet: bool = False
    sunk_to_m: float | None = None
    snow_on_m: float = 0.0
    snow_round_m: float = 0.0
    since_utc: AwareDatetime | None = None

    @model_validator(mode="after")
    def _refuse_what_cannot_be(self) -> Self:
        for name, (low, high) in CONDITION_BOUNDS.items():
            value = getattr(self, name)
            if value is not None and not low <= value <= high:
                raise ValueError(f"{name} of a cover's condition is {value:g} m, it must be {low:g} to {high:g} m")
        return self


AS_BUILT: Final = CoverCondition()


def condition_at(told: Sequence[CoverCondition], moment: datetime) -> CoverCondition:
    """The last condition told up to a moment, oldest first; as built before the first.

    >>> from datetime import UTC
    >>> torn = CoverCondition(torn=True, since_utc=datetime(2026, 1, 5, tzinfo=UTC))
    >>> condition_at([torn], datetime(2026, 1, 4, tzinfo=UTC)) == AS_BUILT
    True
    """
    begun = [one for one in told if one.since_utc is None or one.since_utc <= moment]
    return begun[-1] if begun else AS_BUILT
