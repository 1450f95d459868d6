"""The nudge ladder: each stage once, in time to act, never in quiet hours, never after an answer."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

from bot.nudges import (
    Ask,
    Declined,
    DueNudge,
    NudgeState,
    PastNudge,
    Quiet,
    Stage,
    all_well_nudge,
    asks,
    blind_nudge,
    is_cold_ahead,
    nudges_due,
    stage_times,
)
from rules.garden.cover import CoverState
from rules.garden.records import DeedKind
from rules.plan.garden_plan import Act, Reason
from tests.bot.wording.test_wording_questions import margins, night, outlook

ZONE = ZoneInfo("America/Denver")
QUIET = Quiet(start=time(21), end=time(7), zone=ZONE)
DAY = date(2026, 1, 14)


def at(hour: float, day: date = DAY) -> datetime:
    return datetime.combine(day, time(0), ZONE).astimezone(UTC) + timedelta(hours=hour)


def act(tree: str = "Porch", kind: DeedKind = DeedKind.CLOSED, day: date = DAY, chance: float = 0.8) -> Act:
    return Act(
        tree=tree,
        kind=kind,
        state=CoverState.CLOSED,
        reason=Reason.COLD,
        night=day,
        from_utc=at(8, day),
        by_utc=at(16.8, day),
        minutes=10,
        chance=chance,
        chance_after=0.02,
        saves_trips=20,
        price_trips=1.5,
    )


def said_of(nudge: DueNudge, now: datetime, state: NudgeState = NudgeState.OPEN) -> PastNudge:
    ask = nudge.ask
    return PastNudge(
        key=nudge.key,
        stage=nudge.stage,
        verb=ask.verb if ask else None,
        trees=nudge.trees,
        day=nudge.day,
        opened_utc=now,
        state=state,
        chance=ask.chance if ask else 0.0,
        night=ask.acts[0].night if ask else None,
        silent=nudge.silent,
    )


def due(acts: list[Act], said: list[PastNudge], now: datetime, refusals: tuple[Declined, ...] = ()) -> list[DueNudge]:
    chances = {(one.tree, one.night): one.chance for one in acts}
    return nudges_due(asks(acts, ZONE), said, refusals, chances, QUIET, now)


def test_all_trees_of_one_job_and_day_are_one_ask() -> None:
    wanted = asks([act("Wall"), act("Porch"), act("Kaki", DeedKind.WRAPPED)], ZONE)
    assert [(ask.verb, ask.trees) for ask in wanted] == [
        (DeedKind.CLOSED, ("Porch", "Wall")),
        (DeedKind.WRAPPED, ("Kaki",)),
    ]


def test_a_freeze_tonight_is_said_at_breakfast_and_once_more_before_dusk() -> None:
    said: list[PastNudge] = []
    heard: list[tuple[str, Stage]] = []
    for minutes in range(0, 24 * 60, 15):
        now = at(minutes / 60)
        for nudge in due([act()], said, now):
            heard.append((f"{now.astimezone(ZONE):%H:%M}", nudge.stage))
            said.append(said_of(nudge, now))
    assert heard == [("08:00", Stage.TODAY), ("15:45", Stage.LAST_CALL)]


def test_an_answer_or_a_refusal_ends_the_ask() -> None:
    refusal = Declined(trees=("Porch",), noted_utc=at(9), until_utc=at(24), asks_again=False)
    assert due([act()], [], at(15.6), (refusal,)) == []


def test_later_asks_again_after_the_time_the_grower_named() -> None:
    refusal = Declined(trees=("Porch",), noted_utc=at(9), until_utc=at(14), asks_again=True)
    assert due([act()], [], at(13.9), (refusal,)) == []
    assert [n.stage for n in due([act()], [], at(14.1), (refusal,))] == [Stage.TODAY]


def test_wrapping_is_announced_days_ahead_without_a_sound() -> None:
    ahead = act("Kaki", DeedKind.WRAPPED, DAY + timedelta(days=3), chance=0.4)
    (nudge,) = due([ahead], [], at(12))
    assert (nudge.stage, nudge.silent) == (Stage.HEADS_UP, True)
    assert due([act("Kaki", DeedKind.WRAPPED, DAY + timedelta(days=3), chance=0.2)], [], at(12)) == []


def test_the_morning_of_a_job_is_no_time_to_announce_it_nor_the_evening_after_it_was_asked_for() -> None:
    assert due([act("Kaki", DeedKind.WRAPPED)], [], at(7.2)) == []
    (asked,) = due([act("Kaki", DeedKind.WRAPPED)], [], at(9))
    tomorrow = act("Kaki", DeedKind.WRAPPED, DAY + timedelta(days=1))
    assert due([tomorrow], [said_of(asked, at(9))], at(18)) == []
    assert [n.stage for n in due([tomorrow], [], at(18))] == [Stage.HEADS_UP]


def test_who_was_rung_to_wrap_this_morning_is_not_told_of_it_tonight_but_is_the_day_after() -> None:
    (asked,) = due([act("Kaki", DeedKind.WRAPPED)], [], at(8))
    later = act("Kaki", DeedKind.WRAPPED, DAY + timedelta(days=3))
    assert due([later], [said_of(asked, at(8))], at(20.5)) == []
    assert [n.stage for n in due([later], [said_of(asked, at(8))], at(24 + 12))] == [Stage.HEADS_UP]


def test_who_cannot_uncover_today_is_not_asked_again_tomorrow_but_where_leaves_would_cook() -> None:
    strip = act("Olive", DeedKind.STRIPPED)
    (asked,) = due([strip], [], at(9))
    said = [said_of(asked, at(9), NudgeState.ANSWERED)]

    def again(days: int, reason: Reason = Reason.YOUR_WAY) -> int:
        day = DAY + timedelta(days=days)
        return len(due([replace(act("Olive", DeedKind.STRIPPED, day), reason=reason)], said, at(9, day)))

    assert [again(days) for days in (1, 3, 4)] == [0, 0, 1]
    assert again(1, Reason.HOT) == 1


def test_a_tree_that_joins_a_heads_up_changes_the_message_instead_of_sending_another() -> None:
    later = DAY + timedelta(days=3)
    (first,) = due([act("Kaki", DeedKind.WRAPPED, later)], [], at(12))
    said = [said_of(first, at(12))]
    (wider,) = due([act("Kaki", DeedKind.WRAPPED, later), act("Olive", DeedKind.WRAPPED, later)], said, at(13))
    assert wider.edits == first.key
    assert wider.trees == ("Kaki", "Olive")


def test_a_job_that_was_announced_and_called_off_is_announced_again_only_when_it_has_become_likelier() -> None:
    ahead = act("Kaki", DeedKind.WRAPPED, DAY + timedelta(days=3), chance=0.35)
    (first,) = due([ahead], [], at(12))
    said = [replace(said_of(first, at(12)), state=NudgeState.STOOD_DOWN, chance=0.35)]

    def again(chance: float, tree: str = "Kaki") -> int:
        later = act(tree, DeedKind.WRAPPED, DAY + timedelta(days=8), chance=chance)
        return len(due([later], said, at(12, DAY + timedelta(days=5))))

    assert [again(chance) for chance in (0.35, 0.5, 0.6)] == [0, 0, 1]
    assert again(0.35, "Olive") == 1
    on_the_day = act("Kaki", DeedKind.WRAPPED, DAY + timedelta(days=8), chance=0.35)
    (asked,) = due([on_the_day], said, at(9, DAY + timedelta(days=8)))
    assert asked.stage == Stage.TODAY


def test_a_forecast_that_recovers_is_stood_down_once() -> None:
    (first,) = due([act()], [], at(9))
    said = [said_of(first, at(9))]
    (over,) = nudges_due([], said, [], {("Porch", DAY): 0.1}, QUIET, at(12))
    assert (over.stage, over.trees) == (Stage.STAND_DOWN, ("Porch",))
    closed = [said_of(first, at(9), NudgeState.STOOD_DOWN)]
    assert nudges_due([], closed, [], {("Porch", DAY): 0.1}, QUIET, at(12)) == []


def rung(acts: list[Act], said: list[PastNudge], hours: float = 24.0) -> list[tuple[Stage, bool]]:
    """What goes out through a day, looked at every quarter of an hour: its stage, and whether it rings."""
    heard = []
    for quarter in range(int(hours * 4)):
        for nudge in due(acts, said, at(quarter / 4)):
            heard.append((nudge.stage, not nudge.silent))
            said.append(said_of(nudge, at(quarter / 4)))
    return heard


def test_a_night_that_will_most_likely_do_no_harm_is_written_of_once_and_does_not_ring() -> None:
    """Weighing cost against loss says go; who is called out for nothing nineteen times of twenty stops listening."""
    assert rung([act(chance=0.04)], []) == [(Stage.TODAY, False)]
    assert rung([act(chance=0.06)], []) == [(Stage.TODAY, True), (Stage.LAST_CALL, True)]
    assert rung([act("Kaki", DeedKind.WRAPPED, chance=0.04)], []) == [(Stage.TODAY, False)]


def test_an_unlikely_night_is_not_written_of_while_there_is_time_to_wait_for_better_news() -> None:
    assert rung([replace(act(chance=0.04), can_wait=True)], []) == []
    assert rung([replace(act(chance=0.06), can_wait=True)], []) == [(Stage.TODAY, True), (Stage.LAST_CALL, True)]


def test_a_tree_for_which_it_is_unlikely_is_done_in_the_visit_to_one_for_which_it_is_not() -> None:
    (nudge,) = due([act("Porch", chance=0.3), act("Wall", chance=0.03)], [], at(9))
    assert (nudge.trees, nudge.silent) == (("Porch", "Wall"), False)


def test_an_unlikely_night_that_turns_likely_rings_though_it_was_written_of() -> None:
    said: list[PastNudge] = []
    assert rung([act(chance=0.04)], said, hours=12) == [(Stage.TODAY, False)]
    (louder,) = due([act(chance=0.3)], said, at(13))
    assert (louder.stage, louder.silent) == (Stage.TODAY, False)
    assert due([act(chance=0.04)], [*said, said_of(louder, at(13))], at(14)) == []


def test_news_that_an_unlikely_night_came_to_nothing_does_not_ring_either() -> None:
    (first,) = due([act(chance=0.04)], [], at(9))
    (over,) = nudges_due([], [said_of(first, at(9))], [], {("Porch", DAY): 0.001}, QUIET, at(12))
    assert (over.stage, over.silent, over.edits) == (Stage.STAND_DOWN, True, first.key)


def test_who_chose_to_shut_before_each_frost_is_rung_for_each() -> None:
    assert rung([replace(act(chance=0.01), own_way=True)], [])[0] == (Stage.TODAY, True)


def test_a_small_change_of_the_forecast_is_no_stand_down() -> None:
    (first,) = due([act(chance=0.5)], [], at(9))
    assert nudges_due([], [said_of(first, at(9))], [], {("Porch", DAY): 0.4}, QUIET, at(12)) == []


def test_a_job_for_a_later_night_rings_once_and_again_only_for_its_night() -> None:
    later = replace(act("Kaki", DeedKind.WRAPPED), night=DAY + timedelta(days=2))
    said: list[PastNudge] = []
    heard: list[tuple[date, Stage]] = []
    for day in range(3):
        today = DAY + timedelta(days=day)
        moved = replace(later, from_utc=at(8, today), by_utc=at(16.8, today))
        for hour in (8, 10, 12, 14, 15.75):
            for nudge in due([moved], said, at(hour, today)):
                heard.append((today, nudge.stage))
                said.append(said_of(nudge, at(hour, today)))
    evening = DAY + timedelta(days=2)
    assert heard == [(DAY, Stage.TODAY), (evening, Stage.TODAY), (evening, Stage.LAST_CALL)]


def test_nothing_is_asked_when_it_is_too_late_to_act() -> None:
    assert due([act()], [], at(17)) == []


def test_a_message_that_would_fall_into_the_quiet_hours_comes_before_them_never_after() -> None:
    assert QUIET.before(at(23)) == at(21) - timedelta(minutes=1)
    assert QUIET.before(at(3, DAY + timedelta(days=1))) == at(21) - timedelta(minutes=1)
    early = Ask(verb=DeedKind.CLOSED, day=DAY, acts=(act(),))
    assert not any(QUIET.holds(moment) for moment in stage_times(early, QUIET).values())


def test_no_more_than_three_messages_in_one_night() -> None:
    said = [PastNudge(key=str(i), stage=Stage.TODAY, verb=None, trees=(), day=DAY, opened_utc=at(13)) for i in range(3)]
    assert due([act()], said, at(15.6)) == []


def test_it_says_once_a_day_when_it_cannot_see() -> None:
    nudge = blind_nudge(timedelta(hours=30), [], QUIET, at(14), at_risk=True)
    assert nudge is not None
    assert blind_nudge(timedelta(hours=30), [said_of(nudge, at(14))], QUIET, at(15), at_risk=True) is None
    assert blind_nudge(timedelta(hours=5), [], QUIET, at(14), at_risk=True) is None
    assert blind_nudge(None, [], QUIET, at(14), at_risk=True) is not None
    assert blind_nudge(None, [], QUIET, at(14), at_risk=False) is None


def test_all_is_well_comes_after_ten_days_of_silence() -> None:
    assert all_well_nudge([], at(0) - timedelta(days=9), QUIET, at(17)) is None
    assert all_well_nudge([], at(0) - timedelta(days=11), QUIET, at(17)) is not None


def test_nobody_waits_for_a_word_of_the_cold_once_all_is_bare_and_nothing_freezes() -> None:
    bare, shut = margins(state=CoverState.BARE), margins(state=CoverState.CLOSED)
    mild = [replace(night(), air_c=2.0)]
    assert is_cold_ahead(outlook(bare))  # it stands at -10 °C
    assert is_cold_ahead(outlook(replace(shut, nights=mild)))
    assert not is_cold_ahead(outlook(replace(bare, nights=mild)))


@given(
    ticks=st.lists(st.integers(0, 3 * 24 * 60), min_size=1, max_size=60),
    chances=st.lists(st.floats(0.0, 1.0), min_size=1, max_size=4),
    spring=st.booleans(),
)
def test_any_ticks_send_each_stage_at_most_once_and_never_in_quiet_hours(
    ticks: list[int], chances: list[float], spring: bool
) -> None:
    first = date(2026, 3, 7) if spring else DAY  # the clock springs forward on 8 March 2026 in this zone
    acts = [act(f"T{i}", day=first + timedelta(days=1), chance=c) for i, c in enumerate(chances)]
    said: list[PastNudge] = []
    for tick in sorted(ticks):
        now = at(0, first) + timedelta(minutes=tick)
        for nudge in due(acts, said, now):
            assert not QUIET.holds(now)
            assert now <= nudge.expires_utc
            said.append(said_of(nudge, now))
    assert len({one.key for one in said}) == len(said)
    assert len([one for one in said if one.stage == Stage.TODAY]) <= 1


def test_a_heads_up_that_lapses_though_the_night_is_as_cold_says_so_once_on_its_day() -> None:
    told = PastNudge(
        key="h", stage=Stage.HEADS_UP, verb=DeedKind.WRAPPED, trees=("Porch",), day=DAY,
        opened_utc=at(9, DAY - timedelta(days=1)), chance=0.8, night=DAY,
    )  # fmt: skip
    as_cold = {("Porch", DAY): 0.8}
    (over,) = nudges_due([], [told], [], as_cold, QUIET, at(9))
    assert (over.stage, over.edits, over.settles) == (Stage.STAND_DOWN, "h", ("h",))
    assert not nudges_due([], [told], [], as_cold, QUIET, at(9, DAY - timedelta(days=1)))
    rung = replace(told, key="t", stage=Stage.TODAY, opened_utc=at(8))
    assert not nudges_due([], [told, rung], [], as_cold, QUIET, at(16.7))  # it was asked for: no word of not asking


def test_no_blanket_is_asked_for_beside_a_wrap_that_rang_today_and_stands() -> None:
    wrap = act(kind=DeedKind.WRAPPED)
    (rang,) = due([wrap], [], at(8))
    blanket = replace(act(kind=DeedKind.BLANKETED), state=CoverState.BARE)
    assert due([blanket], [said_of(rang, at(8))], at(12)) == []
    (asked,) = due([blanket], [said_of(rang, at(8), NudgeState.EXPIRED)], at(12))
    assert asked.ask is not None
    assert asked.ask.verb is DeedKind.BLANKETED


def test_a_wrap_announced_is_not_called_off_where_a_blanket_is_asked_for_instead() -> None:
    """It is as cold as was told: "not needed" and "put a blanket over it" would belie each other."""
    (told,) = due([act(kind=DeedKind.WRAPPED)], [], at(10, DAY - timedelta(days=2)))
    blanket = replace(act(kind=DeedKind.BLANKETED, chance=0.3), state=CoverState.BARE)
    found = due([blanket], [said_of(told, at(10, DAY - timedelta(days=2)))], at(8))
    assert [one.stage for one in found] == [Stage.TODAY]
