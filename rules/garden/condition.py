"""How a cover stands today: what of it is on, its top, what wind, wet and snow did to it, and since when."""

from collections.abc import Sequence
from dataclasses import dataclass
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


class ConditionKind(StrEnum):
    """What a grower finds at a cover or its tree, besides what is done to it: wind, wet and snow come unasked."""

    LAYER_OFF = "layer off"  # not put on yet, slipped, or blown away
    TOP_GONE = "top gone"  # the wind has it
    TOP_OPEN = "top open"  # nobody opened it
    TORN = "torn"
    WET = "wet"
    SUNK = "sunk"
    SNOW_ON = "snow on"
    SNOW_ROUND = "snow round"
    MOVED = "moved"
    BRANCH_BROKEN = "branch broken"
    MICE = "mice"
    MOULD = "mould"
    NOT_ON = "not on"  # the cover as a whole, nobody says since when


@dataclass(frozen=True, kw_only=True)
class ConditionTold:
    """One thing found at one tree, or put right again (`is_over`).

    `layer` is the one that is off; `size_m` how high the fill stands now, or how deep snow lies [m]; `place` where the
    tree was moved to.

    Raises
    ------
    ValueError
        A layer is off, and nobody says which.
    """

    tree: str
    kind: ConditionKind
    at_utc: datetime
    layer: Layer | None = None
    size_m: float | None = None
    place: str = ""
    is_over: bool = False

    def __post_init__(self) -> None:
        if (self.kind is ConditionKind.LAYER_OFF) != (self.layer is not None):
            raise ValueError(f"what was found of '{self.tree}' is {self.kind}, its layer is {self.layer}")


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
SUNK_SHARE: Final = 0.8  # of its height that settled fill still stands, where nobody measured; assumed, no source
SNOW_M: Final = 0.15  # of snow that is worth a word, where nobody measured; assumed, no source


def after_told(before: CoverCondition, found: ConditionTold, height_m: float) -> CoverCondition:
    """A cover's condition once something was found at it, or put right.

    `height_m` is how high it was built [m], of which fill has sunk by a fifth where nobody says how far.
    """
    told = {"since_utc": found.at_utc, **_changes(before, found, height_m)}
    return before if len(told) == 1 else CoverCondition.model_validate(before.model_dump() | told)


def _changes(before: CoverCondition, found: ConditionTold, height_m: float) -> dict[str, object]:
    over, size_m = found.is_over, found.size_m
    match found.kind:
        case ConditionKind.LAYER_OFF:
            layer = {found.layer} if found.layer else set()
            return {"off": before.off - layer if over else before.off | layer}
        case ConditionKind.TOP_GONE:
            return {"top": Top.SHUT if over else Top.GONE}
        case ConditionKind.TORN:
            return {"torn": not over}
        case ConditionKind.WET:
            return {"wet": not over}
        case ConditionKind.SUNK:
            return {"sunk_to_m": None if over else SUNK_SHARE * height_m if size_m is None else size_m}
        case ConditionKind.SNOW_ON:
            return {"snow_on_m": 0.0 if over else SNOW_M if size_m is None else size_m}
        case ConditionKind.SNOW_ROUND:
            return {"snow_round_m": 0.0 if over else SNOW_M if size_m is None else size_m}
    return {}


def condition_at(told: Sequence[CoverCondition], moment: datetime) -> CoverCondition:
    """The last condition told up to a moment, oldest first; as built before the first.

    >>> from datetime import UTC
    >>> torn = CoverCondition(torn=True, since_utc=datetime(2026, 1, 5, tzinfo=UTC))
    >>> condition_at([torn], datetime(2026, 1, 4, tzinfo=UTC)) == AS_BUILT
    True
    """
    begun = [one for one in told if one.since_utc is None or one.since_utc <= moment]
    return begun[-1] if begun else AS_BUILT
