"""What befell a cover, told record by record: its condition and state from then on, until a deed or a mend ends it."""

from datetime import UTC, datetime, timedelta

import pytest

from rules.garden.condition import AS_BUILT, ConditionKind, ConditionTold, Layer, Top, condition_at
from rules.garden.cover import Cover, CoverState
from rules.garden.records import Deed, DeedKind, Records, cover_conditions, mould_seen, state_now, state_series

COVER = Cover(name="porch")
FIRST = datetime(2026, 11, 20, 15, tzinfo=UTC)
DAY = timedelta(days=1)


def deed(kind: DeedKind, state: CoverState, day: int) -> Deed:
    return Deed(tree="Porch", kind=kind, state=state, at_utc=FIRST + day * DAY)


def told(kind: ConditionKind, day: int, layer: Layer | None = None, *, over: bool = False) -> ConditionTold:
    return ConditionTold(tree="Porch", kind=kind, at_utc=FIRST + day * DAY, layer=layer, is_over=over)


WRAPPED = deed(DeedKind.WRAPPED, CoverState.CLOSED, 0)


def test_straw_in_and_film_tomorrow_lasts_until_the_film_is_on() -> None:
    """Both are told in one breath: the deed, and what is left undone of it."""
    half = told(ConditionKind.LAYER_OFF, 0, Layer.FILM)
    on = told(ConditionKind.LAYER_OFF, 1, Layer.FILM, over=True)
    conditions = cover_conditions(Records(deeds=[WRAPPED], conditions=[half, on]), "Porch", COVER)
    assert condition_at(conditions, FIRST).off == {Layer.FILM}
    assert condition_at(conditions, FIRST + DAY).off == frozenset()
    again = cover_conditions(Records(deeds=[WRAPPED, deed(DeedKind.WRAPPED, CoverState.CLOSED, 2)], conditions=[half]),
                             "Porch", COVER)  # fmt: skip
    assert condition_at(again, FIRST + DAY).off == {Layer.FILM}
    assert condition_at(again, FIRST + 2 * DAY).off == frozenset()


def test_a_cap_blown_off_leaves_the_cover_open_until_somebody_closes_it() -> None:
    gone = told(ConditionKind.TOP_GONE, 1)
    closed = deed(DeedKind.CLOSED, CoverState.CLOSED, 3)
    records = Records(deeds=[WRAPPED, closed], conditions=[gone])
    states = [state_now(records, "Porch", FIRST + day * DAY) for day in (0, 1, 2, 3)]
    assert states == [CoverState.CLOSED, CoverState.VENTED, CoverState.VENTED, CoverState.CLOSED]
    conditions = cover_conditions(records, "Porch", COVER)
    assert [condition_at(conditions, FIRST + day * DAY).top for day in (0, 2, 3)] == [Top.SHUT, Top.GONE, Top.SHUT]
    assert state_series(records, "Porch", FIRST, 73)[[0, 24, 72]].tolist() == [2, 1, 2]


def test_what_is_taken_off_for_the_season_is_as_built_the_next() -> None:
    torn = told(ConditionKind.TORN, 1)
    stripped = deed(DeedKind.STRIPPED, CoverState.BARE, 2)
    conditions = cover_conditions(Records(deeds=[WRAPPED, stripped], conditions=[torn]), "Porch", COVER)
    assert condition_at(conditions, FIRST + DAY).torn
    assert not condition_at(conditions, FIRST + 2 * DAY).torn


@pytest.mark.parametrize("kind", [ConditionKind.MICE, ConditionKind.MOULD, ConditionKind.BRANCH_BROKEN])
def test_what_befalls_the_tree_leaves_its_cover_as_it_was(kind: ConditionKind) -> None:
    conditions = cover_conditions(Records(deeds=[WRAPPED], conditions=[told(kind, 1)]), "Porch", COVER)
    assert condition_at(conditions, FIRST + DAY) == AS_BUILT


def test_mould_counts_until_somebody_says_it_is_gone_or_the_cover_came_off() -> None:
    seen = told(ConditionKind.MOULD, 1)
    gone = told(ConditionKind.MOULD, 3, over=True)
    off = deed(DeedKind.STRIPPED, CoverState.BARE, 2)

    def on(day: int, *, deeds: list[Deed], found: list[ConditionTold]) -> bool:
        return mould_seen(Records(deeds=deeds, conditions=found), "Porch", FIRST + day * DAY)

    days = range(5)
    assert [on(day, deeds=[WRAPPED], found=[seen, gone]) for day in days] == [False, True, True, False, False]
    assert [on(day, deeds=[WRAPPED, off], found=[seen]) for day in days] == [False, True, False, False, False]


def test_a_layer_that_is_off_must_be_named() -> None:
    with pytest.raises(ValueError, match="its layer is None"):
        told(ConditionKind.LAYER_OFF, 0)
