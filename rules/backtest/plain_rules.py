"""Rules for covers, played through winters: our plan, plain thresholds, the calendar, and perfect foresight."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.backtest.reduced_heat import daily_features
from rules.backtest.winters import FIRST_DAY, Garden, Truth, damping, season_standing_cost
from rules.heat.properties import COVER_SD_C
from rules.plan.prices import PlanPrices
from rules.plan.search import answers
from rules.plan.stakes import Stakes
from rules.wood.injury import dose_width_c, lost_together
from rules.wood.night_losses import LOST_LEVELS, harm_of

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

BARE, VENTED, CLOSED = range(3)
FORESIGHT_BEAM: Final = 8

Decide = Callable[[int, Ints], Ints]  # (night, states now) -> states from this evening on


@dataclass(frozen=True, kw_only=True, eq=False)
class Lived:
    """What a rule brought about, each array (lanes,).

    `cost` [trips] in all; `lost` share of the wood; `trips` visits; `killing` nights that would have killed half the
    wood under an open cap and hardly any under a shut one, `missed` those of them with the cover open; `false_calls`
    closings of the cap that no such night followed before the next opening, of all `closings`.
    """

    cost: Floats
    lost: Floats
    trips: Floats
    killing: Ints
    missed: Ints
    closings: Ints
    false_calls: Ints
    course: Ints


def lived(garden: Garden, truth: Truth, decide: Decide, prices: PlanPrices) -> Iterator[Lived | None]:
    """One rule through all winters; None after each night, and what came of it at the end."""
    lanes, nights = garden.lanes, garden.winters.nights
    lane, width = np.arange(lanes), dose_width_of(garden)
    tissue, fades = (garden.by_lane(np.stack([getattr(h, name) for h in garden.heat])) for name in ("tissue", "fades"))
    state, moved = np.zeros(lanes, dtype=int), np.zeros(lanes)
    cost, lost, trips = np.zeros(lanes), np.zeros(lanes), np.zeros(lanes)
    course = np.empty((lanes, nights), dtype=np.int64)
    strips = np.where(np.isfinite(garden.work), garden.work, garden.strip[:, None, None])
    for night in range(nights):
        new = decide(night, state)
        held = truth.held_c[:, night]
        moved = moved + held[lane, state] - held[lane, new]
        shift = moved * tissue[lane, new]
        share = _share(truth, lane, night, new, shift, width)
        after = lost_together(lost, share)
        trips += new != state
        cost += strips[lane, state, new] + prices.visit * (new != state) + truth.standing_cost[lane, night, new]
        cost += garden.worth * (after - lost)
        lost, moved, state = after, moved * fades[lane, new], new
        course[:, night] = new
        yield None
    cost += np.where(state == BARE, 0.0, garden.strip + prices.visit)
    trips += state != BARE
    yield Lived(cost=cost, lost=lost, trips=trips, course=course, **_calls(truth, course))


def _share(truth: Truth, lane: Ints, night: int, state: Ints, shift: Floats, width: Floats) -> Floats:
    middle, tip = (one[lane, night, state] + shift for one in (truth.dose_c, truth.tip_c))
    return harm_of(truth.lt50_c[:, night], width, middle, tip)


def dose_width_of(garden: Garden) -> Floats:
    """Width of each lane's dose curve at rest; the table's step from 10 to 50 % hardly changes with the season."""
    middle = garden.lt10_c.shape[1] // 2
    return np.array(
        [dose_width_c(b, h) for b, h in zip(garden.lt10_c[:, middle], garden.lt50_c[:, middle], strict=True)]
    )


def _calls(truth: Truth, course: Ints) -> dict[str, Ints]:
    dose = truth.dose_c
    killing = (dose[..., VENTED] < truth.lt50_c) & (dose[..., CLOSED] >= truth.lt10_c)
    shut = course == CLOSED
    closes = shut & ~np.concatenate([np.zeros((len(shut), 1), dtype=bool), shut[:, :-1]], axis=1)
    spell = np.cumsum(closes, axis=1) * shut
    served = np.zeros(len(shut), dtype=int)
    for lane in range(len(shut)):
        served[lane] = len(np.unique(spell[lane][killing[lane] & shut[lane]]))
    closings = closes.sum(axis=1)
    return {
        "killing": killing.sum(axis=1), "missed": (killing & ~shut).sum(axis=1),
        "closings": closings, "false_calls": closings - served,
    }  # fmt: skip


def never(night: int, state: Ints) -> Ints:  # noqa: ARG001 - a rule's shape
    """No cover at all."""
    return np.zeros_like(state)


def always(night: int, state: Ints) -> Ints:  # noqa: ARG001 - a rule's shape
    """Wrapped and shut from the first day."""
    return np.full_like(state, CLOSED)


def by_calendar(cover_night: int, strip_night: int) -> Decide:
    """Wrapped and shut on one day, stripped on another."""
    return lambda night, state: np.full_like(state, CLOSED if cover_night <= night < strip_night else BARE)


def by_threshold(garden: Garden, truth: Truth, threshold_c: Floats, open_above_c: Floats) -> Decide:
    """Shut when tonight's forecast minimum is below a threshold, open when it is above another, shape (lanes,) [°C]."""
    told = garden.winters.min_c[:, FIRST_DAY + 1 : FIRST_DAY + 1 + garden.winters.nights] + truth.error_c[:, :, 0]
    forecast_c = np.tile(told, (len(garden.trees), 1))

    def decide(night: int, state: Ints) -> Ints:
        opened = np.where(state == CLOSED, VENTED, state)
        kept = np.where(forecast_c[:, night] > open_above_c, opened, state)
        return np.where(forecast_c[:, night] < threshold_c, CLOSED, kept)

    return decide


def foresight(garden: Garden, truth: Truth, prices: PlanPrices) -> Decide:
    """The best course by one who knows the weather, the site, the cover and the wood."""
    return _best_course(garden, _season_stakes(garden, truth, prices), prices)


def weather_foresight(garden: Garden, truth: Truth, prices: PlanPrices) -> Decide:
    """The best course by one who knows the weather, but site, cover and wood no better than the plan does."""
    return _best_course(garden, believed_season(garden, truth, prices), prices)


def believed_season(garden: Garden, truth: Truth, prices: PlanPrices) -> Stakes:
    """A whole season with its weather known, site, cover and wood as far as the plan knows them."""
    winters = garden.winters
    tissue = garden.tissue(daily_features(winters.min_c, winters.max_c, season=winters.season)[0])
    tissue = tissue[:, FIRST_DAY : FIRST_DAY + winters.nights]
    site2 = (garden.site_sd_c[:, None] * damping(garden)) ** 2 + COVER_SD_C**2 * np.array([0.0, 1.0, 1.0])
    width2 = site2[:, None] + (dose_width_of(garden)[:, None] ** 2 + garden.sd_c**2)[..., None]
    return replace(
        _season_stakes(garden, truth, prices), middle_c=tissue[:, None, ..., 0], tip_c=tissue[:, None, ..., 1],
        lt50_c=garden.lt50_c, width_c=np.sqrt(width2),
        standing_cost=season_standing_cost(tissue[..., 2], tissue[..., 3], 0, prices)[:, None],
    )  # fmt: skip


def _best_course(garden: Garden, stakes: Stakes, prices: PlanPrices) -> Decide:
    visits = np.full(stakes.shape, prices.visit)
    found = answers(stakes, visits, np.empty((garden.lanes, 0), dtype=np.int64), FORESIGHT_BEAM)
    cost = found.cost[:, 0] + prices.visit * (np.arange(3) != BARE)
    course = np.take_along_axis(found.course[:, 0], cost.argmin(axis=1)[:, None, None], 1)[:, 0]
    return lambda night, _: course[:, night]


def _season_stakes(garden: Garden, truth: Truth, prices: PlanPrices) -> Stakes:
    nights = garden.winters.nights
    tissue, fades = (garden.by_lane(np.stack([getattr(h, name) for h in garden.heat])) for name in ("tissue", "fades"))
    width = np.broadcast_to(dose_width_of(garden)[:, None, None], truth.dose_c.shape)
    return Stakes(
        middle_c=truth.dose_c[:, None], tip_c=truth.tip_c[:, None], nodes_c=truth.held_c[:, None, ..., None],
        fades=np.repeat(fades[:, None, :, None, None], nights, axis=1),
        tissue=np.repeat(tissue[:, None, :, None], nights, axis=1), tip_keeps=np.ones((garden.lanes, 3)),
        lt50_c=truth.lt50_c, width_c=width, unforeseen_c=np.zeros(width.shape),
        standing_cost=truth.standing_cost[:, None],
        work=np.repeat(garden.work[:, None], nights, axis=1), worth=garden.worth,
        tail=season_end(garden, prices), state=np.zeros(garden.lanes, dtype=np.int64), lost=np.zeros(garden.lanes),
    )  # fmt: skip


def season_end(garden: Garden, prices: PlanPrices) -> Floats:
    """What the end of the season costs: a cover comes off, shape (lanes, states, LOST_LEVELS) [trips]."""
    over = garden.strip + prices.visit
    return np.repeat(np.column_stack([np.zeros(garden.lanes), over, over])[..., None], len(LOST_LEVELS), axis=-1)
