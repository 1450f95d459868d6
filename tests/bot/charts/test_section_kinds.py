"""The cut through covers of every kind: nothing is drawn or named that is not built."""

from datetime import datetime
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest

from bot.charts import draw_section
from bot.charts.week import LABEL_SHARE, _clear_place
from bot.charts.week_shown import highest_c, lowest_c, shown_h
from bot.rounds.inputs import style_of
from bot.wording.formats import Style
from rules.garden.records import Records
from rules.outlook.garden_outlook import Outlook, outlook
from rules.outlook.inputs import OutlookInputs
from rules.outlook.views.section import CoverSection, cover_section
from rules.outlook.views.week import week_ahead
from tests.bot.nine_trees import ZONE, tanglewick, week

NOW = datetime(2025, 11, 20, 15, tzinfo=ZONE)


@cache
def _seen() -> tuple[Style, OutlookInputs, Outlook]:
    weather = week(NOW, [-3.0, -8.0, -14.0, -9.0, -6.0, -4.0, -3.0])
    with TemporaryDirectory() as folder:
        garden = tanglewick(Path(folder), weather)
    inputs = OutlookInputs(
        site=garden.site,
        trees=garden.trees,
        covers=dict(garden.covers),
        forecast=weather,
        past=weather.weather,
        records=Records(),
    )
    return style_of(garden), inputs, outlook(inputs, NOW)


def cut(tree: str) -> tuple[CoverSection, str]:
    style, inputs, seen = _seen()
    section = cover_section(inputs, seen, tree)
    return section, draw_section(section, style, NOW).text


@pytest.mark.parametrize(
    ("tree", "named", "not_named"),
    [
        ("Ditch", ("sheet, on top", "sheet, side"), ("cap", "lid", "air inside", "straw, inner")),
        ("Tub", ("roof, outside", "wall, outside", "air inside"), ("cap", "lid", "film", "straw")),
        ("Barn", ("straw, outer", "; blanket "), ("at the blanket", "outer face", "film")),
        ("Gate", ("tip, bare", "The wood in the cover feels", "stands out bare"), ("tip of stem",)),
    ],
)
def test_each_kind_of_cover_is_told_as_it_is_built(
    tree: str, named: tuple[str, ...], not_named: tuple[str, ...]
) -> None:
    _, text = cut(tree)
    assert all(words in text for words in named), text
    assert not any(words in text for words in not_named), text


def test_the_tip_above_a_cage_is_as_cold_as_the_air_and_judged_apart() -> None:
    section, text = cut("Gate")
    assert section.lowest_air_c <= section.top_c == section.air_c < section.wood_c
    assert "The top 40 cm stands out bare: down to −14 °C" in text  # a tree of 220 cm in a cage of 180
    assert "too cold" in text


@pytest.mark.parametrize("tree", ["Well", "Barn", "Crate"])
def test_the_label_of_the_week_hides_no_curve(tree: str) -> None:
    _, inputs, seen = _seen()
    of = week_ahead(inputs, seen, tree)
    hour, lift_c = _clear_place(of)
    half = int(shown_h(of) * LABEL_SHARE)
    lines = np.stack([of.outside.mean_c, *(band.mean_c for band in of.inside.values())])
    shown = lines[:, int(hour) - half : int(hour) + half] - of.margins.hardiness.lt10_c - lift_c
    # half the height of its box, 27 of 467 px of the plot, by eye on the picture
    assert np.abs(shown).min() >= 0.058 * (highest_c(of) - lowest_c(of))
