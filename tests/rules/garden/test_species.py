"""The species table: look-up by name, cultivar and age; every row complete, in order, with its source."""

import tomllib
from importlib.resources import files
from typing import Any, Final

import pytest

from rules.garden.species import (
    Organ,
    SpeciesRow,
    nearest_species,
    one_name,
    species_names,
    species_row,
    with_own_limits,
)
from rules.garden.tree import Phase

TABLE: Final[dict[str, Any]] = tomllib.loads(files("rules.garden").joinpath("species.toml").read_text(encoding="utf-8"))
SPECIES: Final = sorted(set(species_names().values()))


def cultivars(species: str) -> list[str]:
    """Those whose class the table knows by repute."""
    return [name for class_ in TABLE[species]["class"] for name in class_.get("cultivars", ())]


def every_row() -> list[SpeciesRow]:
    rows = [species_row(name, "", age) for name in SPECIES for age in (None, 1)]
    return rows + [species_row(name, cultivar) for name in SPECIES for cultivar in cultivars(name)]


def test_every_organ_has_both_points_in_order_in_every_phase() -> None:
    for row in every_row():
        for organ, phases in row.organs.items():
            green = {Phase.GROWING, Phase.RIPENING}
            assert set(phases) == (green if organ is Organ.SHOOTS else set(Phase)), row.label
            for threshold in phases.values():  # green tissue is safe at -1 °C or is not: never above
                assert threshold.lt50_c < threshold.lt10_c <= -1.0, row.label


def test_wood_is_hardest_at_rest_and_no_phase_bears_less_than_green() -> None:
    softening = [Phase.RESTING, Phase.HARDENING, Phase.RIPENING, Phase.GROWING]
    for row in every_row():
        for name in ("lt10_c", "lt50_c"):
            autumn = [getattr(row.wood_hardiness(p), name) for p in softening]
            spring = [getattr(row.wood_hardiness(p), name) for p in (Phase.RESTING, Phase.WAKING, Phase.GROWING)]
            assert autumn == sorted(autumn), row.label
            assert spring == sorted(spring), row.label


def test_every_number_names_a_source_or_calls_itself_an_estimate() -> None:
    for row in every_row():
        for source in [t.source for phases in row.organs.values() for t in phases.values()] + [row.kinetics.source]:
            said = ("estimate, to be calibrated", "from memory", "common practice")
            assert any(words in source for words in said), row.label


def test_no_row_claims_a_publication_gives_it_whole() -> None:
    classes = [each for key, entry in TABLE.items() if key != "defaults" for each in entry["class"]]
    assert all(each["source"].startswith("estimate, to be calibrated") for each in classes)


# Reports from outside the table, named beside each: °C of no harm or of first harm, and of ruin.
REPORTS: Final = (
    ("fig", "", -6.7, -17.8, "dormant plants tolerate 20 °F (Alabama extension); no garden keeps tops at 0 °F"),
    ("satsuma", "", -6.1, -11.0, "20 °F without notable damage (LSU AgCenter); low teens °F severe (Univ. of Georgia)"),
    ("kaki", "", -11.0, -23.3, "damage starts at 10 °F, deadly at -10 °F (common practice)"),
    ("peach", "", -15.0, -23.3, "0 °F kills some buds, below -10 °F many (NC State University)"),
    ("grape", "Concord", -23.0, -28.9, "hardy class -15 to -20 °F (Dami 2007)"),
    ("kiwi", "", -9.9, -18.0, "buds damaged below -10 (Auckland), almost none fruitful at -18 (Italy 1985)"),
    ("olive", "", -6.9, -12.0, "aerial parts not below -7; limit -8 to -11 (common practice)"),
    ("jujube", "", -20.0, -29.0, "established trees -23 to -29 by report; 'to about -28'"),
    ("white mulberry", "", -20.0, -34.0, "-25 to -30 °F by report"),
    ("black mulberry", "", -10.0, -20.0, "hardy to 10 °F, not advised in zone 7"),
    ("feijoa", "", -8.9, -13.1, "unhurt at 16 °F; killed almost to the ground below -13 °C"),
    ("yuzu", "", -9.0, -17.8, "not under 10 °F if it is to fruit; severely hurt at 0 °F"),
    ("crape myrtle", "", -12.0, -20.6, "reliably to 10 °F; all die back below -5 °F"),
    ("rose", "", -10.0, -20.0, "hybrid teas withstand about 12 °F"),
    ("banana", "", -1.0, -6.0, "the stem copes with a few degrees below freezing"),
    ("pawpaw", "", -20.0, -32.0, "zone 5; -10 to -20 °F without much damage"),
)


def test_the_resting_values_lie_between_a_report_of_no_harm_and_one_of_ruin() -> None:
    for species, cultivar, unhurt_c, dead_c, report in REPORTS:
        rest = species_row(species, cultivar).wood_hardiness(Phase.RESTING)
        assert dead_c < rest.lt50_c < rest.lt10_c < unhurt_c, (species, report)


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
    unknown = species_row("grape").wood_hardiness(Phase.RESTING).lt10_c
    assert all(
        species_row("grape", name).wood_hardiness(Phase.RESTING).lt10_c <= unknown for name in cultivars("grape")
    )


OWN_YOUNG: Final = {name for name in SPECIES for each in TABLE[name]["class"] if "under_years" in each}


def test_under_three_years_wood_at_rest_is_two_degrees_warmer_and_never_softer_than_hardening() -> None:
    for species in set(SPECIES) - OWN_YOUNG:
        old, young = species_row(species), species_row(species, "", 2)
        expected_c = min(old.wood_hardiness(Phase.RESTING).lt10_c + 2.0, old.wood_hardiness(Phase.HARDENING).lt10_c)
        assert young.wood_hardiness(Phase.RESTING).lt10_c == expected_c, species
        assert young.wood_hardiness(Phase.GROWING).lt10_c == old.wood_hardiness(Phase.GROWING).lt10_c, species


def test_a_published_need_counts_in_portions_and_the_rest_go_by_the_calendar_or_a_published_sum() -> None:
    # University of California list of chill portions (after Erez 2000, Ruiz et al. 2007 and others)
    assert {name for name in SPECIES if species_row(name).kinetics.chill_portions} == {
        "peach", "apricot", "cherry", "almond", "apple", "european plum",
    }  # fmt: skip
    assert [name for name in SPECIES if species_row(name).kinetics.chill_sum_c_days] == ["grape"]
    assert species_row("fig").kinetics.half_ready == (1, 15)


def test_low_chill_is_a_fast_rate_and_a_shallow_hardiness() -> None:
    # Kovaleski, PNAS 2022 (abstract): what is called low chill is little hardiness lost fast
    fig, grape = species_row("fig"), species_row("grape", "Concord")
    assert fig.kinetics.kd_eco > grape.kinetics.kd_eco
    assert fig.lt50_c(Phase.RESTING) > grape.lt50_c(Phase.RESTING)


def test_white_and_black_mulberry_lie_far_apart() -> None:
    assert species_row("morus alba").lt50_c(Phase.RESTING) < species_row("morus nigra").lt50_c(Phase.RESTING) - 8.0
    assert species_row("mulberry").species == "white mulberry"  # the common one where winters are cold


def test_no_class_lists_a_synonym_the_table_of_synonyms_has_under_another_name() -> None:
    for species in SPECIES:
        assert all(one_name(species, name) == name for name in cultivars(species)), species


@pytest.mark.parametrize("traded_as", ["Chicago Hardy", "Bensonhurst Purple", "mongibello", "'Hardy Chicago'"])
def test_a_cultivar_has_one_class_under_all_its_names(traded_as: str) -> None:
    assert species_row("fig", traded_as).label == "hardy fig, established"


def test_a_kind_nobody_has_a_row_for_stands_on_the_growers_own_limit() -> None:
    row = with_own_limits(species_row("unknown"), {Phase.RESTING: -15.0})
    assert (row.label, row.wood_hardiness(Phase.RESTING).lt10_c, row.lt50_c(Phase.RESTING)) == (
        "your own limits",
        -15.0,
        -18.0,
    )
    assert row.wood_hardiness(Phase.HARDENING).lt10_c == (-2.5 - 15.0) / 2  # rule d: midway from ripening to resting
    assert row.wood_hardiness(Phase.WAKING).lt10_c == (-2.5 - 8.75) / 2
    assert row.organs[Organ.SHOOTS][Phase.GROWING].lt10_c == -1.0


def test_a_kind_nobody_has_a_row_for_counts_as_tender_until_the_grower_says() -> None:
    assert species_row("something else").wood_hardiness(Phase.RESTING).lt10_c == -7.0


def test_an_organ_without_its_own_evidence_says_whose_value_it_takes() -> None:
    fig = species_row("fig").organs
    assert fig[Organ.BUDS][Phase.RESTING].lt10_c == fig[Organ.WOOD][Phase.RESTING].lt10_c
    assert fig[Organ.BUDS][Phase.RESTING].source == "estimate, to be calibrated: no own evidence, taken as wood"
