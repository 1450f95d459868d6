"""The front door: one garden, its weather, its past -> margins, plan and doubts for every tree and night."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import cache, cached_property

import numpy as np
import numpy.typing as npt

from rules.garden.cover import STATES, CoverState
from rules.garden.doubt import Doubt, DoubtKind
from rules.garden.records import mould_seen, state_now
from rules.garden.tree import Site, Standing, Tree
from rules.heat.ahead import HeatAhead, StateCourse, bare_course, heat_ahead
from rules.heat.marching.start import HeatStart
from rules.heat.stopgap import blanket_gains_c
from rules.heat.what_if import Stand
from rules.outlook.blankets import evenings_ahead, hours_under, may_have_blanket, with_blankets
from rules.outlook.inputs import (
    Carried,
    OutlookInputs,
    air_doubts,
    cover_of,
    members_ahead,
    timeline_of,
    tree_hardiness,
    tree_weathers,
)
from rules.outlook.nights import nights_ahead
from rules.outlook.past import Past, past_carried
from rules.plan.acts import Act
from rules.plan.certainty.frost_free import needs_no_cover
from rules.plan.garden_plan import NOTHING, Plan, plan
from rules.plan.situation import LAST_LOOK_H, TreeSituation
from rules.plan.slots import longest_wait_h, slots_ahead
from rules.site.soil import soil_doubt
from rules.weather.timeline import Timeline
from rules.wood.hardiness import Hardiness, WoodDays
from rules.wood.margins import Night, TissueWhenAsked, TreeMargins

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Outlook:
    """All that bedstraw knows of one garden at one moment."""

    now: datetime
    site: Site
    service: str
    issued_utc: datetime | None
    fetched_utc: datetime | None
    credit: str
    trees: Sequence[TreeMargins]
    plan: Plan
    doubts: tuple[Doubt, ...]

    @property
    def acts(self) -> tuple[Act, ...]:
        """What the plan asks for, in the order in which it must be done."""
        return self.plan.acts

    def tree(self, name: str) -> TreeMargins:
        """The margins of the tree called `name`.

        Raises
        ------
        KeyError
            If the garden has no such tree.
        """
        for found in self.trees:
            if found.tree.name == name:
                return found
        raise KeyError(name)

    @property
    def held_dead(self) -> list[str]:
        """The trees that are probably dead above ground, as far as nobody has looked; one left bare was given up."""
        dead = [one for one in self.trees if one.hardiness.lost.held_dead and not one.hardiness.lost.told]
        return [one.tree.name for one in dead if not one.tree.left_bare]

    def chance_if_nothing_is_done(self) -> dict[tuple[str, date], float]:
        """Chance of harm by (tree, evening), every cover left as it stands."""
        return {
            (one.tree.name, night.evening): night.tissue[one.state_assumed].chance
            for one in self.trees
            for night in one.nights
        }


def outlook(inputs: OutlookInputs, now: datetime) -> Outlook:
    """The outlook of one garden.

    Without a forecast that reaches beyond `now` the trees have no nights, and the doubts say so.
    """
    return outlook_carried(inputs, now, None)[0]


def outlook_carried(inputs: OutlookInputs, now: datetime, carried: Carried | None) -> tuple[Outlook, Carried | None]:
    """The outlook of one garden, and what the next one may carry on."""
    line = timeline_of(inputs, now)
    if line is None:
        return _assembled(inputs, _without_weather(inputs, now), NOTHING, None, now), None
    trees, planned, carried = _with_weather(inputs, line, now, carried)
    return _assembled(inputs, trees, planned, line, now), carried


def _assembled(
    inputs: OutlookInputs, trees: Sequence[TreeMargins], planned: Plan, line: Timeline | None, now: datetime
) -> Outlook:
    forecast = inputs.forecast
    return Outlook(
        now=now,
        site=inputs.site,
        service=forecast.service if forecast else "",
        issued_utc=forecast.issued_utc if forecast else None,
        fetched_utc=forecast.fetched_utc if forecast else None,
        credit=forecast.credit if forecast else "",
        trees=trees,
        plan=planned,
        doubts=_doubts(inputs, line),
    )


def _doubts(inputs: OutlookInputs, line: Timeline | None) -> tuple[Doubt, ...]:
    of_line = line.doubts if line else ()
    blind = (
        ()
        if line or any(d.kind == DoubtKind.NO_FORECAST for d in inputs.doubts)
        else (Doubt(kind=DoubtKind.NO_FORECAST),)
    )
    return (*blind, *inputs.doubts, *(inputs.forecast.doubts if inputs.forecast else ()), *of_line)


def _without_weather(inputs: OutlookInputs, now: datetime) -> list[TreeMargins]:
    today = now.astimezone(inputs.site.zone).date()
    nothing = WoodDays.nothing(today)
    return [_margins(inputs, tree, tree_hardiness(inputs, tree, nothing, today), now) for tree in inputs.trees]


def _margins(inputs: OutlookInputs, tree: Tree, hardiness: Hardiness, now: datetime) -> TreeMargins:
    state = state_now(inputs.records, tree.name, now)
    cover = cover_of(inputs, tree)
    unknown = Doubt(kind=DoubtKind.STATE_UNKNOWN, subject=tree.name)
    doubts = (unknown,) if state is None and cover and not tree.left_bare else ()
    return TreeMargins(tree=tree, cover=cover, state=state, hardiness=hardiness, nights=(), doubts=doubts)


def _with_weather(
    inputs: OutlookInputs, line: Timeline, now: datetime, carried: Carried | None
) -> tuple[list[TreeMargins], Plan, Carried | None]:
    past, carried = past_carried(inputs, line, carried)
    today = now.astimezone(inputs.site.zone).date()
    field = past.field_days(inputs.site.zone) if past else None
    margins = [
        _margins(inputs, tree, tree_hardiness(inputs, tree, _wood_days(past, i, inputs.site, today), today, field), now)
        for i, tree in enumerate(inputs.trees)
    ]
    if inputs.forecast is None:
        raise ValueError("a timeline without a forecast cannot be")
    members_c = members_ahead(inputs, inputs.forecast, line.ahead, now)
    seen, planned = _Ahead(inputs, line, now, margins, members_c, past.finish if past else None).seen()
    return [_with_its_chances(one, planned) for one in seen], _without_the_dead(planned, seen), carried


class _Ahead:
    """The hours to come at all trees; their heat is reckoned once, and not at all while nothing can freeze."""

    def __init__(
        self,
        inputs: OutlookInputs,
        line: Timeline,
        now: datetime,
        margins: Sequence[TreeMargins],
        members_c: Floats,
        start: HeatStart | None,
    ) -> None:
        self.inputs, self.line, self.now, self.start = inputs, line, now, start
        self.margins, self.members_c = margins, members_c
        self.weathers = tree_weathers(inputs, line.ahead, inputs.trees, members_c)
        tended_air = [weather for weather, one in zip(self.weathers, margins, strict=True) if one.tended]
        self.times = slots_ahead(tended_air, inputs.site, now, free=inputs.free)

    @cached_property
    def heat(self) -> HeatAhead:
        """Every tree in every state of its cover."""
        covers = [one.cover if one.tended else None for one in self.margins]
        wait_h, marks = longest_wait_h(self.times, self.line.ahead.hours), [slot.mark for slot in self.times]
        heat = heat_ahead(covers, self.weathers, self.start, self.inputs.soil, wait_h, marks)
        tended = [i for i, one in enumerate(self.margins) if one.tended]
        over = {i: (self._stand(i), hours) for i in tended if (hours := self._under_blanket(i))}
        return with_blankets(heat, over, tended, self.inputs.soil)

    def _under_blanket(self, i: int) -> list[slice]:
        return hours_under(self.inputs.records, self.margins[i].tree.name, self.line.ahead, self.inputs.site.zone)

    def _stand(self, i: int) -> Stand:
        cover = self.margins[i].cover
        if cover is None:
            raise ValueError(f"{self.margins[i].tree.name} has no cover")
        return Stand(cover, self.weathers[i], self.start.of([i]) if self.start else None)

    def _blankets(self, trees: Sequence[TreeMargins]) -> dict[int, Floats]:
        """What a blanket would gain on each evening ahead at the trees for which one is weighed."""
        able = [i for i, one in enumerate(trees) if may_have_blanket(one)]
        hours = self.line.ahead.hours
        nights = [evenings_ahead(self.times, hours, self._under_blanket(i)) for i in able]
        gains_c = blanket_gains_c([self._stand(i) for i in able], nights, self.inputs.soil)
        return dict(zip(able, gains_c, strict=True))

    def seen(self) -> tuple[list[TreeMargins], Plan]:
        """The margins with their nights, and the plan."""
        tended = [self._situation(i) for i, one in enumerate(self.margins) if one.tended]
        if needs_no_cover(tended, self.times, self.inputs.site, self.inputs.climate):
            planned = replace(NOTHING, second_thoughts=cache(lambda: self._planned().second_thoughts()))
            return [self._bare(i) for i in range(len(self.margins))], planned
        whole = [self._whole(i) for i in range(len(self.margins))]
        return whole, self._planned(self._blankets(whole))

    def _planned(self, blankets: Mapping[int, Floats] | None = None) -> Plan:
        over = blankets or {}
        tended = [
            replace(self._situation(i, self.heat.by_tree[i]), blanket_c=over.get(i))
            for i, one in enumerate(self.margins) if one.tended
        ]  # fmt: skip
        inputs = self.inputs
        return plan(
            tended, self.heat.covered, self.times, inputs.site,
            refused=inputs.refused, away=inputs.away, climate=inputs.climate,
        )  # fmt: skip

    def _situation(self, i: int, courses: Mapping[CoverState, StateCourse] | None = None) -> TreeSituation:
        one, cover = self.margins[i], self.margins[i].cover
        if cover is None:
            raise ValueError(f"{one.tree.name} has no cover to tend")
        return TreeSituation(
            tree=one.cared_for,
            cover=cover,
            state=one.state_assumed,
            weather=self.weathers[i],
            hardiness=one.hardiness,
            lost_share=one.hardiness.lost_share,
            sd_c={state: float(course.spread_c.max()) for state, course in (courses or {}).items()},
            last_look_sd_c=float(self.inputs.forecast_error.sigma_c(LAST_LOOK_H)),
            free=self.inputs.free,
            mould=mould_seen(self.inputs.records, one.tree.name, self.now),
            tables=self.inputs.tables,
            asked=one.tree.name in self.inputs.asked,
        )

    def _whole(self, i: int) -> TreeMargins:
        """The margins of one tree with its nights in every state of its cover."""
        courses = self.heat.by_tree[i]
        return self._with_nights(i, self._nights(i, courses), _cover_doubt(self.inputs, courses, self.margins[i]))

    def _bare(self, i: int) -> TreeMargins:
        """The same where every tree is bare, the other states told when they are asked for."""
        nights = self._nights(i, {CoverState.BARE: bare_course(self.weathers[i])})
        if not self.margins[i].tended:
            return self._with_nights(i, nights, ())
        whole = cache(lambda: self._nights(i, self.heat.by_tree[i]))

        def told(n: int) -> TissueWhenAsked:
            return TissueWhenAsked(nights[n].tissue, tuple(STATES), lambda: whole()[n].tissue)

        return self._with_nights(i, [replace(night, tissue=told(n)) for n, night in enumerate(nights)], ())

    def _nights(self, i: int, courses: Mapping[CoverState, StateCourse]) -> list[Night]:
        one, ahead = self.margins[i], self.line.ahead
        return nights_ahead(
            ahead, self.members_c, self.weathers[i], courses, one.hardiness, self.inputs.site,
            outside=one.outside, in_pot=one.tree.standing is Standing.POT,
        )  # fmt: skip

    def _with_nights(self, i: int, nights: Sequence[Night], more: tuple[Doubt, ...]) -> TreeMargins:
        one = self.margins[i]
        return replace(
            one, nights=nights, doubts=(*one.doubts, *air_doubts(self.inputs, one.tree, self.weathers[i]), *more)
        )


def _without_the_dead(planned: Plan, trees: Sequence[TreeMargins]) -> Plan:
    """A plan that asks for nothing at the cover of a tree that is held dead: on or off, it saves nothing any more."""
    dead = {one.tree.name for one in trees if one.hardiness.lost.held_dead}
    return replace(planned, acts=tuple(act for act in planned.acts if act.tree not in dead))


def _wood_days(past: Past | None, tree: int, site: Site, today: date) -> WoodDays:
    return past.wood_days(tree, site.zone) if past else WoodDays.nothing(today)


def _with_its_chances(one: TreeMargins, planned: Plan) -> TreeMargins:
    """The margins with the doubt that no cover saves this tree, where the plan has it."""
    gone = planned.past_saving.get(one.tree.name)
    lost = () if gone is None else (Doubt(kind=DoubtKind.PAST_SAVING, subject=one.tree.name, amount=gone),)
    return replace(one, doubts=(*lost, *one.doubts))


def _cover_doubt(
    inputs: OutlookInputs, courses: Mapping[CoverState, StateCourse], one: TreeMargins
) -> tuple[Doubt, ...]:
    if one.state_assumed == CoverState.BARE:
        return ()
    amount = float(courses[one.state_assumed].spread_c.max())
    guessed = Doubt(kind=DoubtKind.COVER_GUESSED, subject=one.tree.name, amount=amount)
    return (guessed, *soil_doubt(inputs.soil))
