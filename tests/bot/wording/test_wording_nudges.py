"""The words of a nudge: the ask in the first line, caps as they are to be left, no chance that seems to contradict."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from bot.nudges import Ask, DueNudge, Stage, asks
from bot.wording.nights import due_line
from bot.wording.nudges import nudge_text
from bot.wording.nudges.asks import MOST_REASONS
from bot.wording.table import outlook_table
from rules.garden.cover import Cover, CoverState
from rules.garden.doubt import Doubt, DoubtKind
from rules.garden.records import DeedKind
from rules.garden.species import Organ
from rules.garden.tree import Tending, Tree
from rules.plan.acts import Act, Reason
from rules.wood.buds.critical import bud_row
from rules.wood.buds.stage import BudStage
from rules.wood.daily_temperatures import WoodDays
from rules.wood.dead_wood import WoodLost
from rules.wood.hardiness import hardiness
from rules.wood.margins import TreeMargins
from tests.bot.wording.test_wording_questions import NOW, SITE, STYLE, TONIGHT, margins, night, outlook, tissue


def act(tree: str = "Porch fig", *, chance: float = 0.6, state: CoverState = CoverState.CLOSED) -> Act:
    return Act(tree=tree, kind=DeedKind.WRAPPED, state=state, reason=Reason.COLD, night=TONIGHT, from_utc=NOW,
               by_utc=NOW + timedelta(hours=2), minutes=20, chance=chance, chance_after=0.0, saves_trips=1.0,
               price_trips=0.5)  # fmt: skip


def told(acts: Sequence[Act], *trees: TreeMargins) -> str:
    ask = Ask(verb=acts[0].kind, day=TONIGHT, acts=tuple(acts))
    nudge = DueNudge(key="k", stage=Stage.TODAY, day=TONIGHT, expires_utc=NOW, ask=ask, trees=ask.trees)
    return nudge_text(nudge, outlook(*trees), STYLE)


def bare(name: str, wood_c: float = -12.0) -> TreeMargins:
    cold = replace(night(), tissue={**night().tissue, CoverState.BARE: tissue(wood_c)})
    return replace(margins(name, CoverState.BARE), nights=[cold])


def test_a_wrap_says_how_the_caps_are_to_be_left_since_an_answer_is_taken_for_that() -> None:
    both = margins("Porch fig"), margins("Wall fig")
    assert "Leave the tops shut." in told([act(), act("Wall fig")], *both)
    assert "Leave the cap shut." in told([act()], *both)
    mixed = told([act(), act("Wall fig", state=CoverState.VENTED)], *both)
    assert "Leave the tops shut, but open on Wall fig." in mixed.splitlines()[0]


def test_where_the_wood_is_expected_warmer_than_it_bears_the_doubt_behind_the_chance_is_said() -> None:
    near = bare("Porch fig", wood_c=-8.0)  # it is safe to -9; one in ten nights would fall to -10
    assert "would feel −8 °C, maybe −10 °C; it is safe to −9 °C. 4 in 10 that it gets too cold." in told(
        [act(chance=0.4)], near
    )
    assert "maybe" not in told([act()], bare("Porch fig"))


def test_a_night_before_the_work_that_may_kill_is_not_passed_over_in_silence() -> None:
    later = TONIGHT + timedelta(days=1)
    one = bare("Porch fig")
    both = replace(one, nights=[*one.nights, replace(one.nights[0], evening=later)])
    wrap = replace(act(), night=later)
    ask = Ask(verb=DeedKind.WRAPPED, day=later, acts=(wrap,))
    nudge = DueNudge(key="k", stage=Stage.HEADS_UP, day=later, expires_utc=NOW, ask=ask, trees=ask.trees)
    text = nudge_text(nudge, outlook(both), STYLE)
    assert text.splitlines()[1].startswith("Tonight may be too cold already for Porch fig (")
    assert "already" not in told([act()], one)


def test_an_unlikely_harm_is_asked_for_with_what_the_work_guards() -> None:
    text = told([act(chance=0.03)], bare("Porch fig", wood_c=-8.0))
    assert text.endswith("\nUnlikely, but it takes 20 minutes and the wood is worth 40 trips to you.")
    assert "Unlikely" not in told([act(chance=0.03), act("Wall fig")], bare("Porch fig"), bare("Wall fig"))


def test_of_many_reasons_the_likeliest_harm_comes_first_and_the_rest_in_one_line() -> None:
    trees = [bare(f"Tree {i}", wood_c=-10.0 - i) for i in range(6)]
    text = told([act(one.tree.name, chance=0.3 + 0.1 * i) for i, one in enumerate(trees)], *trees)
    head, *reasons = text.splitlines()
    assert head.startswith("Wrap Tree 0")
    assert len(reasons) == MOST_REASONS
    assert reasons[0].startswith("Tree 5: ")
    assert reasons[-1] == (
        "It may get too cold for Tree 3 (6 in 10), Tree 2 (5 in 10), Tree 1 (4 in 10) and Tree 0 (3 in 10) as well."
    )
    assert len(text) < 600


def test_one_job_has_one_deadline_in_nudge_due_and_outlook_and_says_why_it_is_early() -> None:
    acts = [act("Porch fig"), replace(act("Wall fig"), by_utc=NOW + timedelta(hours=2, minutes=27))]
    seen = outlook(bare("Porch fig"), bare("Wall fig"))
    seen = replace(seen, plan=replace(seen.plan, acts=tuple(acts)))
    first = told(acts, bare("Porch fig"), bare("Wall fig")).splitlines()[0]
    begin, done = NOW + timedelta(hours=2), NOW + timedelta(hours=2, minutes=40)
    assert f"begin by {STYLE.clock(begin)}, so that both fit in" in first
    (ask,) = asks(acts, STYLE.zone)
    assert f"by {STYLE.clock(done)}" in first
    assert f"by {STYLE.clock(done)}: wrap Porch fig and Wall fig" in due_line(ask, seen, STYLE, NOW)
    assert outlook_table(seen, STYLE, []).count(f"begin by {STYLE.clock(begin)}") == 2


def bare_on_purpose(name: str) -> Tree:
    return Tree(name=name, species="fig", left_bare=True)


def test_all_is_well_names_what_comes_nearest_to_harm_and_what_is_left_to_the_cold() -> None:
    nudge = DueNudge(key="k", stage=Stage.ALL_WELL, day=TONIGHT, expires_utc=NOW)
    on_purpose = replace(bare("Trial fig"), tree=bare_on_purpose("Trial fig"))
    text = nudge_text(nudge, outlook(margins("Porch fig"), bare("Olive"), on_purpose), STYLE)
    assert "Nearest to harm is Porch fig: its wood down to −4 °C, and it is safe to −9 °C." in text
    assert text.startswith("There is nothing more to do just now.")  # all is not well where a tree is at risk
    assert text.endswith("Bare, and at risk: Olive. By my plan no work at Olive pays: ask me why.")


def test_of_a_tree_no_cover_saves_the_reason_is_told_once() -> None:
    nudge = DueNudge(key="k", stage=Stage.ALL_WELL, day=TONIGHT, expires_utc=NOW)
    lost = replace(bare("Olive"), doubts=(Doubt(kind=DoubtKind.PAST_SAVING, subject="Olive", amount=0.9),))
    text = nudge_text(nudge, outlook(margins("Porch fig"), lost), STYLE)
    assert text.endswith("Bare, and at risk: Olive. By past winters no cover here saves Olive: ask me why.")
    fine = nudge_text(nudge, outlook(margins("Porch fig")), STYLE)
    assert fine.startswith("All is well: nothing needs doing.")


def test_two_asks_of_one_visit_are_begun_by_one_hour_and_done_by_one() -> None:
    """Forty minutes of closing and 45 of wrapping in one evening: each message says so, and names the other's trees."""
    by = NOW + timedelta(hours=2)
    shut = replace(act(), kind=DeedKind.CLOSED, by_utc=by, minutes=40)
    wrap = replace(act("Olive"), by_utc=by, minutes=45)
    seen = outlook(margins("Porch fig"), bare("Olive"))
    seen = replace(seen, plan=replace(seen.plan, acts=(shut, wrap)))
    first, other = (
        nudge_text(
            DueNudge(key="k", stage=Stage.TODAY, day=TONIGHT, expires_utc=NOW, ask=ask), seen, STYLE
        ).splitlines()[0]
        for ask in asks((shut, wrap), STYLE.zone)
    )
    begin, done = STYLE.clock(by), STYLE.clock(by + timedelta(minutes=85))
    assert f"by {done}" in first
    assert f"by {done}" in other
    assert f"40 minutes: begin by {begin}, with the 45 minutes for Olive." in first
    assert f"45 minutes: begin by {begin}, with the 40 minutes for Porch fig." in other


def test_what_was_asked_for_before_and_is_done_in_the_same_visit_takes_its_time_too() -> None:
    """Of two trees to wrap one was asked for at an earlier look: the hour to begin leaves time for both."""
    by = NOW + timedelta(hours=2)
    fresh, asked = (replace(act(tree), by_utc=by, minutes=60) for tree in ("Porch fig", "Olive"))
    seen = outlook(bare("Porch fig"), bare("Olive"))
    seen = replace(seen, plan=replace(seen.plan, acts=(fresh, asked)))
    ask = Ask(verb=DeedKind.WRAPPED, day=TONIGHT, acts=(fresh,))
    nudge = DueNudge(key="k", stage=Stage.TODAY, day=TONIGHT, expires_utc=NOW, ask=ask)
    first = nudge_text(nudge, seen, STYLE).splitlines()[0]
    assert f"by {STYLE.clock(by + timedelta(minutes=120))}" in first
    assert "60 minutes: begin by" in first
    assert "with the 60 minutes for Olive." in first


def test_a_lid_beside_hours_of_wrapping_is_put_on_any_time_before_dusk() -> None:
    by = NOW + timedelta(hours=2)
    shut = replace(act(), kind=DeedKind.CLOSED, by_utc=by, minutes=5)
    wrap = replace(act("Olive"), by_utc=by, minutes=200)
    seen = outlook(margins("Porch fig"), bare("Olive"))
    seen = replace(seen, plan=replace(seen.plan, acts=(shut, wrap)))
    (ask, _) = asks((shut, wrap), STYLE.zone)
    nudge = DueNudge(key="k", stage=Stage.TODAY, day=TONIGHT, expires_utc=NOW, ask=ask)
    first = nudge_text(nudge, seen, STYLE).splitlines()[0]
    assert f"by {STYLE.clock(by + timedelta(minutes=205))}" in first
    assert first.endswith(" 5 minutes.")


def test_who_is_asked_a_day_early_by_a_way_of_their_own_is_told_so() -> None:
    later = TONIGHT + timedelta(days=1)
    one = margins("Porch fig", CoverState.VENTED)
    both = replace(one, nights=[*one.nights, replace(one.nights[0], evening=later)])
    early = replace(act(), kind=DeedKind.CLOSED, night=later, own_way=True)
    words = "The way you chose shuts the evening before such a night."
    assert words in told([early], both)
    assert words not in told([replace(early, own_way=False)], both)
    assert words not in told([replace(early, night=TONIGHT)], both)


@pytest.mark.parametrize(("tending", "kind", "words"), [
    (Tending.EARLY, DeedKind.VENTED, "Tended early: opened from mid-March on"),
    (Tending.EARLY, DeedKind.STRIPPED, "Tended early: off about when buds break"),
    (Tending.AS_TAUGHT, DeedKind.VENTED, "As you were taught: opened in a warm spell"),
    (Tending.AS_TAUGHT, DeedKind.STRIPPED, "As you were taught: off in June"),
])  # fmt: skip
def test_a_way_the_grower_chose_says_what_it_goes_by(tending: Tending, kind: DeedKind, words: str) -> None:
    one = margins("Porch fig")
    chosen = replace(one, tree=one.tree.model_copy(update={"tending": tending}))
    assert words in told([replace(act(), kind=kind, reason=Reason.YOUR_WAY)], chosen)


def test_all_is_not_well_where_a_covered_tree_still_gets_too_cold() -> None:
    shut = replace(night(), tissue={**night().tissue, CoverState.CLOSED: tissue(-11.0)})
    cold = replace(margins("Satsuma"), nights=[shut])
    nudge = DueNudge(key="k", stage=Stage.ALL_WELL, day=TONIGHT, expires_utc=NOW)
    text = nudge_text(nudge, outlook(margins("Porch fig"), cold), STYLE)
    assert text.startswith("There is nothing more to do just now.")
    assert text.endswith("In its cover Satsuma may still get too cold.")


def test_in_bloom_the_reason_says_the_stage_and_what_takes_one_bud_in_ten() -> None:
    # Washington State University EB0914: peach in full bloom, 27 °F (-2.8 °C) takes a tenth
    stage = BudStage(row=bud_row("peach", "full bloom"), seen=True)
    one = bare("Porch fig", wood_c=-4.0)
    wood = replace(one.hardiness, watched=Organ.BUDS, lt10_c=stage.row.critical.t10_c, stage=stage)
    assert "at full bloom, −3 °C takes one bud in ten" in told([act()], replace(one, hardiness=wood))
    reckoned = replace(wood, stage=replace(stage, seen=False))
    assert "at full bloom by my estimate, −3 °C takes" in told([act()], replace(one, hardiness=reckoned))


def test_of_many_trees_that_the_cold_killed_one_message_tells_all() -> None:
    gone = WoodLost(organ=Organ.WOOD, share=0.93, evening=date(2026, 1, 4), air_c=-19.0, lt10_c=-9.0)
    trees = [replace(one, hardiness=replace(one.hardiness, lost=gone)) for one in (bare("Porch fig"), bare("Kaki"))]
    nudge = DueNudge(key="k", stage=Stage.LOST, day=TONIGHT, expires_utc=NOW, trees=("Porch fig", "Kaki"))
    text = nudge_text(nudge, outlook(*trees), STYLE)
    assert "Porch fig is probably dead above ground, about 9 parts in 10." in text
    assert text.count("Roots and foot mostly live") == 1
    assert "From 14 Jan a scratch of the bark tells" in text


def test_a_top_that_stands_out_of_its_cage_is_told_as_the_bare_wood_it_is() -> None:
    tall = Cover(name="cage", height_m=1.8, tree_height_m=2.4)
    one = replace(bare("Porch fig"), cover=tall, state=CoverState.VENTED)
    assert one.outside == 0.25
    assert one.cared_for.worth_trips == 30.0
    text = told([replace(act(), kind=DeedKind.CLOSED)], one)
    assert ", the top 60 cm that stands out of it −12 °C; it is safe to −9 °C." in text


def in_leaf(low_c: float, *, nights: int = 1) -> TreeMargins:
    """A tree in leaf after a warm September, safe to -2 °C, with so many nights told as cold, the rest mild."""
    start, today = date(2026, 9, 7), date(2026, 10, 5)
    warm = np.full((today - start).days + 1, 15.0)
    days = WoodDays(first=start, mean_c=warm, min_c=warm - 5, max_c=warm + 5)
    one = bare("Porch fig", wood_c=low_c)
    wood = replace(hardiness(one.tree, SITE, days, (), today), lt10_c=-2.0)
    mild = replace(night(), tissue={**night().tissue, CoverState.BARE: tissue(4.0)})
    each = [replace(one.nights[0] if i < nights else mild, evening=TONIGHT + timedelta(days=i)) for i in range(4)]
    return replace(one, hardiness=wood, nights=each)


def test_a_blanket_for_a_night_says_how_it_is_put_on_and_that_it_comes_off_again() -> None:
    over = replace(act(), kind=DeedKind.BLANKETED, state=CoverState.BARE, minutes=5.0, chance_after=0.3)
    text = told([over], in_leaf(-1.5))
    assert text.startswith("Put a blanket over Porch fig by ")
    assert "down to the ground, tied, off again in the morning" in text
    assert "Blanket put over it, still 3 in 10 that it gets too cold." in text
    assert "blanket" not in told([act()], in_leaf(-1.5))  # a cover is asked for where it is the better way
