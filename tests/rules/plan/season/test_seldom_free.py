"""Whoever can come to the garden only on some days: what past winters cost them, and when they have to cover."""

from dataclasses import replace

import numpy as np
import pytest

from rules.plan.prices import ASSUMED
from rules.plan.season.table import SeasonTable, season_table
from rules.plan.season.ways import BARE, VENTED
from rules.wood.night_losses import OFF_C
from rules.wood.season import day_of_season
from tests.rules.plan.test_whole_courses import terms, winters

AS_BARE = OFF_C.index(0.0)
SATURDAY = 5
SATURDAYS = tuple(1440.0 if day == SATURDAY else 0.0 for day in range(7))


def cost(table: SeasonTable, month: int, day: int) -> list[float]:
    """Of each state on one evening, with the wood of a bare tree of which nothing is lost [trips]."""
    return [float(one) for one in table.on(day_of_season((month, day)))[:, AS_BARE, 0]]


@pytest.fixture(scope="module")
def tables() -> tuple[SeasonTable, SeasonTable]:
    """Of a fig on the High Plains made milder by nine degrees: any day, and Saturdays only."""
    felt, any_day = winters(9.0, ""), terms("")
    saturdays = replace(any_day, free_minutes=SATURDAYS)
    return season_table(felt, any_day, ASSUMED), season_table(felt, saturdays, ASSUMED)


def test_a_bare_tree_in_september_is_not_given_up_because_only_saturdays_are_free(
    tables: tuple[SeasonTable, SeasonTable],
) -> None:
    """Each Saturday sees all nights till the next: it is in time to wrap, so nobody packs leaves in in early September.

    Before they looked at four nights alone, a killing Thursday came unseen, and being wrapped was worth 8 trips more.
    """
    any_day, saturdays = (cost(table, 9, 8) for table in tables)
    wrap = float(terms("").step[BARE, VENTED])
    assert saturdays[BARE] - saturdays[VENTED] < wrap
    assert any_day[BARE] <= saturdays[BARE] < any_day[BARE] + 2.0


def test_fewer_free_days_never_make_a_winter_cheaper(tables: tuple[SeasonTable, SeasonTable]) -> None:
    for month, day in ((9, 20), (10, 20), (11, 20)):
        any_day, saturdays = (np.array(cost(table, month, day)) for table in tables)
        assert (saturdays >= any_day - 0.5).all()  # to half a trip: ways are few, and more are tried on Saturdays


def test_nights_till_the_next_free_day_are_those_from_tonight_to_its_eve() -> None:
    saturdays = replace(terms(""), free_minutes=SATURDAYS)  # the season's first day is a Monday
    assert saturdays.until_next(SATURDAY) == (7, 7)
    assert saturdays.until_next(SATURDAY - 1) == (1, 1)
    assert terms("").until_next(3) == (1, 1)
    evenings = replace(terms(""), free_minutes=(30.0,) * 5 + (1440.0,) * 2)  # too short to wrap, enough to shut
    assert evenings.until_next(0) == (5, 1)
    assert evenings.is_seldom
    assert not terms("").is_seldom
