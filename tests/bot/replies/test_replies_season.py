"""The words of the season, the garden file and the household; and that none of them is ever read into a deed."""

from collections.abc import Callable
from dataclasses import fields, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.replies import Ambiguous, Meaning, Reply, Understood, Verb, parse_reply
from bot.replies.phrases.descriptions import read_coordinates, read_cover_words, read_tree_words
from rules.garden.cover import Preset
from rules.garden.tree import Purpose, Standing
from tests.bot.replies.test_replies_phrases import SCENES, read, shown, table

NEW = {
    Verb.ADD, Verb.REMOVE, Verb.RENAME, Verb.COVER, Verb.LET_IN, Verb.WHO, Verb.PUT_OUT, Verb.DIEBACK, Verb.PICKED,
    Verb.PRUNED, Verb.CUTTINGS, Verb.GIVE, Verb.PHOTO, Verb.EXPORT, Verb.DELETE,
}  # fmt: skip


def told(meaning: Meaning) -> str:
    """One meaning in the table's notation, with what the new verbs carry before the free text."""
    plain, _, words = shown(meaning).partition(" '")
    sizes = [str(meaning.count)] if meaning.count is not None else []
    sizes += [f"{100 * meaning.share:.0f}%"] if meaning.share is not None else []
    sizes += [f"{100 * meaning.length_m:.0f}cm"] if meaning.length_m is not None else []
    sizes += [f"of {100 * meaning.whole_m:.0f}cm"] if meaning.whole_m is not None else []
    return " ".join([plain, *sizes, *([f"'{words}"] if words else [])])


def written(reply: Reply, told: Callable[[Meaning], str] = told) -> str:
    """A reply in the table's notation."""
    if isinstance(reply, Understood):
        return " ; ".join(map(told, reply.meanings))
    if isinstance(reply, Ambiguous):
        return "? " + " | ".join(" ; ".join(map(told, way)) for way in reply.ways)
    return "-"


def meanings(reply: Reply) -> list[Meaning]:
    if isinstance(reply, Understood):
        return list(reply.meanings)
    certain = reply.certain if isinstance(reply, Ambiguous) else ()
    return [*certain, *(meaning for choice in reply.choices for meaning in choice.meanings)]


def test_each_of_more_than_eighty_phrases_means_what_the_table_says() -> None:
    inches = {scene: replace(context, inches=context.fahrenheit) for scene, context in SCENES.items()}
    rows = [(said, meant, written(parse_reply(said, inches[at]))) for at, said, meant in table("season_phrases.toml")]
    assert len(rows) >= 80
    assert [row for row in rows if row[1] != row[2]] == []


@pytest.mark.parametrize("name", ["phrases.toml", "phrases_held_back.toml"])
def test_no_phrase_of_the_covers_is_taken_for_a_word_of_the_season(name: str) -> None:
    """The tables for deeds, refusals, readings and questions were written before any of the new words."""
    taken = [said for scene, said, _ in table(name) if NEW & {m.verb for m in meanings(read(scene, said))}]
    assert taken == []


DEEDS = ["closed", "opened", "wrapped", "stripped", "vented", "shut", "covered", "uncovered", "took the cap off"]
PLACES = ["porch", "the wall", "kaki", "1", "all", "both", "porch and wall", "everything"]
TIMES = ["", "at 4", "this morning", "yesterday", "20 minutes ago", "!", "👍"]


@given(st.sampled_from(DEEDS), st.sampled_from(PLACES), st.sampled_from(TIMES), st.sampled_from(sorted(SCENES)))
def test_a_deed_told_is_never_read_as_one_of_the_new_words(deed: str, place: str, time: str, scene: str) -> None:
    for said in (f"{deed} {place} {time}", f"{place} {deed} {time}"):
        assert not NEW & {meaning.verb for meaning in meanings(parse_reply(said, SCENES[scene]))}


WORDS = (
    "porch wall kaki figs 12 30 cm of 150 lost died back picked cuttings pruned a third no damage add called remove to "
    "cover : let in who put out export delete my data closed not ? will , . % 1/2 20 percent for"
)
SPICE = WORDS.split()


@given(st.lists(st.sampled_from(SPICE), max_size=9).map(" ".join) | st.text(max_size=60))
def test_any_text_gets_an_answer_within_its_bounds(text: str) -> None:
    for meaning in meanings(parse_reply(text, SCENES["quiet"])):
        assert meaning.share is None or 0 <= meaning.share <= 1
        assert meaning.length_m is None or 0 <= meaning.length_m <= (meaning.whole_m or 20)
        assert meaning.count is None or meaning.count > 0
        assert not (meaning.verb in NEW and meaning.is_deed)
        assert len({field.name for field in fields(meaning)}) == len(vars(meaning))


# --- descriptions ----------------------------------------------------------------------------------------------------


def test_a_new_tree_is_read_from_its_description() -> None:
    words = read_tree_words("a Florea fig called Porch, by the house wall, planted 2023", 2026)
    assert (words.name, words.species, words.cultivar) == ("Porch", "fig", "Florea")
    assert (words.standing, words.planted_year) == (Standing.WALL, 2023)


@pytest.mark.parametrize(
    ("said", "standing"),
    [
        ("a kaki in the open, called K", Standing.OPEN),
        ("an olive in a pot called Tub", Standing.POT),
        ("a fig under the eaves called E", Standing.EAVE),
        ("a fig called H in a frost pocket", Standing.HOLLOW),
        ("a fig called 'In the hollow'", None),  # a name in quotation marks is a name
        ("a fig called H, in a frost pocket", Standing.HOLLOW),
        ("a fig called S, on the slope", Standing.SLOPE),
        ("a fig called Wall", None),  # a name says nothing of the place
    ],
)
def test_where_a_tree_stands_is_read_but_not_from_its_name(said: str, standing: Standing | None) -> None:
    assert read_tree_words(said, 2026).standing is standing


def test_age_and_purpose_are_read() -> None:
    words = read_tree_words("fig called T, 3 years old, on trial, left bare", 2026)
    assert (words.planted_year, words.purpose, words.left_bare) == (2023, Purpose.TRIAL, True)


@pytest.mark.parametrize(
    ("said", "preset", "sizes_m"),
    [
        ("straw cage with film, 60 cm inside, 100 cm outside", Preset.STRAW_FILM, (0.6, 1.0, None)),
        ("straw, blanket and film", Preset.STRAW_BLANKET_FILM, (None, None, None)),
        ("burlap, 5 ft high", Preset.BURLAP, (None, None, 1.524)),
        ("box, inside 20 in, outside 36 in", Preset.BOX, (0.508, 0.9144, None)),
        ("bent down and mounded", Preset.MOUND, (None, None, None)),
    ],
)
def test_a_cover_is_read_from_its_description(
    said: str, preset: Preset, sizes_m: tuple[float | None, float | None, float | None]
) -> None:
    words = read_cover_words(said, inches=False)
    assert words is not None
    assert words.preset is preset
    assert tuple(words.sizes_m.get(key) for key in ("inner_diameter", "outer_diameter", "height")) == sizes_m


@pytest.mark.parametrize(
    ("said", "preset", "built"),
    [
        ("double cage with straw and film, top sticks out", Preset.STRAW_FILM, {}),
        ("wire cages with straw and plastic film", Preset.STRAW_FILM, {}),
        (
            "straw cage with a moving blanket outside the straw",  # of a film nothing was said
            Preset.STRAW,
            {"blanket": "moving blanket", "blanket_place": "outside"},
        ),
        ("straw, blanket and film", Preset.STRAW_BLANKET_FILM, {}),
        ("a box with a lid filled with leaves", Preset.BOX, {"fill": "leaves"}),
        ("tent of film", Preset.FILM, {}),
        ("straw cage with two films", Preset.STRAW_FILM, {"second_film": True}),
    ],
)
def test_all_layers_told_of_a_cover_are_kept_and_none_is_added(
    said: str, preset: Preset, built: dict[str, str]
) -> None:
    words = read_tree_words(f"a fig called Well, in the open, planted 2017, {said}", 2026)
    assert (words.cover, words.cover_built, words.unkept) == (preset, built, ())


def test_what_is_no_variety_is_not_taken_for_one_and_a_barn_is_no_heated_house() -> None:
    words = read_tree_words("a fig I don't know the kind of called Stray, by the wall of the barn", 2026)
    assert (words.name, words.species, words.cultivar, words.standing) == ("Stray", "fig", "", None)


def test_a_size_without_a_unit_is_in_the_growers_own() -> None:
    for inches, size_m in ((True, 0.508), (False, 0.2)):
        words = read_cover_words("straw cage, 20 inside", inches=inches)
        assert words is not None
        assert words.sizes_m["inner_diameter"] == pytest.approx(size_m, abs=1e-6)


@pytest.mark.parametrize("preset", list(Preset))
def test_every_preset_is_known_by_its_own_name(preset: Preset) -> None:
    words = read_cover_words(preset.value, inches=False)
    assert words is not None
    assert words.preset is preset


@pytest.mark.parametrize(
    ("typed", "place"),
    [
        ("12.3, -45.6", (12.3, -45.6)),
        ("12.3 -45.6", (12.3, -45.6)),
        ("12.3°N 45.6°W", (12.3, -45.6)),
        ("−12.3, 45.6", (-12.3, 45.6)),
        ("12.3 S, 45.6 E", (-12.3, 45.6)),
        ("-6.5", None),
        ("47 N, 8 O", None),  # east to some, west to others
        ("95, 10", None),
        ("closed porch", None),
    ],
)
def test_a_place_is_read_from_its_coordinates(typed: str, place: tuple[float, float] | None) -> None:
    assert read_coordinates(typed) == place
