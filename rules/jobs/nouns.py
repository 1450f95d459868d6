"""What a job is, why it is asked, what it warns of, and what became of it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from enum import StrEnum
from typing import Annotated, Final

from pydantic import Field

from rules.garden.supplies import SupplyLine
from rules.garden.tree import Noun
from rules.plan.garden_plan import Act


class JobKind(StrEnum):
    """The jobs of the year, as the garden file names them."""

    TAPER = "taper"
    CHECK_SUPPLIES = "check_supplies"
    LOCATE_LINES = "locate_lines"
    COUNT_FRUIT = "count_fruit"
    LAST_PICK = "last_pick"
    TAKE_CUTTINGS = "take_cuttings"
    TIE_BRANCHES = "tie_branches"
    PRUNE_TO_FIT = "prune_to_fit"
    WRAP = "wrap"
    FILL = "fill"
    CLOSE = "close"
    OPEN = "open"
    CHECK_STRAPS = "check_straps"
    SNOW = "snow"
    WATER = "water"
    LOOK_FOR_VOLES = "look_for_voles"
    VENT = "vent"
    WAKE_EARLY = "wake_early"
    CLOSE_FOR_FROST = "close_for_frost"
    STRIP = "strip"
    DRY_AND_STORE = "dry_and_store"
    MULCH = "mulch"
    SCRATCH_TEST = "scratch_test"
    MEASURE_DIEBACK = "measure_dieback"
    REVIEW_WINTER = "review_winter"


class JobReason(StrEnum):
    """Why a job is asked for; the unit of its amount stands beside it."""

    PLAN = "plan"  # the plan asks for it: its acts say why
    SOFT_WOOD = "soft wood"  # fed and watered late it stays soft
    BEFORE_THE_RUSH = "before the rush"
    STAKES = "stakes"  # amount: trees that take stakes
    CROP_ENDS = "crop ends"  # what ripened this year
    KILLING_FREEZE = "killing freeze"  # amount: chance of it [0-1]
    FREEZE_DUE = "freeze due"  # by past winters or the calendar
    INSURANCE = "insurance"  # a cutting outlives a dead tree
    FIT_THE_CAGE = "fit the cage"  # amount: diameter of the cage [m]
    OUT_OF_REACH = "out of reach"  # once the cover is on
    COLD_DUE = "cold due"  # by past winters or the calendar
    SETTLED = "settled"  # loose fill sinks in its first weeks
    WIND_COMING = "wind coming"  # amount: gust [m/s]
    WIND_PAST = "wind past"  # amount: gust [m/s]
    WIND_UNTOLD = "wind untold"  # no service tells of it
    SNOW_FELL = "snow fell"  # amount: new snow [m]
    WET_SNOW = "wet snow"  # amount: new snow [m]
    SNOW_MAY_FALL = "snow may fall"  # beyond the forecast
    SNOW_UNTOLD = "snow untold"  # no service tells of it
    DRY_WINTER = "dry winter"  # amount: rain and melted snow of the last 30 days [mm]
    MAY_BE_DRY = "may be dry"  # in a month to come
    RAIN_UNTOLD = "rain untold"  # no service tells of it
    GUARD = "guard"  # before the straw is round it
    GNAWING = "gnawing"
    EARLIER_CROP = "earlier crop"
    RISK_FADES = "risk fades"  # by past winters or the calendar
    COVER_OFF = "cover off"
    STRAW_LEFT = "straw left"
    WHAT_LIVED = "what lived"
    HELD_DEAD = "held dead"  # a night gone by probably killed it above ground
    HOW_MUCH_LIVED = "how much lived"
    LESSONS = "lessons"


BEFORE_WRAP: Final = (JobReason.OUT_OF_REACH, JobReason.FIT_THE_CAGE, JobReason.GUARD)


class Basis(StrEnum):
    """What the days of a job rest on."""

    FORECAST = "forecast"
    RECORD = "record"  # what the grower did or saw
    PAST_WINTERS = "past winters"
    CALENDAR = "calendar"  # nothing better is known


class Caution(StrEnum):
    """Dangers of a job; the sources stand beside them."""

    BURIED_LINES = "buried lines"  # two business days ahead, small jobs too (utility guidance)
    STRAW_DUST = "straw dust"  # N95 at least, wet down (farm and rural health texts)
    FIG_SAP = "fig sap"  # burns within 24 h (Ann. Dermatol. 2017, 29:86)
    LADDER_WIND = "ladder wind"  # Oregon OSHA letter of 17 July 2002; gusts of 10 m/s assumed, no source
    NO_HEAT = "no heat"  # a 250 W lamp exceeds 204 °C (Ohio State University agricultural safety)
    STAKE_ENDS = "stake ends"  # OSHA 29 CFR 1926.701(b)
    HERBICIDE = "herbicide"  # North Carolina State Extension, Herbicide Carryover
    DAMP_STRAW = "damp straw"  # damp tight bales heat by themselves, from memory
    TWO_PEOPLE = "two people"  # to bend a tree down; assumed, no source
    LATE_FROST = "late frost"  # what wakes early freezes early


class MarkState(StrEnum):
    """What the grower answered to a job."""

    DONE = "done"
    PUT_OFF = "put off"
    REFUSED = "refused"


@dataclass(frozen=True, kw_only=True)
class JobMark:
    """One answer to one job; `tree` is empty for a job of the whole garden, `until` the day it was put off to."""

    kind: JobKind
    tree: str = ""
    state: MarkState
    at_utc: datetime
    until: date | None = None

    def __post_init__(self) -> None:
        if (self.until is not None) != (self.state is MarkState.PUT_OFF):
            raise ValueError(f"a job {self.state} has until {self.until}; a day belongs to put off, and only there")


class JobSettings(Noun):
    """How the grower tunes one kind of job: whether at all, its minutes at each tree, days of warning; None as it is.

    >>> JobSettings(on=False).lead_days is None
    True
    """

    on: bool | None = None
    minutes: Annotated[float | None, Field(ge=0, le=1440)] = None
    lead_days: Annotated[int | None, Field(ge=0, le=120)] = None


@dataclass(frozen=True, kw_only=True)
class Window:
    """The days on which one rule wants its job, and why; what a rule answers.

    What `waits` for a deed that must come first is listed for its days, and told once that is done.
    """

    from_day: date
    by_day: date
    reason: JobReason
    basis: Basis
    amount: float | None = None
    act: Act | None = None
    waits: bool = False


@dataclass(frozen=True, kw_only=True)
class Job:
    """One job, for all trees that need it on the same days for the same reason.

    Parameters
    ----------
    kind, trees
        What, and at which trees, in the garden's order; trees of a job of the whole garden are all it is for.
    from_day, by_day
        First and last day [local dates].
    minutes, lead_days
        Working time of all of it, and days of warning before the first day.
    reason, amount
        Why, with its number; the unit stands at `JobReason`. Over several trees as `amount_of` has it.
    basis
        What the days rest on.
    cautions
        What it warns of.
    source
        Who says that the job is worth doing.
    supplies
        What it takes and what of it is to be bought.
    acts
        The acts of the plan behind it, if any; they hold the hours.
    waits
        Whether it waits for a deed that must come first.
    """

    kind: JobKind
    trees: tuple[str, ...]
    from_day: date
    by_day: date
    minutes: float
    lead_days: int
    reason: JobReason
    amount: float | None
    basis: Basis
    cautions: tuple[Caution, ...]
    source: str
    supplies: tuple[SupplyLine, ...] = ()
    acts: tuple[Act, ...] = ()
    waits: bool = False

    @property
    def comes_with_wrap(self) -> bool:
        """Whether it belongs to a wrap the plan asks for, and is told with that."""
        return self.reason in BEFORE_WRAP and self.basis is Basis.FORECAST


def merged(jobs: Sequence[Job]) -> Job:
    """Jobs of one kind for one reason as one job: the first's days, everybody's trees and minutes."""
    trees = tuple(tree for job in jobs for tree in job.trees)
    minutes, amount = sum(job.minutes for job in jobs), amount_of(jobs[0].reason, [job.amount for job in jobs])
    return replace(jobs[0], trees=trees, minutes=minutes, amount=amount)


def amount_of(reason: JobReason, amounts: Iterable[float | None]) -> float | None:
    """The number for several trees: the largest in size; None where each tree has its own."""
    known = [amount for amount in amounts if amount is not None]
    if reason is JobReason.FIT_THE_CAGE and len(set(known)) > 1:
        return None
    return max(known, key=abs, default=None)
