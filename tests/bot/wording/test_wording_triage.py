"""What is done first when not all can be done, and what is said of what is left out."""

from dataclasses import replace
from datetime import date, datetime, timedelta

import numpy as np
import pytest

from bot.nudges import Ask, DueNudge, NudgeState, PastNudge, Stage, asked_for, at_risk_tonight
from bot.wording.covers.condition import has_none
from bot.wording.covers.little_things import offer_lines, offer_of, unasked
from bot.wording.covers.triage import first_things, may_open
from bot.wording.nudges import nudge_text
from rules.garden.cover import Cover, CoverState, Preset
from rules.garden.records import DeedKind
from rules.garden.shed import Shed, SupplyKind
from rules.heat.what_if import WhatIfKind
from rules.outlook.little_things import LittleThing, chance_with, cheapest_enough, pays
from rules.outlook.nights import calm_stretches
from rules.outlook.triage import Hindrance, Triage, triage, work_again_utc
from rules.plan.acts import Act, Reason
from rules.plan.garden_plan import NOTHING
from rules.wood.margins import Night, Tissue, TreeMargins
from tests.bot.wording.test_wording_questions import NOW, STYLE, TONIGHT, margins, night, outlook
from tests.hourly import hours_of

HOUR = timedelta(hours=1)


def felt(chance: float, lost: float) -> Tissue:
    return Tissue(
        wood_c=-10.0, top_c=-10.2, low_c=-12.0, high_c=-8.0, sd_c=1.0, chance=chance, lost=lost, warmest_c=0.0
    )


def threatened(
    name: str, *, minutes: float = 60.0, lost: float = 0.5, gust_m_s: float = 3.0, light: timedelta = 4 * HOUR,
    state: CoverState | None = CoverState.BARE, preset: Preset = Preset.STRAW,
) -> TreeMargins:  # fmt: skip
    """A tree that tonight would cost `lost` of its wood as it stands bare and nothing shut, with so much light left."""
    states = {
        CoverState.BARE: felt(0.8, lost),
        CoverState.VENTED: felt(0.5, lost / 2),
        CoverState.CLOSED: felt(0.0, 0.0),
    }
    ahead: Night = replace(
        night(), sunrise_utc=NOW - 2 * HOUR, sunset_utc=NOW + light, gust_m_s=gust_m_s, tissue=states, evening=TONIGHT
    )
    cover = Cover(name=name, preset=preset, minutes_to_wrap=minutes)
    return replace(margins(name, state), cover=cover, nights=[ahead])


CALM = dict.fromkeys(CoverState, felt(0.01, 0.0))


def act(tree: str, kind: DeedKind, state: CoverState, *, night: date, by_utc: datetime) -> Act:
    return Act(
        tree=tree, kind=kind, state=state, reason=Reason.COLD, night=night, from_utc=NOW, by_utc=by_utc, minutes=30.0,
        chance=0.8, chance_after=0.0, saves_trips=5.0, price_trips=1.0,
    )  # fmt: skip


def hindered(found: Triage) -> dict[str, Hindrance | None]:
    return {one.tree: one.hindrance for one in found.left_out}


def test_what_saves_most_for_its_minutes_comes_first_and_what_no_time_is_left_for_is_left_out() -> None:
    trees = threatened("Quick", minutes=30), threatened("Dear", minutes=60, lost=0.9), threatened("Long", minutes=200)
    found = triage(outlook(*trees), Shed())
    assert [one.tree for one in found.first] == ["Quick", "Dear"]
    assert hindered(found) == {"Long": Hindrance.TIME}
    assert not triage(outlook(*trees), Shed(), hands=2).left_out


@pytest.mark.parametrize(
    ("tree", "why"),
    [
        (threatened("Tree", gust_m_s=15.0), Hindrance.WIND),
        (threatened("Tree", light=timedelta(0)), Hindrance.DARK),
        (threatened("Tree", state=CoverState.VENTED, light=timedelta(0)), Hindrance.DARK),
        (replace(threatened("Tree"), cover=None), Hindrance.NO_COVER),
    ],
)
def test_what_forbids_the_work_is_named(tree: TreeMargins, why: Hindrance) -> None:
    found = triage(outlook(tree), Shed())
    assert not found.first
    assert hindered(found) == {"Tree": why}


def test_the_last_straw_goes_where_it_saves_most_and_an_unknown_shed_hinders_nothing() -> None:
    trees = threatened("Dear", lost=0.9), threatened("Cheap", lost=0.3)
    one_cage = Shed(have={SupplyKind.STRAW: 4})  # bales of 16 kg; a cage takes 54 kg
    found = triage(outlook(*trees), one_cage)
    assert ([one.tree for one in found.first], hindered(found)) == (["Dear"], {"Cheap": Hindrance.STOCK})
    assert len(triage(outlook(*trees), Shed()).first) == 2


def test_work_is_possible_again_on_the_next_calm_morning_and_never_where_none_is_in_sight() -> None:
    windy = replace(night(), sunrise_utc=NOW, sunset_utc=NOW + 8 * HOUR, gust_m_s=15.0)
    calm = replace(windy, sunrise_utc=NOW + 24 * HOUR, sunset_utc=NOW + 32 * HOUR, gust_m_s=3.0)
    assert work_again_utc([windy, calm], NOW) == NOW + 25 * HOUR
    assert work_again_utc([windy], NOW) is None


def test_a_pot_is_carried_in_when_it_is_too_dark_to_work_at_covers() -> None:
    pot = threatened("Pot", minutes=20, light=-HOUR, preset=Preset.GARAGE)
    seen = outlook(pot, threatened("Cage", light=-HOUR))
    found = triage(seen, Shed())
    assert [one.tree for one in found.first] == ["Pot"]
    assert hindered(found) == {"Cage": Hindrance.DARK}
    first, then, *_ = first_things(found, seen, {}, STYLE).splitlines()
    assert first.startswith("Too dark to work now, but for what is carried in; there is light again")
    assert then.startswith("First bring Pot in (20 minutes)")
    alone = first_things(triage(outlook(pot), Shed()), outlook(pot), {}, STYLE)
    assert "of light" not in alone  # of which there is none


def test_a_pot_carried_after_dusk_takes_no_daylight_from_the_covers() -> None:
    pot = threatened("Pot", minutes=110, lost=0.99, light=2 * HOUR, preset=Preset.GARAGE)
    found = triage(outlook(pot, threatened("Cage", minutes=60)), Shed())
    assert not found.left_out


def test_what_is_left_out_is_said_with_its_chance_its_loss_and_what_helps() -> None:
    seen = outlook(threatened("Quick", minutes=30), threatened("Long", minutes=300))
    bucket = LittleThing(kind=WhatIfKind.BUCKET, gain_c=2.0, chance=0.04)
    text = first_things(triage(seen, Shed()), seen, {"Long": [bucket]}, STYLE, fits_with_more=2)
    assert "First wrap Quick (30 minutes): 8 in 10 that it gets too cold as it is, under 1 in 20 then." in text
    assert "Long: no time left to wrap it before dark (5 hours)" in text
    assert "I would expect half of its wood to die back." in text
    assert "about 2.0 °C warmer, under 1 in 20 then" in text
    assert "With 2 pairs of hands all of it could be done." in text


def test_no_gain_leaves_the_told_chance_and_the_least_that_is_enough_is_offered() -> None:
    one = threatened("Tree")
    ahead = one.nights[0]
    assert chance_with(one, ahead, 0.0) == pytest.approx(0.8)
    assert chance_with(one, ahead, 3.0) < 0.3 < chance_with(one, ahead, -1.0)
    much, little = (
        LittleThing(kind=WhatIfKind.BLANKET, gain_c=3.0, chance=0.01),
        LittleThing(kind=WhatIfKind.BUCKET, gain_c=2.0, chance=0.04),
    )
    assert cheapest_enough([much, little], 0.05) == little
    assert cheapest_enough([much, little], 0.02) == much
    assert offer_of(one, [LittleThing(kind=WhatIfKind.BUCKET, gain_c=0.3, chance=0.78)], TONIGHT) is None


def test_a_closing_is_a_cheaper_job_than_a_wrap() -> None:
    found = triage(outlook(threatened("Top", state=CoverState.VENTED), threatened("Bare")), Shed())
    assert [(one.tree, one.deed) for one in found.first] == [("Top", DeedKind.CLOSED), ("Bare", DeedKind.WRAPPED)]


def test_wind_forbids_work_by_the_hour_and_names_when_it_drops() -> None:
    one = threatened("Gate", minutes=30, gust_m_s=20.0, light=6 * HOUR)
    drops = NOW + 2 * HOUR
    one = replace(one, nights=[replace(one.nights[0], calm=((drops, NOW + 6 * HOUR),))])
    found = triage(outlook(one), Shed())
    assert [first.tree for first in found.first] == ["Gate"]
    assert found.free_minutes == 220  # four calm hours but for the last twenty minutes before dusk
    assert f"Too windy until {STYLE.clock(drops)}: begin when the wind drops." in first_things(
        found, outlook(one), {}, STYLE
    )
    assert work_again_utc(one.nights, NOW) == drops


def test_the_wind_is_blamed_where_work_at_a_cover_would_help_and_not_for_a_cover_that_is_shut() -> None:
    for state, blamed in ((CoverState.BARE, True), (CoverState.CLOSED, False)):
        one = threatened("Gate", gust_m_s=20.0, state=state)
        shut = felt(0.0 if blamed else 0.7, 0.5)
        worst = {**one.nights[0].tissue, CoverState.VENTED: felt(0.8, 0.5), CoverState.CLOSED: shut}
        one = replace(one, nights=[replace(one.nights[0], tissue=worst)])
        risky = at_risk_tonight(outlook(one), TONIGHT, ())
        told = unasked({}, [one], risky, one.nights[0], None, STYLE, NOW)
        assert told.startswith("Too windy for work at covers") is blamed
        assert bool(told) is blamed


def test_a_tree_whose_own_ask_names_the_wind_is_not_told_at_risk_beside_it() -> None:
    """On a windy morning the fig is asked for, to begin when the wind drops: the other message speaks of the rest."""
    trees = [threatened(name, gust_m_s=20.0) for name in ("Gate", "Wall", "Pot")]
    by_plan = act("Gate", DeedKind.WRAPPED, CoverState.CLOSED, night=TONIGHT, by_utc=NOW + 2 * HOUR)
    seen = replace(outlook(*trees), plan=replace(NOTHING, acts=(by_plan,)))
    stands = PastNudge(key="a", stage=Stage.TODAY, verb=DeedKind.WRAPPED, trees=("Wall",), day=TONIGHT, opened_utc=NOW)
    over = replace(stands, state=NudgeState.ANSWERED)
    for said, rest in (([], ["Wall", "Pot"]), ([stands], ["Pot"]), ([over], ["Wall", "Pot"])):
        assert at_risk_tonight(seen, TONIGHT, asked_for(seen, said, TONIGHT)) == rest


def test_a_gust_belongs_to_the_hour_before_its_mark() -> None:
    blown = np.array([3.0, 20.0, 20.0, 3.0, np.nan, 3.0])
    ahead = hours_of(NOW, np.zeros(6), gust_m_s=blown)
    assert calm_stretches(ahead, NOW, NOW + 4.5 * HOUR) == ((NOW + 2 * HOUR, NOW + 4.5 * HOUR),)


def test_what_is_asked_today_for_a_later_night_comes_first_too() -> None:
    """The answer to "what should I do first" knows of every nudge whose work is for today."""
    one = threatened("Gate", minutes=30)
    mild, cold = replace(one.nights[0], tissue=CALM), replace(one.nights[0], evening=TONIGHT + timedelta(days=1))
    asked = act("Gate", DeedKind.WRAPPED, CoverState.CLOSED, night=cold.evening, by_utc=NOW + 2 * HOUR)
    seen = replace(outlook(replace(one, nights=[mild, cold])), plan=replace(NOTHING, acts=(asked,)))
    text = first_things(triage(seen, Shed()), seen, {}, STYLE)
    assert f"First wrap Gate for {STYLE.night(cold.evening, NOW)} (30 minutes, begin by" in text
    assert "8 in 10" in text


def test_whether_the_tops_may_be_opened_is_answered_from_the_plan_and_all_its_nights() -> None:
    gate, wall = threatened("Gate", state=CoverState.VENTED), threatened("Wall", state=CoverState.CLOSED)
    mild = replace(wall.nights[0], tissue=CALM)
    wall = replace(wall, nights=[mild, replace(wall.nights[0], evening=TONIGHT + timedelta(days=1))])
    asked = act("Gate", DeedKind.CLOSED, CoverState.CLOSED, night=TONIGHT, by_utc=NOW + 2 * HOUR)
    seen = replace(outlook(gate, wall), plan=replace(NOTHING, acts=(asked,)))
    told = may_open(seen, [gate, wall], STYLE, NOW)
    assert f"Close, as I ask: Gate today by {STYLE.clock(asked.by_utc)}" in told
    assert "Yes: Wall can be open tonight as well." in told
    assert f"But shut before {STYLE.night(TONIGHT + timedelta(days=1), NOW)}: Wall, 5 in 10" in told


def test_the_cover_itself_is_the_first_help_where_it_stands_open() -> None:
    shut = LittleThing(kind=WhatIfKind.CLOSED, gain_c=9.0, chance=0.01)
    bucket = LittleThing(kind=WhatIfKind.BUCKET, gain_c=2.0, chance=0.04)
    assert cheapest_enough([shut, bucket], 0.05) == shut


def test_a_nudge_for_a_windy_day_names_the_wind_and_when_it_drops() -> None:
    one = threatened("Gate", minutes=30, gust_m_s=20.0, light=6 * HOUR)
    drops = NOW + 2 * HOUR
    one = replace(one, nights=[replace(one.nights[0], calm=((drops, NOW + 6 * HOUR),))])
    wanted = act("Gate", DeedKind.WRAPPED, CoverState.CLOSED, night=TONIGHT, by_utc=NOW + 5 * HOUR)
    ask = Ask(verb=DeedKind.WRAPPED, day=TONIGHT, acts=(wanted,))
    due = DueNudge(key="n", stage=Stage.TODAY, day=TONIGHT, expires_utc=NOW + 5 * HOUR, ask=ask, trees=("Gate",))
    assert f"the wind drops at {STYLE.clock(drops)}; begin then." in nudge_text(due, outlook(one), STYLE)


def test_a_heads_up_that_lapses_says_why_and_calls_it_no_good_news() -> None:
    about = PastNudge(
        key="h", stage=Stage.HEADS_UP, verb=DeedKind.WRAPPED, trees=("Gate",), day=TONIGHT,
        opened_utc=NOW - 24 * HOUR, chance=0.8, night=TONIGHT,
    )  # fmt: skip
    over = DueNudge(
        key="s", stage=Stage.STAND_DOWN, day=TONIGHT, expires_utc=NOW + HOUR, about=about, trees=("Gate",), lapsed=True
    )  # fmt: skip
    told = nudge_text(over, outlook(threatened("Gate")), STYLE)
    assert told.startswith("I said I would ask you to wrap Gate today: I do not.")
    assert "Gate: 8 in 10 that it gets too cold as it stands" in told
    assert "by my plan it saves too little for the work" in told


def test_one_little_thing_is_told_once_for_all_the_trees_it_helps() -> None:
    thing = LittleThing(kind=WhatIfKind.BLANKET, gain_c=2.0, chance=0.1)
    offered = {"Well": (0.3, thing, True), "Gate": (0.3, thing, True), "Tub": (0.5, thing, True)}
    (line,) = offer_lines(offered, STYLE)
    assert line == (
        "A blanket round it, tied over the top lowers the chance of too cold a night for Well and Gate from 3 in 10 to "
        "1 in 10 and for Tub from 5 in 10 to 1 in 10."
    )


def test_little_things_blame_a_cover_only_where_it_is_on() -> None:
    thing = LittleThing(kind=WhatIfKind.BUCKET, gain_c=2.0, chance=0.1)
    for bare, head in (
        ((False,), "The cover does not do enough tonight: Tree 0."),
        ((True, True), "Bare and at risk tonight: Tree 0 and Tree 1."),
        ((True, False), "At risk tonight: Tree 0 and Tree 1."),
    ):
        offered = {f"Tree {i}": (0.5, thing, one) for i, one in enumerate(bare)}
        assert unasked(offered, [], [], None, None, STYLE, NOW).splitlines()[0] == head
        lost = unasked(offered, [], [], None, None, STYLE, NOW, ["Tree 0", "not at risk"]).splitlines()[0]
        assert lost == f"{head} By past winters no cover here saves Tree 0; what you can still do for it:"


def test_damage_to_what_a_cover_lacks_is_not_noted_and_the_way_to_keep_it_is_told() -> None:
    assert has_none(("Shed fig",), "film") == (
        'Shed fig has no film in its cover that I know of: not noted. "note: …" keeps it all the same.'
    )


def test_an_offer_is_worth_its_way_for_a_tree_one_values_and_not_for_one_to_be_given_away() -> None:
    """Two visits for a blanket that takes a third of the chance: half of a tree worth 8 trips does not pay for it."""
    one, blanket = threatened("Tree"), LittleThing(kind=WhatIfKind.BLANKET, gain_c=1.0, chance=0.5)
    valued, given = (replace(one, tree=one.tree.model_copy(update={"worth_trips": worth})) for worth in (40.0, 8.0))
    assert pays(blanket, valued, TONIGHT)
    assert not pays(blanket, given, TONIGHT)
    enough = LittleThing(kind=WhatIfKind.BLANKET, gain_c=6.0, chance=0.0)
    assert pays(enough, given, TONIGHT)
