"""A cover without a top of its own is on or off: the plan never asks to open it."""

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from rules.garden.cover import Cover, Preset
from rules.garden.tree import Tree
from rules.plan.cover_costs import work_of
from rules.plan.prices import ASSUMED
from rules.plan.slots import DayPart, Slot
from rules.plan.stakes import NEVER

NOON = datetime(2026, 12, 5, 12, tzinfo=UTC)
SLOT = Slot(
    day=date(2026, 12, 5), part=DayPart.EVENING, light_utc=NOON, from_utc=NOON, by_utc=NOON + timedelta(hours=8),
    mark=8, calm=True,
)  # fmt: skip

IN_BUD = np.zeros((1, 2), dtype=bool)


@pytest.mark.parametrize("preset", [Preset.MOUND, Preset.BURLAP, Preset.POT, Preset.GARAGE])
def test_no_plan_opens_what_has_no_top(preset: Preset) -> None:
    cover = Cover(name="low", preset=preset)
    assert not cover.opens
    (work,) = work_of(Tree(name="Low", species="fig"), cover, IN_BUD, [SLOT], (), (), ASSUMED)
    assert work[0, 1] == work[2, 1] == NEVER
    assert work[0, 2] < NEVER


@pytest.mark.parametrize("preset", [Preset.STRAW, Preset.FILM, Preset.BOX])
def test_what_has_a_cap_or_a_lid_may_be_opened(preset: Preset) -> None:
    cover = Cover(name="cage", preset=preset)
    assert cover.opens
    (work,) = work_of(Tree(name="Low", species="fig"), cover, IN_BUD, [SLOT], (), (), ASSUMED)
    assert work[2, 1] < NEVER
