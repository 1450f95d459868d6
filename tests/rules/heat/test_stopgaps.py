"""Little things that help a tree tonight: which there are, and that none of them makes it colder."""

import pytest

from rules.garden.condition import CoverCondition, Layer
from rules.garden.cover import Cover, CoverState, Preset
from rules.heat.what_if import WhatIf, WhatIfKind, stopgaps
from tests.rules.heat.heat_fine_model import SPELL_SOIL, Spell

WEATHER = Spell().weather()


def things(cover: Cover, state: CoverState) -> dict[WhatIfKind, WhatIf]:
    return {one.kind: one for one in stopgaps(cover, state, WEATHER, soil=SPELL_SOIL)}


def test_a_bucket_inside_a_shut_cage_helps_by_about_two_degrees() -> None:
    """About 2 °C on the worst night: the worked spell of a finer model (`heat_fine_model`) has +1.95 °C."""
    found = things(Cover(name="cage"), CoverState.CLOSED)
    gain_c = found[WhatIfKind.BUCKET].wood_c - found[WhatIfKind.AS_IT_STANDS].wood_c
    assert 0.5 < gain_c < 3.5


def test_over_a_bare_tree_a_blanket_keeps_more_than_a_sheet_and_water_beneath_it_more_than_either() -> None:
    """A thin sheet radiates to a clear sky and may leave the stem colder than the air: then none is told."""
    found = things(Cover(name="cage"), CoverState.BARE)
    sheet, blanket, water = (found[kind] for kind in (WhatIfKind.SHEET, WhatIfKind.BLANKET, WhatIfKind.BUCKET))
    assert sheet.wood_c < blanket.wood_c < water.wood_c
    assert water.wood_c > found[WhatIfKind.AS_IT_STANDS].wood_c + 0.5


def test_what_is_not_on_is_offered_to_be_put_on_and_helps() -> None:
    half = Cover(name="cage").standing(CoverCondition(off=frozenset({Layer.FILM, Layer.BLANKET})))
    found = things(half, CoverState.CLOSED)
    assert found[WhatIfKind.WHOLE].wood_c > found[WhatIfKind.AS_IT_STANDS].wood_c


@pytest.mark.parametrize("preset", [Preset.GARAGE, Preset.POT])
def test_nobody_is_told_to_wrap_a_garage(preset: Preset) -> None:
    assert WhatIfKind.BLANKET not in things(Cover(name="room", preset=preset), CoverState.CLOSED)
