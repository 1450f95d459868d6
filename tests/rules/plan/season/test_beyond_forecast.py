"""What time beyond a forecast is taken to bring where nobody knows past winters, and how long its tables are good."""

from collections.abc import Iterator, MutableMapping
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from rules.garden.cover import Cover, CoverState
from rules.garden.tree import Tree
from rules.heat.properties import ReadCover
from rules.plan.beyond_forecast import NightResponse, SeasonStakes, for_a_season, season_ahead, table_of
from rules.plan.certainty.frost_free import needs_no_cover
from rules.plan.prices import PlanPrices
from rules.plan.season.table import SeasonTable
from rules.plan.slots import slots_ahead
from rules.wood.hardiness import tree_row
from rules.wood.injury import dose_width_c, normal_share
from rules.wood.night_losses import LOST_LEVELS, OFF_C
from tests.high_plains import high_plains
from tests.rules.plan.plan_gardens import NOW, SITE, bearing, days_of_air, forecast_of, situation

BARE, CLOSED = 0, 2
HALF_C, TEN_C = -25.0, -23.0  # far from where it would not freeze
END = date(2026, 1, 20)


def stakes(low_c: float) -> SeasonStakes:
    """A fig whose closed cover keeps all frost out, after nights of this mean low."""
    warm = np.array([0.0, 0.0, 60.0])
    return SeasonStakes(
        tree=Tree(name="Fig", species="fig", worth_trips=40.0), cover=Cover(name="any", minutes_to_wrap=20.0),
        hardiness=bearing(TEN_C, HALF_C), offset_c=0.0, lasting_c=np.zeros(3),
        response=NightResponse(middle_c=warm, tip_c=warm, share=np.ones(3), low_c=low_c),
    )  # fmt: skip


def bare_costs(low_c: float) -> float:
    """What standing bare costs more than closed [trips], where nobody could come in time to cover a bare tree."""
    cost = season_ahead([stakes(low_c)], SITE, END, None, PlanPrices(visit=1000.0)).cost[0]
    return float(cost[BARE, 0, 0] - cost[CLOSED, 0, 0])


@pytest.mark.parametrize("low_c", [-15.0, -17.0, -19.0, -21.0, -25.0])
def test_a_winter_nobody_knows_is_priced_as_the_bell_curve_says_to_half_a_trip(low_c: float) -> None:
    """The worst night of ordinary winters spreads by the 4.7 °C that December to February minima do at ten US valleys
    (computed); with the wood's own width that is one normal curve, and no sum over winters.
    """  # fmt: skip
    wood = tree_row(stakes(low_c).tree, bearing().day).sd_c(HALF_C)
    spread_c = float(np.sqrt(4.7**2 + dose_width_c(TEN_C, HALF_C) ** 2 + float(wood) ** 2))
    taking_off = 0.5 * 20.0 / 20.0  # a trip's worth of minutes to wrap, half of them to take it off
    assert bare_costs(low_c) == pytest.approx(
        40.0 * float(normal_share((HALF_C - low_c) / spread_c)) - taking_off, abs=0.5
    )


@pytest.mark.parametrize(("night_c", "is_left_alone"), [(9.4, True), (8.2, False)])
def test_a_bare_garden_is_left_alone_where_the_worst_night_of_a_dozen_ordinary_winters_brings_no_frost(
    night_c: float, is_left_alone: bool
) -> None:
    """Of twelve the worst is 1.73 sd of 4.7 °C below the usual: 8.1 °C; wood loses nothing down to -0.5 °C.

    Air told even all day still has its low: of five forecasts that err hour by hour, 1.2 °C lower in the mean.
    """
    one = situation(forecast_of(days_of_air([night_c] * 3, [night_c] * 3)), state=CoverState.BARE, count=5)
    assert needs_no_cover([one], slots_ahead([one.weather], SITE, NOW), SITE, None) is is_left_alone


class Asked(MutableMapping[str, SeasonTable]):
    """Tables of which every one is at hand, that count how many were asked for."""

    def __init__(self) -> None:
        self.keys_asked: set[str] = set()

    def __contains__(self, key: object) -> bool:
        self.keys_asked.add(str(key))
        return True

    def __getitem__(self, key: str) -> SeasonTable:
        cost = np.zeros((2, 3, len(OFF_C), len(LOST_LEVELS)))
        return SeasonTable(starts=np.array([0, 297]), cost=cost, never=cost[:, 0], bare_lt50_c=np.zeros(297))

    def __setitem__(self, key: str, value: SeasonTable) -> None:
        raise AssertionError(key)

    def __delitem__(self, key: str) -> None:
        raise AssertionError(key)

    def __iter__(self) -> Iterator[str]:
        return iter(self.keys_asked)

    def __len__(self) -> int:
        return len(self.keys_asked)


def tables_for(offsets_c: tuple[float, ...]) -> int:
    """How many tables a tree needs in whose site these offsets are read one after the other."""
    asked = Asked()
    for offset_c in offsets_c:
        table_of(replace(stakes(-10.0), offset_c=offset_c, tables=asked), SITE, high_plains(), 1.0, PlanPrices())
    return len(asked)


def test_a_table_lasts_while_a_site_is_read_anew_by_fifths_of_a_degree_and_not_for_one_half_a_degree_colder() -> None:
    """Made once takes a second of a core; a garden's cold is not known to better than a quarter of a degree."""
    assert tables_for((-2.0, -1.8, -2.2)) == 1
    assert tables_for((-2.0, -2.6)) == 2
    assert tables_for((-2.0, -1.6, -2.4)) == 3


def for_season(shown: float) -> Cover:
    read = ReadCover(name="cage", shown=(shown,) * 3, doubt=((0.3,) * 3,) * 3, with_air_c=(0.1,) * 3)
    return for_a_season(read)


def test_a_cover_read_inside_is_taken_as_it_was_read_to_an_eighth_of_what_was_unknown_of_it() -> None:
    """So finely that it moves the nights by 0.2 °C at most, so coarsely that a season knows it in a few forms."""
    readings = np.linspace(-1.0, 1.0, 81)
    forms = [for_season(float(shown)) for shown in readings]
    off = [
        abs(form.shown[0] - shown) for form, shown in zip(forms, readings, strict=True) if isinstance(form, ReadCover)
    ]
    assert len(off) == len(readings)
    assert max(off) == pytest.approx(1 / 8, abs=0.02)
    assert for_season(0.1) == for_season(-0.1) == for_season(0.0)
    assert for_season(0.2) != for_season(0.0)


@pytest.mark.parametrize(("never_trips", "pays"), [(5.0, False), (5.5, True)])
def test_a_cover_pays_where_some_way_of_covering_costs_less_than_never_doing_so(never_trips: float, pays: bool) -> None:
    cost = np.full((2, 3, len(OFF_C), len(LOST_LEVELS)), 5.0)
    never = np.full((2, len(OFF_C), len(LOST_LEVELS)), never_trips)
    table = SeasonTable(starts=np.array([0, 297]), cost=cost, never=never, bare_lt50_c=np.zeros(297))
    assert table.wraps(20) is pays
