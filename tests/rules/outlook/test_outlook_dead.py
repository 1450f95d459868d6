"""A tree that is held dead above ground: nothing is asked at its cover any more, whichever way it is tended."""

from datetime import timedelta

import numpy as np
import pytest

from rules.garden.cover import Cover, CoverState
from rules.garden.records import Deed, DeedKind, Dieback, Records
from rules.garden.tree import Tending, Tree
from rules.outlook.garden_outlook import outlook
from rules.outlook.inputs import OutlookInputs
from tests.rules.plan.plan_gardens import NOW, SITE, days_of_air, forecast_of

WARM = days_of_air([6.0] * 8, [18.0] * 8)
AUTUMN = forecast_of(np.full(24 * 120, 6.0), NOW - timedelta(days=120)).weather
COLD = days_of_air([-2.0, -3.0, -4.0, -15.0, -6.0, -1.0], [4.0, 4.0, 2.0, -5.0, 0.0, 4.0])


def asked(air: str, state: CoverState, lost: tuple[Dieback, ...]) -> list[DeedKind]:
    tree = Tree(name="Fig", species="fig", planted_year=2015, worth_trips=40, cover="cage", tending=Tending.AS_TAUGHT)
    on = Deed(tree="Fig", kind=DeedKind.WRAPPED, state=state, at_utc=NOW - timedelta(days=60))
    seen = outlook(
        OutlookInputs(
            site=SITE, trees=(tree,), covers={"cage": Cover(name="cage")},
            forecast=forecast_of({"warm": WARM, "cold": COLD}[air]), past=AUTUMN,
            records=Records(deeds=(on,), diebacks=lost),
        ),
        NOW,
    )  # fmt: skip
    return [act.kind for act in seen.acts]


@pytest.mark.parametrize(
    ("air", "state", "kind"),
    [("warm", CoverState.CLOSED, DeedKind.VENTED), ("cold", CoverState.VENTED, DeedKind.CLOSED)],
)
def test_a_dead_tree_s_cover_is_neither_opened_nor_shut(air: str, state: CoverState, kind: DeedKind) -> None:
    assert kind in asked(air, state, ())
    found = NOW - timedelta(days=2)
    assert asked(air, state, (Dieback(tree="Fig", at_utc=found, share=1.0),)) == []
