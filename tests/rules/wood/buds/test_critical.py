"""Critical spring temperatures against the Celsius columns of the published tables."""

from itertools import pairwise
from statistics import NormalDist

import pytest

from rules.wood.buds.critical import BudRow, bud_row, bud_rows, bud_species, critical, stages

# T10, T90 [°C] of the Fahrenheit table (Michigan State University Extension, "Critical spring temperatures for tree
# fruit bud development stages", after Washington State University bulletins; apple, pear and peach agree in Penn State
# Extension and Utah State University IPM-012-11), then T50 and sd by a normal curve, worked out apart from the code.
TREES = """
apple
  silver tip: -9.4 -16.7 -13.1 2.82
  green tip: -7.8 -12.2 -10.0 1.73
  half-inch green: -5.0 -9.4 -7.2 1.73
  tight cluster: -2.8 -6.1 -4.4 1.30
  first pink: -2.2 -4.4 -3.3 0.87
  full pink: -2.2 -3.9 -3.1 0.65
  first bloom: -2.2 -3.9 -3.1 0.65
  full bloom: -2.2 -3.9 -3.1 0.65
  post bloom: -2.2 -3.9 -3.1 0.65
pear
  bud scales separating: -9.4 -17.8 -13.6 3.25
  blossom buds exposed: -6.7 -14.4 -10.6 3.03
  tight cluster: -4.4 -9.4 -6.9 1.95
  first white: -3.9 -7.2 -5.6 1.30
  full white: -3.3 -5.6 -4.4 0.87
  first bloom: -2.8 -5.0 -3.9 0.87
  full bloom: -2.2 -4.4 -3.3 0.87
  post bloom: -2.2 -4.4 -3.3 0.87
peach
  first swelling: -7.8 -17.2 -12.5 3.68
  calyx green: -6.1 -15.0 -10.6 3.47
  calyx red: -5.0 -12.8 -8.9 3.03
  first pink: -3.9 -9.4 -6.7 2.17
  first bloom: -3.3 -6.1 -4.7 1.08
  full bloom: -2.8 -4.4 -3.6 0.65
  post bloom: -2.2 -3.9 -3.1 0.65
apricot
  swollen bud: -9.4 none none none
  tips separate: -6.7 -17.8 -12.2 4.34
  calyx red: -5.6 -12.8 -9.2 2.82
  first white: -4.4 -10.0 -7.2 2.17
  first bloom: -3.9 -7.2 -5.6 1.30
  full bloom: -2.8 -5.6 -4.2 1.08
  in the shuck: -2.8 -4.4 -3.6 0.65
  green fruit: -2.2 -3.9 -3.1 0.65
european plum
  first swelling: -10.0 -17.8 -13.9 3.03
  side white: -8.3 -16.1 -12.2 3.03
  tip green: -6.7 -13.9 -10.3 2.82
  tight cluster: -4.4 -8.9 -6.7 1.73
  first white: -3.3 -5.6 -4.4 0.87
  first bloom: -2.8 -5.0 -3.9 0.87
  full bloom: -2.2 -5.0 -3.6 1.08
  post bloom: -2.2 -5.0 -3.6 1.08
sweet cherry
  swollen bud: -8.3 -15.0 -11.7 2.60
  side green: -5.6 -12.8 -9.2 2.82
  green tip: -3.9 -10.0 -6.9 2.38
  tight cluster: -3.3 -8.3 -5.8 1.95
  open cluster: -2.8 -6.1 -4.4 1.30
  first white: -2.8 -4.4 -3.6 0.65
  first bloom: -2.2 -3.9 -3.1 0.65
  full bloom: -2.2 -3.9 -3.1 0.65
  post bloom: -2.2 -3.9 -3.1 0.65
tart cherry
  swollen bud: -9.4 -17.8 -13.6 3.25
  side green: -4.4 -12.2 -8.3 3.03
  green tip: -3.3 -5.6 -4.4 0.87
  tight cluster: -3.3 -4.4 -3.9 0.43
  open cluster: -2.2 -4.4 -3.3 0.87
  first white: -2.2 -4.4 -3.3 0.87
  first bloom: -2.2 -4.4 -3.3 0.87
  full bloom: -2.2 -3.9 -3.1 0.65
  petal fall: -2.2 -3.9 -3.1 0.65
"""


def tree_rows() -> list[tuple[str, str, list[float | None]]]:
    rows, species = [], ""
    for line in TREES.strip().splitlines():
        if not line.startswith(" "):
            species = line
            continue
        stage, values = line.strip().split(": ")
        rows.append((species, stage, [None if cell == "none" else float(cell) for cell in values.split()]))
    return rows


def test_a_row_says_what_the_table_prints() -> None:
    for species, stage, printed in tree_rows():
        t10_c, t50_c, t90_c, sigma_c = critical(species, stage)
        for found, known, half_digit in zip(
            (t10_c, t90_c, t50_c, sigma_c), printed, (0.05, 0.05, 0.05, 0.005), strict=True
        ):
            # half the printed digit, a shade more for what ends in 5
            within = None if known is None else pytest.approx(known, abs=half_digit + 1e-3)
            assert found == within, (species, stage)


def test_the_table_holds_every_stage_and_no_other() -> None:
    printed = [(species, stage) for species, stage, _ in tree_rows()]
    trees = dict.fromkeys(species for species, _ in printed)
    assert [(species, stage) for species in trees for stage in stages(species)] == printed
    assert set(bud_species()) == {*trees, "grape", "kaki", "kiwi"}


# Two grape tables: FAO 2005, table 4.8 (Concord), T10 and T90 [°C]; Michigan State University, 10, 50, 90 % [°F].
GRAPE = {
    "first swell": ((-10.6, -19.4), (13, 7, -3)),
    "full swell": ((-6.1, -12.2), (26, 21, 10)),
    "bud burst": ((-3.9, -8.9), (28, 25, 16)),
    "first leaf": ((-2.8, -6.1), (28.5, 27, 21)),
    "second leaf": ((-2.2, -5.6), (29, 28, 22)),
    "third leaf": ((-2.2, -3.3), (28, None, 26)),
    "fourth leaf": ((-2.2, -2.8), (28, None, 27)),
}


@pytest.mark.parametrize("stage", GRAPE)
def test_both_grape_tables_are_kept_and_the_warmer_one_raises_the_alarm(stage: str) -> None:
    (fao_t10_c, fao_t90_c), (ten_f, fifty_f, ninety_f) = GRAPE[stage]
    both = {row.source[:3]: row.critical for row in bud_rows("grape") if row.stage == stage}
    assert (both["FAO"].t10_c, both["FAO"].t90_c) == (fao_t10_c, fao_t90_c)
    assert both["Mic"].t10_c == pytest.approx((ten_f - 32) / 1.8)
    assert both["Mic"].t90_c == pytest.approx((ninety_f - 32) / 1.8)
    if fifty_f is not None:
        assert both["Mic"].t50_c == pytest.approx((fifty_f - 32) / 1.8)
    # 0.05: the FAO table is rounded to a tenth, so equal stages differ by its digit
    assert critical("grape", stage).t10_c >= max(c.t10_c for c in both.values()) - 1e-12
    assert both["Mic"].t90_c == pytest.approx(both["FAO"].t90_c, abs=0.05)


def test_kaki_at_bud_burst_follows_its_two_measured_points() -> None:
    # Choi et al. 2013: 54 % at -2.2 and 95 % at -3.0 °C after an hour
    _, t50_c, _, sigma_c = critical("kaki", "bud burst")
    assert t50_c is not None
    assert sigma_c is not None
    killed = NormalDist(-t50_c, sigma_c)
    assert killed.cdf(2.2) == pytest.approx(0.54, abs=0.04)  # its T50 and T90 are rounded to a tenth
    assert killed.cdf(3.0) == pytest.approx(0.95, abs=0.02)
    assert bud_row("kaki", "bud burst").minutes == 60


def every_row() -> list[BudRow]:
    return [row for species in bud_species() for row in bud_rows(species)]


def test_ninety_in_a_hundred_die_no_warmer_than_ten_and_each_row_names_its_source() -> None:
    for row in every_row():
        t10_c, t50_c, t90_c, sigma_c = row.critical
        assert len(row.source) > 20
        if t90_c is not None:
            assert t50_c is not None
            assert sigma_c is not None
            assert t10_c > t50_c > t90_c
            assert sigma_c > 0


@pytest.mark.parametrize("species", bud_species())
def test_buds_grow_tenderer_from_stage_to_stage(species: str) -> None:
    for source in {row.source.removesuffix(", from memory") for row in bud_rows(species)}:
        rows = [row for row in bud_rows(species) if row.source.startswith(source[:40])]
        for before, after in pairwise(rows):
            if (species, source[:8], after.stage) == ("grape", "Michigan", "third leaf"):
                continue  # the table itself steps back from 29 to 28 °F
            assert after.critical.t10_c >= before.critical.t10_c
            if before.critical.t90_c is not None and after.critical.t90_c is not None:
                assert after.critical.t90_c >= before.critical.t90_c


def test_a_bud_or_stage_in_no_table_is_refused_with_what_there_is() -> None:
    with pytest.raises(ValueError, match="no critical spring temperatures of 'fig', the tables have apple, pear"):
        critical("fig", "full bloom")
    with pytest.raises(ValueError, match="no stage 'pink mist' of apple, the tables have silver tip, green tip"):
        critical("apple", "pink mist")
    assert critical(" Apple ", "Full Bloom") == critical("apple", "full bloom")
