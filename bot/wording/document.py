"""The outlook as a JSON document: every number a message may show, with its unit in the key.

`bedstraw outlook --json` prints it, and each round keeps it in the logbook, so that any advice can be replayed.
"""

from datetime import date, datetime
from typing import Any

from pydantic import BaseModel, ConfigDict

from rules.garden.cover import CoverState
from rules.garden.doubt import Doubt
from rules.outlook.garden_outlook import Outlook
from rules.plan.garden_plan import Act
from rules.wood.margins import Night, Tissue, TreeMargins


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", from_attributes=True)


class DoubtPart(_Part):
    """One reason to doubt a number; `amount` in the unit named with its kind."""

    kind: str
    subject: str
    amount: float | None


class TissuePart(_Part):
    """One state of the cover in one night; see rules.wood.margins.Tissue."""

    wood_c: float
    top_c: float
    low_c: float
    high_c: float
    sd_c: float
    chance: float
    lost: float
    warmest_c: float
    roots_c: float | None


class NightPart(_Part):
    """One night; see rules.wood.margins.Night. `tissue` by cover state: bare, vented, closed."""

    evening: date
    field_c: float
    air_c: float
    air_low_c: float
    air_high_c: float
    lowest_utc: datetime
    sunset_utc: datetime | None
    sunrise_utc: datetime | None
    gust_m_s: float
    day_high_c: float
    complete: bool
    tissue: dict[CoverState, TissuePart]


class TreePart(_Part):
    """One tree; `state` is null where nobody has said how its cover stands."""

    name: str
    species: str
    cover: str | None
    state: CoverState | None
    phase: str
    lt10_c: float
    lt50_c: float
    lt10_sd_c: float
    hardiness_source: str
    nights: list[NightPart]
    doubts: list[DoubtPart]


class ActPart(_Part):
    """One act of the plan; see rules.plan.garden_plan.Act."""

    tree: str
    kind: str
    state: CoverState
    reason: str
    night: date
    from_utc: datetime
    by_utc: datetime
    minutes: float
    chance: float
    chance_after: float
    saves_trips: float
    price_trips: float


class OutlookDocument(_Part):
    """One garden at one moment. Temperatures in °C, times in UTC, chances and shares 0-1, worth in trips."""

    version: int
    now: datetime
    service: str
    issued_utc: datetime | None
    fetched_utc: datetime | None
    trees: list[TreePart]
    acts: list[ActPart]
    doubts: list[DoubtPart]


def outlook_document(outlook: Outlook) -> OutlookDocument:
    """The document of an outlook."""
    return OutlookDocument(
        version=2,
        now=outlook.now,
        service=outlook.service,
        issued_utc=outlook.issued_utc,
        fetched_utc=outlook.fetched_utc,
        trees=[_tree(one) for one in outlook.trees],
        acts=[_act(act) for act in outlook.acts],
        doubts=_doubts(outlook.doubts),
    )


def _tree(one: TreeMargins) -> TreePart:
    hardiness = one.hardiness
    return TreePart(
        name=one.tree.name,
        species=one.tree.species,
        cover=one.cover.name if one.cover else None,
        state=one.state,
        phase=hardiness.phase,
        lt10_c=_rounded(hardiness.lt10_c),
        lt50_c=_rounded(hardiness.lt50_c),
        lt10_sd_c=_rounded(hardiness.sd_c),
        hardiness_source=str(hardiness.source),
        nights=[_night(night) for night in one.nights],
        doubts=_doubts((*one.doubts, *hardiness.doubts)),
    )


def _night(night: Night) -> NightPart:
    tissue = {state: _tissue(one) for state, one in night.known.items()}
    values = {name: _rounded(value) for name, value in vars(night).items() if name in NightPart.model_fields}
    return NightPart.model_validate({**values, "tissue": tissue})


def _tissue(tissue: Tissue) -> TissuePart:
    return TissuePart.model_validate({name: _rounded(value) for name, value in vars(tissue).items()})


def _act(act: Act) -> ActPart:
    names = ActPart.model_fields
    return ActPart.model_validate({name: _rounded(getattr(act, name)) for name in names})


def _doubts(doubts: tuple[Doubt, ...]) -> list[DoubtPart]:
    return [DoubtPart(kind=d.kind, subject=d.subject, amount=d.amount) for d in doubts]


def _rounded(value: Any) -> Any:
    return round(value, 4) if isinstance(value, float) else value
