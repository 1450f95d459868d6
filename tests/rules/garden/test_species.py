"""The species table: look-up by name, cultivar and age; every row complete, in order, with its source."""

import tomllib
from importlib.resources import files
from typing import Any, Final

import pytest

from rules.garden.species import Organ, SpeciesRow, cultivar_names, nearest_species, species_names, species_row
from rules.garden.tree import Phase

TABLE: Final[dict[str, Any]] = tomllib.loads(files("rules.garden").joinpath("species.toml").read_text(encoding="utf-8"))
SPECIES: Final = sorted(set(species_names().values()))


def every_row() -> list[SpeciesRow]:
    rows = [species_row(name, "", age) for name in SPECIES for age in (None, 1)]
    return rows + [species_row(name, cultivar) for name in SPECIES for cultivar in cultivar_names(name)]


@pytest.mark.parametrize("row", every_row(), ids=lambda row: row.label)
def test_every_organ_has_both_points_in_order_in_every_phase(row: SpeciesRow) -> None:
    for organ, phases in row.organs.items():
        assert set(phases) == ({Phase.GROWING, Phase.RIPENING} if organ is Organ.SHOOTS else set(Phase))
        for threshold in phases.values():
            assert threshold.t50_c < threshold.t10_c <= -1.0  # green tissue is safe at -1 °C or is not: never above


@pytest.mark.parametrize("row", every_row(), ids=lambda row: row.label)
def test_wood_is_hardest_at_rest_and_no_phase_bears_less_than_green(row: SpeciesRow) -> None:
    for name in ("t10_c", "t50_c"):
        autumn = [
            getattr(row.wood_hardiness(p), name)
            for p in (Phase.RESTING, Phase.HARDENING, Phase.RIPENING, Phase.GROWING)
        ]
        spring = [getattr(row.wood_hardiness(p), name) for p in (Phase.RESTING, Phase.WAKING, Phase.GROWING)]
        assert autumn == sorted(autumn)
        assert spring == sorted(spring)


@pytest.mark.parametrize("row", every_row(), ids=lambda row: row.label)
def test_every_number_names_a_source_or_calls_itself_an_estimate(row: SpeciesRow) -> None:
    sources = [t.source for phases in row.organs.values() for t in phases.values()] + [row.kinetics.source]
    for source in sources:
        assert "estimate, to be calibrated" in source or "from memory" in source or "common practice" in source


def test_no_row_claims_a_publication_gives_it_whole() -> None:
    classes = [each for key, entry in TABLE.items() if key != "defaults" for each in entry["class"]]
    assert all(each["source"].startswith("estimate, to be calibrated") for each in classes)


# Reports from outside the table, named beside each: one of no harm or of first harm, one of ruin.
@pytest.mark.parametrize(
    ("species", "cultivar", "unhurt_c", "dead_c", "report"),
    [
        ("fig", "", -6.7, -17.8, "dormant plants tolerate 20 °F (Alabama extension); no garden keeps tops at 0 °F"),
        (
            "satsuma",
            "",
            -6.1,
            -11.0,
            "20 °F without notable damage (LSU AgCenter); low teens °F severe (Univ. of Georgia)",
        ),
        ("kaki", "", -11.0, -23.3, "damage starts at 10 °F, deadly at -10 °F (common practice)"),
        ("peach", "", -15.0, -23.3, "0 °F kills some buds, below -10 °F many (NC State University)"),
        ("grape", "Concord", -23.0, -28.9, "hardy class -15 to -20 °F (Dami 2007)"),
        ("kiwi", "", -9.9, -18.0, "buds damaged below -10 (Auckland), almost none fruitful at -18 (Italy 1985)"),
        ("olive", "", -6.9, -12.0, "aerial parts not below -7; limit -8 to -11 (common practice)"),
    ],
)
def test_the_resting_values_lie_between_a_report_of_no_harm_and_one_of_ruin(
    species: str, cultivar: str, unhurt_c: float, dead_c: float, report: str
) -> None:
    rest = species_row(species, cultivar).wood_hardiness(Phase.RESTING)
    assert dead_c < rest.t50_c < rest.t10_c < unhurt_c, report


def test_the_names_growers_use_find_the_species() -> None:
    asked = {
        "persimmon": "kaki", "Kaki": "kaki", "Diospyros virginiana": "american persimmon", "KUMQUAT": "satsuma",
        "lime": "lemon", "grapefruit": "sweet orange", "nectarine": "peach", "Ficus carica": "fig", "figs": "fig",
        "Bay laurel": "bay", "kiwiberry": "hardy kiwi", "pineapple guava": "feijoa", "Níspero": "loquat",
    }  # fmt: skip
    assert {name: species_row(name).species for name in asked} == asked


def test_no_name_stands_for_two_species() -> None:
    names = [name for key, entry in TABLE.items() if key != "defaults" for name in [key, *entry["names"]]]
    assert len(names) == len(set(names)) == len(species_names())


@pytest.mark.parametrize(
    ("misspelt", "meant"), [("figg", "fig"), ("pomegranite", "pomegranate"), ("persimon", "persimmon")]
)
def test_a_misspelt_species_is_refused_with_the_nearest_name(misspelt: str, meant: str) -> None:
    assert nearest_species(misspelt)[0] == meant
    with pytest.raises(ValueError, match=rf"species '{misspelt}' is not in the species table; did you mean .*{meant}"):
        species_row(misspelt)


def test_a_species_nobody_knows_is_refused_without_a_guess() -> None:
    with pytest.raises(ValueError, match="no name in the table is near"):
        species_row("zzzzzzz")


@pytest.mark.parametrize(
    ("cultivar", "age_years", "label"),
    [
        ("", None, "fig, established"),
        ("", 2, "fig under 3 years"),
        ("", 3, "fig, established"),
        ("Hardy Chicago", None, "hardy fig, established"),
        ("'Hardy  chicago'", 8, "hardy fig, established"),
        ("Sal's", 8, "hardy fig, established"),
        ("Hardy Chicago", 1, "fig under 3 years"),  # where sources clash the warmer wins
        ("Alma", 8, "tender fig"),
        ("from the neighbour", 8, "fig, established"),
    ],
)
def test_cultivar_and_age_choose_the_class_of_a_fig(cultivar: str, age_years: int | None, label: str) -> None:
    assert species_row("fig", cultivar, age_years).label == label


def test_a_grape_of_unknown_cultivar_counts_as_the_tenderest() -> None:
    unknown = species_row("grape").wood_hardiness(Phase.RESTING).t10_c
    assert all(
        species_row("grape", name).wood_hardiness(Phase.RESTING).t10_c <= unknown for name in cultivar_names("grape")
    )


@pytest.mark.parametrize("species", [name for name in SPECIES if name != "fig"])
def test_under_three_years_wood_at_rest_is_two_degrees_warmer_and_never_softer_than_hardening(species: str) -> None:
    old, young = species_row(species), species_row(species, "", 2)
    expected_c = min(old.wood_hardiness(Phase.RESTING).t10_c + 2.0, old.wood_hardiness(Phase.HARDENING).t10_c)
    assert young.wood_hardiness(Phase.RESTING).t10_c == expected_c
    assert young.wood_hardiness(Phase.GROWING).t10_c == old.wood_hardiness(Phase.GROWING).t10_c


def test_low_chill_species_count_as_ready_to_wake_by_the_first_of_december() -> None:
    low_chill = {"fig", "kaki", "pomegranate", "satsuma", "sweet orange", "lemon", "olive", "loquat"}
    assert {species_row(name).kinetics.eco_latest for name in low_chill} == {(12, 1)}
    assert species_row("peach").kinetics.eco_latest > (1, 1)
    assert species_row("peach").kinetics.eco_latest != (12, 1)


def test_an_organ_without_its_own_evidence_says_whose_value_it_takes() -> None:
    fig = species_row("fig").organs
    assert fig[Organ.BUDS][Phase.RESTING].t10_c == fig[Organ.WOOD][Phase.RESTING].t10_c
    assert fig[Organ.BUDS][Phase.RESTING].source == "estimate, to be calibrated: no own evidence, taken as wood"
