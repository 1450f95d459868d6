"""What-ifs: made spells keep their shape, buckets and straw help as published, clear film stews the wood by day."""

from dataclasses import replace

import numpy as np
import pytest

from rules.garden.cover import Cover, Preset
from rules.garden.materials import Film
from rules.heat.balance import inside_temperatures
from rules.heat.properties import ReadCover
from rules.heat.surroundings import part
from rules.heat.what_if import OPEN_IT_C, Stand, WhatIfKind, clear_film_alone, made_spell, refilled, what_if
from rules.learning import unread_cover
from tests.rules.heat.heat_fine_model import SPELL_SOIL, Spell

SPELL = Spell().weather()
HOURS = SPELL.air_c.size
NOW = 232  # afternoon before the first cold night
COMING = part(SPELL, NOW, HOURS)
COVER = Cover(name="porch")
START = inside_temperatures([COVER], np.full((1, NOW + 1), 2), part(SPELL, 0, NOW + 1), soil=SPELL_SOIL).finish


@pytest.mark.parametrize("asked_c", [-20.0, -8.0, -28.9])
def test_a_made_spell_has_its_lowest_where_the_coming_nights_have_theirs(asked_c: float) -> None:
    made = made_spell(COMING, asked_c)
    assert made.air_c.min() == pytest.approx(asked_c)
    assert made.air_c.argmin() == COMING.air_c.argmin()
    assert np.corrcoef(made.air_c, COMING.air_c)[0, 1] == pytest.approx(1)
    assert made_spell(COMING, asked_c, windy=True).wind_m_s.min() == 6


def test_a_minimum_that_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match="minimum_c is 300 °C, it must be -60 to below"):
        made_spell(COMING, 300)
    with pytest.raises(ValueError, match="minimum_c is -80 °C"):
        made_spell(COMING, -80)


def test_choices_come_in_the_order_a_grower_expects() -> None:
    choices = {c.kind: c for c in what_if([Stand(COVER, made_spell(COMING, -20), START)])[0]}
    order = [WhatIfKind.BARE, WhatIfKind.VENTED, WhatIfKind.CLOSED, WhatIfKind.BUCKET]
    lows = [choices[kind].wood_c for kind in order]
    assert lows == sorted(lows)
    assert choices[WhatIfKind.BARE].wood_c == -20 < choices[WhatIfKind.CLOSED].wood_c  # bare: the air limits are of
    assert choices[WhatIfKind.BARE].spread_c == 0 < choices[WhatIfKind.CLOSED].spread_c


def test_a_bucket_helps_about_two_degrees_and_more_straw_about_one_per_five_centimetres() -> None:
    # worked spell: 20 L +1.95 °C when it stood there for ten days; straw 25 instead of 20 cm +1.08 °C likewise
    closed, *_, bucket, thick = what_if([Stand(COVER, COMING, START)], fills_m=[0.25])[0]
    assert bucket.wood_c - closed.wood_c == pytest.approx(1.95, abs=0.3)
    assert thick.wood_c - closed.wood_c == pytest.approx(1.08, abs=0.3)
    assert (bucket.amount, thick.amount) == (20, 0.25)


def test_filling_an_empty_cover_uses_straw_and_keeps_the_inner_cage() -> None:
    filled = refilled(Cover(name="x", preset=Preset.FILM), 0.4)
    assert (filled.fill, filled.inner_diameter_m) == ("straw", 0.6)
    assert filled.fill_thickness_m == pytest.approx(0.4)


def test_at_noon_clear_film_alone_stews_the_wood_and_straw_under_white_film_does_not() -> None:
    """Clear film alone is some 22-25 °C above the outdoor maximum at a cloudless winter noon."""
    film = Cover(name="x", preset=Preset.FILM)
    states = np.repeat([[2], [1], [2]], SPELL.air_c.shape[-1], axis=1)
    shut, vented, straw = inside_temperatures([film, film, COVER], states, SPELL, soil=SPELL_SOIL).air_c.max(axis=1)
    assert shut > OPEN_IT_C
    assert vented <= shut
    assert straw < SPELL.air_c.max() < OPEN_IT_C


def test_film_over_straw_or_blanket_is_not_film_alone() -> None:
    assert clear_film_alone(Cover(name="x", preset=Preset.FILM))
    assert not clear_film_alone(Cover(name="x", film=Film.CLEAR))
    assert not clear_film_alone(Cover(name="x", preset=Preset.BLANKET_FILM, film=Film.CLEAR))


def test_a_cover_known_by_its_thermometer_is_asked_about_like_any_other() -> None:
    """What was learned goes along, in spreads of each unknown number, whatever is asked of sizes and water."""
    as_it_is = replace(unread_cover(), readings=1).read(COVER)
    worse = replace(unread_cover(), readings=1, mean=np.full(unread_cover().mean.size, 1.0)).read(COVER)
    spell = made_spell(COMING, -20)
    described, shown, moved = (
        {one.kind: one.wood_c for one in what_if([Stand(cover, spell, START)], fills_m=[0.4])[0]}
        for cover in (COVER, as_it_is, worse)
    )
    assert shown == pytest.approx(described, abs=1e-6)  # shown to be just as described
    assert all(abs(moved[kind] - described[kind]) > 0.1 for kind in (WhatIfKind.BUCKET, WhatIfKind.FILL))
    thicker = refilled(worse, 0.3)
    assert isinstance(thicker, ReadCover)
    assert thicker.outer_diameter_m == pytest.approx(COVER.inner_diameter_m + 0.6)
