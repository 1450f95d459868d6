"""Rules for covers, played through winters: our plan, plain thresholds, the calendar, and perfect foresight."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import Final

import numpy as np
import numpy.typing as npt

from rules.backtest_winters import FIRST_DAY, LEADS, Garden, Truth, damping, lean_of, season_holding
from rules.injury import dose_width_c, lost_together, normal_share, with_tip
from rules.members import lead_sigma_c
from rules.plan_prices import PlanPrices
from rules.plan_search import Stakes, answers
from rules.plan_stakes import COVER_SD_C
from rules.reduced_heat import daily_features

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

BARE, VENTED, CLOSED = range(3)
MEMBERS: Final = 15  # enough for a mean over one number per night
FORESIGHT_BEAM: Final = 8
TAIL_EVERY: Final = 14  # nights between the days for which the rest of the season is worked out; straight between
SAME_ERROR: Final = 0.5  # correlation of members' errors from one night to the next, as in the members of the garden

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
    lane, width = np.arange(lanes), _dose_width(garden)
    felt, fades = (garden.by_lane(np.stack([getattr(h, name) for h in garden.heat])) for name in ("felt", "fades"))
    state, moved = np.zeros(lanes, dtype=int), np.zeros(lanes)
    cost, lost, trips = np.zeros(lanes), np.zeros(lanes), np.zeros(lanes)
    course = np.empty((lanes, nights), dtype=np.int64)
    strips = np.where(np.isfinite(garden.work), garden.work, garden.strip[:, None, None])
    for night in range(nights):
        new = decide(night, state)
        held = truth.held_c[:, night]
        moved = moved + held[lane, state] - held[lane, new]
        shift = moved * felt[lane, new]
        share = _share(truth, lane, night, new, shift, width)
        after = lost_together(lost, share)
        trips += new != state
        cost += strips[lane, state, new] + prices.visit * (new != state) + truth.holding[lane, night, new]
        cost += garden.worth * (after - lost)
        lost, moved, state = after, moved * fades[lane, new], new
        course[:, night] = new
        yield None
    cost += np.where(state == BARE, 0.0, garden.strip + prices.visit)
    trips += state != BARE
    yield Lived(cost=cost, lost=lost, trips=trips, course=course, **_calls(truth, course))


def _share(truth: Truth, lane: Ints, night: int, state: Ints, shift: Floats, width: Floats) -> Floats:
    half = truth.half_c[:, night]
    middle = normal_share((half - truth.dose_c[lane, night, state] - shift) / width)
    return with_tip(middle, normal_share((half - truth.tip_c[lane, night, state] - shift) / width))


def _dose_width(garden: Garden) -> Floats:
    """Width of each lane's dose curve at rest; the table's step from 10 to 50 % hardly changes with the season."""
    middle = garden.bears_c.shape[1] // 2
    return np.array(
        [dose_width_c(b, h) for b, h in zip(garden.bears_c[:, middle], garden.half_c[:, middle], strict=True)]
    )


def _calls(truth: Truth, course: Ints) -> dict[str, Ints]:
    dose = truth.dose_c
    killing = (dose[..., VENTED] < truth.half_c) & (dose[..., CLOSED] >= truth.bears_c)
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
    felt = garden.felt(daily_features(winters.min_c, winters.max_c, season=winters.season)[0])
    felt = felt[:, FIRST_DAY : FIRST_DAY + winters.nights]
    site2 = (garden.site_sd_c[:, None] * damping(garden)) ** 2 + COVER_SD_C**2 * np.array([0.0, 1.0, 1.0])
    width2 = site2[:, None] + (_dose_width(garden)[:, None] ** 2 + garden.sd_c**2)[..., None]
    return replace(
        _season_stakes(garden, truth, prices), middle_c=felt[:, None, ..., 0], tip_c=felt[:, None, ..., 1],
        half_c=garden.half_c, width_c=np.sqrt(width2),
        holding=season_holding(felt[..., 2], felt[..., 3], 0, prices)[:, None],
    )  # fmt: skip


def _best_course(garden: Garden, stakes: Stakes, prices: PlanPrices) -> Decide:
    visits = np.full(stakes.shape, prices.visit)
    found = answers(stakes, visits, np.empty((garden.lanes, 0), dtype=np.int64), FORESIGHT_BEAM)
    cost = found.cost[:, 0] + prices.visit * (np.arange(3) != BARE)
    course = np.take_along_axis(found.course[:, 0], cost.argmin(axis=1)[:, None, None], 1)[:, 0]
    return lambda night, _: course[:, night]


def _season_stakes(garden: Garden, truth: Truth, prices: PlanPrices) -> Stakes:
    nights = garden.winters.nights
    felt, fades = (garden.by_lane(np.stack([getattr(h, name) for h in garden.heat])) for name in ("felt", "fades"))
    over = garden.strip + prices.visit
    width = np.broadcast_to(_dose_width(garden)[:, None, None], truth.dose_c.shape)
    return Stakes(
        middle_c=truth.dose_c[:, None], tip_c=truth.tip_c[:, None], nodes_c=truth.held_c[:, None, ..., None],
        fades=np.repeat(fades[:, None, :, None, None], nights, axis=1),
        felt=np.repeat(felt[:, None, :, None], nights, axis=1), tip_keeps=np.ones((garden.lanes, 3)),
        half_c=truth.half_c, width_c=width, holding=truth.holding[:, None],
        work=np.repeat(garden.work[:, None], nights, axis=1), worth=garden.worth,
        tail=np.column_stack([np.zeros(garden.lanes), over, over]), later=np.zeros((garden.lanes, 3)),
        state=np.zeros(garden.lanes, dtype=np.int64), lost=np.zeros(garden.lanes),
    )  # fmt: skip


class OurPlan:
    """The plan, evening by evening, with the forecast of that evening, its members and its stated spreads.

    `recourse` False takes each night's members at their word, as if the last forecast before a night were right.
    """

    def __init__(self, garden: Garden, truth: Truth, prices: PlanPrices, *, recourse: bool = True) -> None:
        self.garden, self.truth, self.prices = garden, truth, prices
        winters = garden.winters
        means = daily_features(winters.min_c, winters.max_c, season=winters.season)[1]
        self.before = means
        self.usual_c, self.lean = lean_of(winters)
        dev_c = _members_c() * np.sqrt(1.0 - self.lean)
        apart = np.concatenate([np.zeros((MEMBERS, 1)), dev_c], axis=1)
        parts = daily_features(apart, apart, (np.zeros(MEMBERS), np.zeros(MEMBERS)))[0]
        outputs = np.stack([one.of(parts) for one in garden.heat])  # (trees, members, leads, states, outputs)
        sigma2 = dev_c.var(axis=0)
        last2 = sigma2[0] if recourse else 0.0
        share = np.sqrt(np.clip(1.0 - last2 / sigma2, 0.0, 1.0))[:, None]
        unforeseen = (1.0 - share**2) * outputs[..., 0].var(axis=1)
        self.known = garden.by_lane(outputs * share[..., None])
        self.full = garden.by_lane(outputs)
        site2 = (garden.site_sd_c[:, None] * damping(garden)) ** 2
        cover2 = COVER_SD_C**2 * np.array([0.0, 1.0, 1.0])
        self.still2 = site2 + cover2
        self.width2 = garden.by_lane(unforeseen) + self.still2[:, None]
        self.dose = _dose_width(garden)
        self.tails, self.later = season_tails(garden, truth, prices)
        self.lost = np.zeros(garden.lanes)
        self.past = garden.felt(daily_features(winters.min_c, winters.max_c, season=winters.season)[0])
        self.felt, self.fades = (
            garden.by_lane(np.stack([getattr(h, name) for h in garden.heat])) for name in ("felt", "fades")
        )

    def __call__(self, night: int, state: Ints) -> Ints:
        stakes = self.stakes(night, state)
        found = answers(stakes, np.full(stakes.shape, self.prices.visit), np.empty((len(state), 0), dtype=np.int64))
        cost = found.cost.mean(axis=1)
        lane = np.arange(len(state))
        others = np.where(np.arange(3) == state[:, None], np.inf, cost)
        change = others.argmin(axis=1)
        margin = self.prices.visit + np.where(change < state, self.prices.least_gain, 0.0)
        new = np.where(cost[lane, state] - others[lane, change] > margin, change, state)
        self._learn(night, new)
        return new

    def _learn(self, night: int, state: Ints) -> None:
        """The share the night will have taken, once its weather is known and all else is not."""
        lane, garden = np.arange(len(state)), self.garden
        dose, tip = (self.past[lane, FIRST_DAY + night, state, i] for i in (0, 1))
        width = np.sqrt(self.still2[lane, state] + self.dose**2 + garden.sd_c[:, night] ** 2)
        half = garden.half_c[:, night]
        share = with_tip(normal_share((half - dose) / width), normal_share((half - tip) / width))
        self.lost = lost_together(self.lost, share)

    def stakes(self, night: int, state: Ints) -> Stakes:
        """What is at stake from one evening to the end of its forecast."""
        garden, winters, day = self.garden, self.garden.winters, FIRST_DAY + night
        span = slice(day, day + LEADS + 1)
        told = self.truth.error_c[:, night]
        told = told - self.lean * (winters.min_c[:, day + 1 : day + LEADS + 1] + told - self.usual_c[span][1:])
        error = np.concatenate([np.zeros((len(winters.years), 1)), told], axis=1)
        before = (self.before[0][:, day - 1], self.before[1][:, day - 1])
        features, _ = daily_features(
            winters.min_c[:, span] + error, winters.max_c[:, span] + error, before, winters.season[span]
        )
        mean = garden.felt(features)[:, None]
        known, full = mean + self.known, mean + self.full
        ahead = np.full(LEADS, night)  # the plan does not know how the wood will change
        held = np.concatenate([np.broadcast_to(self.truth.held_c[:, night][:, None, None], known[:, :, :1, :, 4].shape),
                               known[:, :, :-1, :, 4]], axis=2)  # fmt: skip
        sd2 = self.dose**2 + garden.sd_c[:, night] ** 2
        return Stakes(
            middle_c=known[..., 0], tip_c=known[..., 1], nodes_c=held[..., None],
            fades=np.repeat(self.fades[:, None, :, None, None], LEADS, axis=1),
            felt=np.repeat(self.felt[:, None, :, None], LEADS, axis=1), tip_keeps=np.ones((garden.lanes, 3)),
            half_c=garden.half_c[:, ahead], width_c=np.sqrt(self.width2 + sd2[:, None, None]),
            holding=season_holding(full[..., 2], full[..., 3], night, self.prices),
            work=np.repeat(garden.work[:, None], LEADS, axis=1), worth=garden.worth, tail=self.tails[:, night],
            later=self.later[:, night], state=state, lost=self.lost,
        )  # fmt: skip


def _members_c() -> Floats:
    """Departures of the members from the forecast, shape (members, leads) [°C]; the same every evening."""
    quantiles = np.array([NormalDist().inv_cdf((i + 0.5) / MEMBERS) for i in range(MEMBERS)])
    shuffle = np.random.default_rng(MEMBERS)
    draws = np.column_stack([shuffle.permutation(quantiles) for _ in range(LEADS)])
    lags = np.abs(np.subtract.outer(np.arange(LEADS), np.arange(LEADS)))
    field = draws @ np.linalg.cholesky(SAME_ERROR**lags).T
    field = (field - field.mean(axis=0)) / field.std(axis=0)
    return np.asarray(field * lead_sigma_c(24.0 * np.arange(1, LEADS + 1)))


def season_tails(garden: Garden, truth: Truth, prices: PlanPrices) -> tuple[Floats, Floats]:
    """Cost beyond the forecast of each evening, and share of the living wood lost then, (lanes, nights, states).

    The mean over the other winters of what each would cost, and lose, from that day on by its own best course.
    """
    season, nights = believed_season(garden, truth, prices), garden.winters.nights
    begins = np.unique(np.append(np.arange(0, nights, TAIL_EVERY), nights - 1))
    found = [_from_night(season, int(night), prices) for night in begins]
    cost, lost = (np.stack([one[i] for one in found], axis=1) for i in (0, 1))
    means = []
    for values in (cost - garden.worth[:, None, None] * lost, lost):
        by_tree = values.reshape(len(garden.trees), len(garden.winters.years), *values.shape[1:])
        others = (by_tree.sum(axis=1, keepdims=True) - by_tree) / max(len(garden.winters.years) - 1, 1)
        means.append(others.reshape(values.shape))
    at = np.minimum(np.arange(nights) + LEADS, nights - 1)
    low = np.clip(np.searchsorted(begins, at, side="right") - 1, 0, len(begins) - 2)
    share = ((at - begins[low]) / (begins[low + 1] - begins[low]))[:, None]
    tail, later = (one[:, low] * (1 - share) + one[:, low + 1] * share for one in means)
    return tail, later


def _from_night(season: Stakes, night: int, prices: PlanPrices) -> tuple[Floats, Floats]:
    """Cost and loss of each winter's own best course from one night on, by the state it begins in."""
    cut = slice(night, None)
    work = season.work[:, cut].copy()
    work[:, 0] = 0.0
    rest = replace(
        season, middle_c=season.middle_c[:, :, cut], tip_c=season.tip_c[:, :, cut], nodes_c=season.nodes_c[:, :, cut],
        fades=season.fades[:, cut], felt=season.felt[:, cut], half_c=season.half_c[:, cut],
        width_c=season.width_c[:, cut], holding=season.holding[:, :, cut], work=work,
    )  # fmt: skip
    lanes = season.shape[0]
    found = answers(rest, np.full(rest.shape, prices.visit), np.empty((lanes, 0), dtype=np.int64))
    return found.cost[:, 0], found.lost[:, 0]
