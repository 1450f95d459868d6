"""Little things that help a tree tonight: which there are, and that none of them makes it colder."""

from dataclasses import replace

import pytest

from rules.garden.condition import CoverCondition, Layer
from rules.garden.cover import Cover, CoverState, Preset
from rules.heat.balance import inside_temperatures
from rules.heat.stopgap import blanket_gains_c
from rules.heat.surroundings import bare_stem_c
from rules.heat.what_if import Stand, WhatIf, WhatIfKind, stopgaps
from tests.rules.heat.heat_fine_model import SPELL_SOIL, Spell

WEATHER = Spell().weather()


def things(cover: Cover, state: CoverState) -> dict[WhatIfKind, WhatIf]:
    return {one.kind: one for one in stopgaps([Stand(cover, WEATHER)], [state], soil=SPELL_SOIL)[0]}


def test_a_bucket_inside_a_shut_cage_helps_by_about_two_degrees() -> None:
    """About 2 °C on the worst night: the worked spell of a finer model (`heat_fine_model`) has +1.95 °C."""
    found = things(Cover(name="cage"), CoverState.CLOSED)
    gain_c = found[WhatIfKind.BUCKET].wood_c - found[WhatIfKind.AS_IT_STANDS].wood_c
    assert 0.5 < gain_c < 3.5


def test_over_a_bare_tree_a_blanket_keeps_no_less_than_a_sheet_and_water_beneath_it_more_than_either() -> None:
    """Sheet and blanket radiate to a clear sky themselves: the wood stays at most at the air, and then none is told."""
    found = things(Cover(name="cage"), CoverState.BARE)
    sheet, blanket, water = (found[kind] for kind in (WhatIfKind.SHEET, WhatIfKind.BLANKET, WhatIfKind.BUCKET))
    assert sheet.wood_c <= blanket.wood_c < water.wood_c
    assert water.wood_c > found[WhatIfKind.AS_IT_STANDS].wood_c + 0.5


def test_what_is_not_on_is_offered_to_be_put_on_and_helps() -> None:
    half = Cover(name="cage").standing(CoverCondition(off=frozenset({Layer.FILM, Layer.BLANKET})))
    found = things(half, CoverState.CLOSED)
    assert found[WhatIfKind.WHOLE].wood_c > found[WhatIfKind.AS_IT_STANDS].wood_c


@pytest.mark.parametrize("preset", [Preset.GARAGE, Preset.POT])
def test_nobody_is_told_to_wrap_a_garage(preset: Preset) -> None:
    assert WhatIfKind.BLANKET not in things(Cover(name="room", preset=preset), CoverState.CLOSED)


def stem_c(cover: Cover) -> float:
    """The stem itself at its coldest, whatever limits count."""
    inside = inside_temperatures([cover], [[2] * WEATHER.air_c.size], WEATHER, soil=SPELL_SOIL)
    return float(inside.wood_c.min())


@pytest.mark.parametrize("preset", [Preset.FILM, Preset.BURLAP, Preset.BLANKET])
def test_a_skin_counts_as_colder_than_none_just_where_its_stem_is_colder_than_a_bare_one(preset: Preset) -> None:
    """Both stand under one sky: a bare stem radiates to it (Churchill and Bernstein), so does one under a dry film."""
    skin = Cover(name="skin", preset=preset)
    found = things(skin, CoverState.CLOSED)
    skinned_c, bare_c = found[WhatIfKind.AS_IT_STANDS].wood_c, found[WhatIfKind.BARE].wood_c
    stem_gain_c = stem_c(skin) - float(bare_stem_c(WEATHER).min())
    assert bare_c == pytest.approx(float(WEATHER.air_c.min()))
    assert (skinned_c < bare_c) == (stem_gain_c < 0)
    assert skinned_c - bare_c == pytest.approx(min(stem_gain_c, 0.0), abs=0.05)  # lows an hour apart at most


def test_a_filled_cage_is_never_told_to_come_off() -> None:
    assert WhatIfKind.BARE not in things(Cover(name="cage"), CoverState.CLOSED)


def blanket_gain_c(first_day: int, low_c: float, *, sky_share: float = 1.0, on: bool = True) -> float:
    """What a blanket keeps of a bare tree at the coldest hour of one night after mild ones."""
    minima_c, maxima_c = (4.0, low_c, 1.0), (14.0, 12.0, 12.0)
    weather = Spell(first_cold_day=first_day, minima_c=minima_c, maxima_c=maxima_c, mild_c=(5, 16)).weather()
    weather = replace(weather, sky_share_side=sky_share * weather.sky_share_side)
    coldest = int(weather.air_c.argmin())
    nights = [slice(coldest - 12, coldest + 3)] if on else []
    gains_c = blanket_gains_c([Stand(Cover(name="cage"), weather)], [nights], SPELL_SOIL)
    return float(gains_c[0, 0, coldest])


def test_a_blanket_by_a_house_in_autumn_keeps_a_degree_or_two_and_under_an_open_sky_hardly_any() -> None:
    """Fleece in an Oregon field: +1.3 to 1.9 °C in the mean, on clear calm nights no warmer than the air (handbook)."""
    assert 0.6 < blanket_gain_c(287, -3.0, sky_share=0.5) < 3.0
    assert -0.5 < blanket_gain_c(287, -3.0) < 0.6


def test_a_blanket_keeps_more_over_ground_that_is_still_warm_than_in_winter() -> None:
    assert blanket_gain_c(287, -3.0, sky_share=0.5) > blanket_gain_c(20, -3.0, sky_share=0.5)


def test_a_blanket_that_is_off_keeps_nothing() -> None:
    assert blanket_gain_c(287, -3.0, on=False) == 0.0
