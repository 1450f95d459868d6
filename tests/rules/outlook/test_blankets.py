"""A blanket on record over a bare tree: its night is warmer, tonight's and last night's, and its cover as it stood."""

from dataclasses import replace
from datetime import date, datetime, timedelta

import numpy as np

from rules.garden.cover import CoverState
from rules.garden.records import Deed, DeedKind, Records, state_now
from rules.outlook.blankets import hours_under, is_blanketed, may_have_blanket
from rules.outlook.garden_outlook import Outlook, outlook
from rules.outlook.inputs import OutlookInputs, timeline_of
from rules.outlook.past import past_of
from tests.rules.outlook.test_outlook import FRIDAY, few, garden, inputs  # noqa: F401  the demo's garden

PORCH = "Porch fig"


def bare_porch(few: OutlookInputs, *deeds: Deed) -> OutlookInputs:  # noqa: F811
    """The fig by the house wall alone, its cover off."""
    trees = tuple(tree for tree in few.trees if tree.name == PORCH)
    return replace(few, trees=trees, records=Records(deeds=deeds))


def blanket(at: datetime) -> Deed:
    return Deed(tree=PORCH, kind=DeedKind.BLANKETED, state=CoverState.BARE, at_utc=at)


def bare_c(seen: Outlook, nights: int) -> list[float]:
    return [one.tissue[CoverState.BARE].wood_c for one in seen.tree(PORCH).nights[:nights]]


def test_a_blanket_told_this_morning_warms_tonight_and_no_other_night(few: OutlookInputs) -> None:  # noqa: F811
    without = bare_c(outlook(bare_porch(few), FRIDAY), 3)
    under = bare_c(outlook(bare_porch(few, blanket(FRIDAY - timedelta(minutes=5))), FRIDAY), 3)
    assert abs(under[0] - without[0]) > 0.05
    assert np.allclose(under[1:], without[1:], atol=1e-6)


def test_a_blanket_leaves_the_cover_as_it_stood(few: OutlookInputs) -> None:  # noqa: F811
    wrapped = Deed(tree=PORCH, kind=DeedKind.WRAPPED, state=CoverState.VENTED, at_utc=FRIDAY - timedelta(days=2))
    records = Records(deeds=(wrapped, blanket(FRIDAY - timedelta(hours=1))))
    assert state_now(records, PORCH, FRIDAY) is CoverState.VENTED
    assert state_now(Records(deeds=(blanket(FRIDAY),)), PORCH, FRIDAY) is None  # nobody has said how its cover stands


def test_a_blanket_is_for_its_night_and_off_at_noon(few: OutlookInputs) -> None:  # noqa: F811
    zone = few.site.zone
    evening = datetime(2025, 11, 27, 17, tzinfo=zone)
    records = Records(deeds=(blanket(evening),))
    assert is_blanketed(records, PORCH, evening + timedelta(hours=8), zone)
    assert not is_blanketed(records, PORCH, evening + timedelta(hours=20), zone)
    line = timeline_of(bare_porch(few), FRIDAY)
    assert line is not None
    assert line.past is not None
    (hours,) = hours_under(records, PORCH, line.past, zone)
    first = line.past.start_utc + timedelta(hours=hours.start)
    assert evening < first <= evening + timedelta(hours=1)
    assert (line.past.start_utc + timedelta(hours=hours.stop)).astimezone(zone).date() == date(2025, 11, 28)


def test_last_nights_blanket_counts_in_what_its_wood_felt(few: OutlookInputs) -> None:  # noqa: F811
    night = datetime(2025, 11, 26, 17, tzinfo=few.site.zone)
    plain, under = (bare_porch(few, *deeds) for deeds in ((), (blanket(night),)))
    line = timeline_of(plain, FRIDAY)
    assert line is not None
    assert line.past is not None
    told = [past_of(one, line, one.trees) for one in (plain, under)]
    assert told[0] is not None
    assert told[1] is not None
    apart = np.flatnonzero(told[0].wood_c[0] != told[1].wood_c[0])
    (hours,) = hours_under(under.records, PORCH, line.past, few.site.zone)
    assert len(apart)
    assert apart.min() >= hours.start
    assert apart.max() < hours.stop


def test_leafless_in_late_november_no_blanket_is_weighed(few: OutlookInputs) -> None:  # noqa: F811
    """Its cover may as well go on for the winter: nothing rots."""
    seen = outlook(bare_porch(few), FRIDAY)
    assert not may_have_blanket(seen.tree(PORCH))
