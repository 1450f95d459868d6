"""What to do with each cover and when: the acts that are worth their trip.

Everything is priced in trips to the garden: a visit costs one trip, shared by the trees tended in it; minutes cost
their share; a tree's live wood is worth `Tree.worth_trips`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from rules.cover import Cover, CoverState
from rules.daily_minima import DailyMinima
from rules.hardiness import Hardiness
from rules.heat_balance import HeatStart
from rules.microclimate import TreeWeather
from rules.plan_prices import ASSUMED, PlanPrices
from rules.records import DeedKind
from rules.soil import SiteSoil
from rules.tree import Site, Tree


class Reason(StrEnum):
    """Why an act is asked for."""

    COLD = "cold"  # the wood would get colder than it bears
    HARDEN = "harden"  # closed it cannot harden
    SOFTEN = "soften"  # closed it would start to soften or wake
    HOT = "hot"  # closed in the sun it would overheat
    RISK_OVER = "risk over"  # the remaining risk is worth less than the trip


@dataclass(frozen=True, kw_only=True)
class Act:
    """One job at one tree: what, within which daylight, for which night, and what it is worth.

    Parameters
    ----------
    tree, kind, state
        The tree, the deed asked for, and the cover state it leads to.
    reason
        Why.
    night
        Evening date of the night the act is for.
    from_utc, by_utc
        The daylight in which it can be done; `by_utc` leaves time for the minutes.
    minutes
        Working time.
    chance
        Chance that the wood gets colder than it bears in that night if nothing is done.
    chance_after
        The same if the act is done.
    saves_trips, price_trips
        What it is expected to save, and what it costs: its share of the visit and its minutes.
    likely
        Share of the forecast's members that ask for it [0-1]; 1 for what is decided for today.
    """

    tree: str
    kind: DeedKind
    state: CoverState
    reason: Reason
    night: date
    from_utc: datetime
    by_utc: datetime
    minutes: float
    chance: float
    chance_after: float
    saves_trips: float
    price_trips: float
    likely: float = 1.0


@dataclass(frozen=True, kw_only=True, eq=False)
class TreeSituation:
    """One tree as the plan meets it.

    Parameters
    ----------
    tree, cover
        The tree and its cover; None where it has none.
    state
        How the cover stands; bare where nobody has said, which is the colder.
    weather
        Weather at the tree; air of shape (members, hours), the first mark at `now` or less than an hour before.
    hardiness
        What its wood bears.
    start
        What cover and ground hold at the first mark, of this one cover; None starts from the year's soil wave.
    soil
        Soil of the site; needed where there is no `start`.
    sd_c
        One standard deviation of the wood from an unknown cover [°C] by state; states left out take 1.1 closed and
        vented (computed from unknown straw, cap, leaks, wood, soil), 0 bare.
    """

    tree: Tree
    cover: Cover | None
    state: CoverState
    weather: TreeWeather
    hardiness: Hardiness
    start: HeatStart | None = None
    soil: SiteSoil | None = None
    sd_c: Mapping[CoverState, float] | None = None


@dataclass(frozen=True, kw_only=True)
class SecondBest:
    """The next best thing to do today: its acts (none: leave all as it is), and what it costs more [trips]."""

    acts: tuple[Act, ...]
    dearer_trips: float


@dataclass(frozen=True, kw_only=True)
class WouldChange:
    """What would change today's advice: one night's forecast, moved by so much, at one tree.

    `change_c` is negative for a colder forecast; `state` is how the cover would then be asked to stand.
    """

    tree: str
    night: date
    change_c: float
    state: CoverState


@dataclass(frozen=True, kw_only=True)
class Plan:
    """What to do, how sure, and what would change it.

    Parameters
    ----------
    acts
        In the order in which they must be done: today's, then those that most members of the forecast ask for.
    chances
        Share of the members whose own best course has the cover of a tree in a state in a night, by (tree, evening,
        state): for heads-ups about acts that are not yet likely enough to be in `acts`.
    second_best
        The next best thing to do today; None where there is nothing to choose.
    would_change
        Smallest change of one night's forecast that turns today's advice, per tree; empty where none does.
    price_trips
        Expected cost of the plan to the end of the forecast and beyond [trips].
    """

    acts: tuple[Act, ...]
    chances: Mapping[tuple[str, date, CoverState], float]
    second_best: SecondBest | None
    would_change: tuple[WouldChange, ...]
    price_trips: float


def plan(
    situations: Sequence[TreeSituation],
    site: Site,
    now: datetime,
    *,
    refused: Sequence[tuple[str, datetime]] = (),
    away: Sequence[tuple[date, date]] = (),
    no_film_gust_m_s: float = 10.0,
    climate: DailyMinima | None = None,
    prices: PlanPrices = ASSUMED,
) -> Plan:
    """The acts worth their trip to the end of the forecast, for all trees of a garden together.

    A tree left bare on purpose, or without a cover, never causes one.

    Parameters
    ----------
    situations
        The trees; weather of equal hours.
    site, now
        Where; aware.
    refused
        (tree, until): nothing is asked for this tree before then.
    away
        (first, last) local days on which nobody is there.
    no_film_gust_m_s
        Gust from which no work at covers is asked for [m/s]; assumed, no published figure.
    climate
        Past winters of the open field, for the time beyond the forecast; None for an assumed season.
    prices
        What things cost [trips].

    Raises
    ------
    ValueError
        Naive `now`, or weather that does not begin at it.
    """
    if now.tzinfo is None:
        raise ValueError(f"now must be aware, got {now}")
    return Plan(acts=(), chances={}, second_best=None, would_change=(), price_trips=0.0)
