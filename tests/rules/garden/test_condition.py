"""How a cover stands today, as its grower told it."""

from datetime import UTC, datetime, timedelta

import pytest
from pydantic import ValidationError

from rules.garden.condition import AS_BUILT, CoverCondition, Layer, condition_at
from rules.garden.cover import Cover

COVER = Cover(name="porch")
FIRST = datetime(2026, 10, 24, 15, tzinfo=UTC)


def test_straw_in_and_film_tomorrow_is_a_cover_without_film_tonight() -> None:
    tonight = COVER.standing(CoverCondition(off=frozenset({Layer.FILM})))
    assert tonight.reach_m(Layer.FILM) == 0
    assert tonight.reach_m(Layer.FILL) == tonight.reach_m(Layer.BLANKET) == COVER.height_m


def test_straw_stands_no_higher_than_it_was_put_and_than_it_has_sunk() -> None:
    low = Cover(name="porch", fill_height_m=1.5)
    assert low.reach_m(Layer.FILL) == 1.5
    assert low.standing(CoverCondition(sunk_to_m=1.2)).reach_m(Layer.FILL) == 1.2
    assert low.standing(CoverCondition(sunk_to_m=1.7)).reach_m(Layer.FILL) == 1.5


def test_a_condition_holds_from_when_it_was_told() -> None:
    torn = CoverCondition(torn=True, since_utc=FIRST)
    mended = CoverCondition(since_utc=FIRST + timedelta(days=3))
    told = [torn, mended]
    assert condition_at(told, FIRST - timedelta(minutes=1)) == AS_BUILT
    assert condition_at(told, FIRST) == torn
    assert condition_at(told, FIRST + timedelta(days=4)) == mended


def test_what_no_cover_can_be_in_is_refused_in_a_sentence() -> None:
    with pytest.raises(ValidationError, match="snow_on_m of a cover's condition is 5 m, it must be 0 to 2 m"):
        CoverCondition(snow_on_m=5)
    with pytest.raises(ValidationError, match="timezone"):
        CoverCondition(since_utc=datetime(2026, 10, 24))  # noqa: DTZ001 - the refusal is what is tested
