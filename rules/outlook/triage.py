"""What can still be done before tonight, which first, and what must be left out: daylight, wind, hands and the shed."""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import Final

from rules.garden.cover import CoverState
from rules.garden.records import DeedKind
from rules.garden.shed import Shed, SupplyKind
from rules.garden.supplies import takes
from rules.garden.tree import Tending
from rules.outlook.garden_outlook import Outlook
from rules.plan.acts import Act
from rules.plan.slots import DUSK_REST, NO_FILM_GUST_M_S
from rules.wood.margins import Night, TreeMargins

AFTER_SUNRISE: Final = timedelta(hours=1)  # nobody is sent out at first light; assumed
THREATENED: Final = 0.1  # chance of too cold a night from which a tree is spoken of; no source
AGAINST_COLD: Final = (DeedKind.WRAPPED, DeedKind.CLOSED, DeedKind.BLANKETED)
HELPS: Final = 0.03  # a chance brought down by less is not worth the way; assumed, no source


class Hindrance(StrEnum):
    """What stands in the way of work at a tree tonight."""

    NO_COVER = "no cover"
    ALL_ON = "all on"  # nothing more of its cover can be put on
    NO_HELP = "no help"  # its cover would change too little
    DARK = "dark"
    WIND = "wind"  # no work with film or on ladders
    TIME = "time"
    STOCK = "stock"  # the shed has not enough for it


@dataclass(frozen=True, kw_only=True)
class Threatened:
    """One tree in one night: chance of too cold as it stands and with `deed` done, and what that saves [trips].

    `deed` is None where nothing of its cover helps; `hindrance` is why it is left out, None where it can be done;
    `lost` the share of its wood that would go as it stands [0-1]; `short_of` what the shed lacks for it; `evening` of
    which night, `by_utc` when the plan asks to begin at the latest.
    """

    tree: str
    chance: float
    lost: float
    deed: DeedKind | None = None
    minutes: float = 0.0
    chance_after: float = 0.0
    saves_trips: float = 0.0
    hindrance: Hindrance | None = None
    short_of: tuple[SupplyKind, ...] = ()
    evening: date | None = None
    by_utc: datetime | None = None


@dataclass(frozen=True, kw_only=True)
class Triage:
    """One night: what to do in this order, what is left out, and the time there is for it.

    `ends_utc` is when all must be done; `free_minutes` of work until then with all `hands`; `again_utc` is when work is
    possible again where dark or wind forbids it now.
    """

    night: Night | None
    first: tuple[Threatened, ...] = ()
    left_out: tuple[Threatened, ...] = ()
    free_minutes: float = 0.0
    hands: int = 1
    ends_utc: datetime | None = None
    again_utc: datetime | None = None


def triage(outlook: Outlook, shed: Shed, *, hands: int = 1, refused: Collection[str] = ()) -> Triage:
    """The trees that tonight threatens, what saves most a minute first, as far as time, wind and the shed allow.

    Parameters
    ----------
    outlook
        The last look ahead, with the covers as they stand.
    shed
        What lies there; an empty one is taken as unknown, and hinders nothing.
    hands
        People who can work.
    refused
        Trees that cannot be tended tonight.
    """
    cared = [one for one in outlook.trees if is_cared_for(one) and one.tree.name not in refused]
    evening = min((one.nights[0].evening for one in cared), default=None)
    if evening is None:
        return Triage(night=None)
    night = cared[0].night_of(evening)
    ends_utc, free_minutes = _daylight(night, outlook.now, hands)
    calm, blows = calm_work(night, outlook.now), is_windy(night, outlook.now)
    windy = free_minutes > 0 and blows and not calm
    if blows and calm:
        free_minutes = hands * sum((ends - begins) / timedelta(minutes=1) for begins, ends in calm)
    asked = asked_today(outlook, ends_utc)
    found = [one for tree in cared for one in _threatened(tree, evening, asked.get(tree.tree.name))]
    found.sort(key=lambda one: -one.saves_trips / max(one.minutes, 1.0))
    first, left_out = _shared_out(found, outlook, shed, free_minutes, windy=windy)
    waits = not free_minutes or blows
    again_utc = work_again_utc(cared[0].nights, outlook.now) if waits else None
    return Triage(
        night=night, first=tuple(first), left_out=tuple(left_out), free_minutes=free_minutes, hands=hands,
        ends_utc=ends_utc, again_utc=again_utc,
    )  # fmt: skip


def is_cared_for(one: TreeMargins) -> bool:
    """Whether a night is ahead that may still take something of it: not of a tree left bare on purpose, or dead."""
    return bool(one.nights) and not one.tree.left_bare and not one.hardiness.lost.held_dead


def work_again_utc(nights: Sequence[Night], now: datetime) -> datetime | None:
    """When covers can be worked at: now, or the next morning without strong gusts; None where none is in sight."""
    return next((begins for night in nights for begins, _ in calm_work(night, now)), None)


def weighed_today(outlook: Outlook, now: datetime) -> set[str]:
    """The trees whose cover the plan could have shut by today's dusk, and weighed: no dark, wind or way hinders it.

    That a visit today is still possible is known from what the plan asks for today, or would as its next best.
    """
    today = now.astimezone(outlook.site.zone).date()
    other = outlook.plan.second_thoughts().second_best
    acts = [*outlook.acts, *(other.acts if other else ())]
    if not any(now <= act.by_utc and act.by_utc.astimezone(outlook.site.zone).date() == today for act in acts):
        return set()
    return {one.tree.name for one in outlook.trees if is_cared_for(one) and _could_shut(one, today, now)}


def _could_shut(one: TreeMargins, today: date, now: datetime) -> bool:
    if one.cover is None or one.state_assumed is CoverState.CLOSED:
        return False
    bare = one.state_assumed is CoverState.BARE
    work = timedelta(minutes=one.cover.minutes_to_wrap if bare else one.cover.minutes_to_close)
    free = sum((ends - begins for begins, ends in calm_work(one.night_of(today), now)), timedelta())
    return one.tree.tending in (None, Tending.FEWEST_TRIPS) and work <= free


def calm_work(night: Night, now: datetime) -> list[tuple[datetime, datetime]]:
    """The stretches of the daylight before a night, from now on, in which covers can be worked at."""
    if night.sunrise_utc is None or night.sunset_utc is None:
        return []
    first, last = max(now, night.sunrise_utc + AFTER_SUNRISE), night.sunset_utc - DUSK_REST
    whole = () if night.gust_m_s >= NO_FILM_GUST_M_S else ((first, last),)
    stretches = whole if night.calm is None else night.calm
    return [(max(first, begins), min(last, ends)) for begins, ends in stretches if begins < last and ends > first]


def is_windy(night: Night, now: datetime) -> bool:
    """Whether it is too windy just now for work at covers on the day of a night."""
    if night.calm is None:
        return night.gust_m_s >= NO_FILM_GUST_M_S
    light = max(now, night.sunrise_utc) if night.sunrise_utc else now
    return not any(begins <= light < ends for begins, ends in night.calm)


def _daylight(night: Night, now: datetime, hands: int) -> tuple[datetime | None, float]:
    """When all must be done, and the minutes of work until then; none before sunrise, after dusk, or without sun."""
    if night.sunset_utc is None:
        return None, 0.0
    ends_utc = night.sunset_utc - DUSK_REST
    begins = max(now, night.sunrise_utc) if night.sunrise_utc else now
    return ends_utc, max(0.0, (ends_utc - begins) / timedelta(minutes=1)) * hands


def asked_today(outlook: Outlook, ends_utc: datetime | None) -> dict[str, Act]:
    """What the plan asks for against the cold by the end of today's light, by tree: also for a night still to come."""
    acts = [act for act in outlook.acts if act.kind in AGAINST_COLD]
    return {act.tree: act for act in reversed(acts) if ends_utc is not None and act.by_utc <= ends_utc}


def _threatened(one: TreeMargins, evening: date, asked: Act | None) -> Iterator[Threatened]:
    """A tree that tonight threatens as it stands, or for which something is asked today, with the night it is for."""
    nights = [one.night_of(evening), *([one.night_of(asked.night)] if asked else [])]
    night = max(nights, key=lambda night: night.tissue[one.state_assumed].chance)
    if asked is None and night.tissue[one.state_assumed].chance < THREATENED:
        return
    now = night.tissue[one.state_assumed]
    bare = Threatened(
        tree=one.tree.name, chance=now.chance, lost=now.lost, chance_after=now.chance, evening=night.evening,
        by_utc=asked.by_utc if asked else None,
    )  # fmt: skip
    if one.cover is None:
        yield replace(bare, hindrance=Hindrance.NO_COVER)
        return
    closed = night.tissue[CoverState.CLOSED]
    if one.state_assumed is CoverState.CLOSED:
        yield replace(bare, hindrance=Hindrance.ALL_ON)
        return
    if asked is not None and asked.kind is DeedKind.BLANKETED:
        saves = one.tree.worth_trips * (asked.lost - asked.lost_after)
        yield replace(bare, deed=asked.kind, minutes=asked.minutes, chance_after=asked.chance_after, saves_trips=saves)
        return
    wraps = one.state_assumed is CoverState.BARE
    deed = DeedKind.WRAPPED if wraps else DeedKind.CLOSED
    helps = now.chance - closed.chance >= HELPS or now.lost - closed.lost >= HELPS
    yield replace(
        bare, deed=deed, minutes=one.cover.minutes_to_wrap if wraps else one.cover.minutes_to_close,
        chance_after=closed.chance, saves_trips=one.tree.worth_trips * (now.lost - closed.lost),
        hindrance=None if helps or asked else Hindrance.NO_HELP,
    )  # fmt: skip


def _shared_out(
    found: Sequence[Threatened], outlook: Outlook, shed: Shed, minutes: float, *, windy: bool
) -> tuple[list[Threatened], list[Threatened]]:
    """What is done, in order, and what is left out with what hinders it."""
    first: list[Threatened] = []
    left_out: list[Threatened] = []
    have = {kind: count * shed.piece_of(kind) for kind, count in shed.have.items()}
    for one in found:
        wanted = _wanted(one, outlook)
        short = tuple(kind for kind, amount in wanted.items() if kind in have and have[kind] < amount)
        cover = outlook.tree(one.tree).cover
        carried = cover is not None and cover.is_shelter  # a pot is carried in whatever the wind, and in the dark
        hindrance = one.hindrance or (None if carried else _hindrance(one, minutes, short, windy=windy))
        if hindrance is not None:
            left_out.append(replace(one, hindrance=hindrance, short_of=short))
            continue
        minutes -= 0.0 if carried and one.minutes > minutes else one.minutes
        have |= {kind: have[kind] - amount for kind, amount in wanted.items() if kind in have}
        first.append(one)
    return first, left_out


def _wanted(one: Threatened, outlook: Outlook) -> dict[SupplyKind, float]:
    """What its cover takes out of the shed, each in its unit."""
    cover = outlook.tree(one.tree).cover
    return takes(cover) if cover is not None and one.deed is DeedKind.WRAPPED else {}


def _hindrance(one: Threatened, minutes: float, short: Sequence[SupplyKind], *, windy: bool) -> Hindrance | None:
    if minutes <= 0 and one.minutes > 0:
        return Hindrance.DARK
    if windy:
        return Hindrance.WIND
    if short:
        return Hindrance.STOCK
    return Hindrance.TIME if one.minutes > minutes else None
