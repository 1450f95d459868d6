"""A garden that does not exist yet: from the printed code to the first look, by pin or by typing; refusals in words."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from pytest_httpserver import HTTPServer

from bot.forecasts import Transport
from bot.hosting.first_evening import _height_m
from bot.hosting.new_garden import NewGarden
from bot.hosting.one_garden import Watch
from bot.logbook import list_people, make_let_in_code, open_logbook
from bot.replies.phrases.descriptions import read_tree_words
from bot.rounds import Setting
from bot.settings import read_garden
from rules.garden.cover import Preset
from rules.garden.tree import Tending
from tests.bot.talk import STRANGER, Talk

NOW = datetime(2026, 11, 25, 16, 10, tzinfo=ZoneInfo("America/Denver"))
PLACE = (39.0, -109.0)


class Beginning(Talk):
    """One phone in front of a garden to be."""

    def __init__(self, folder: Path, address: str) -> None:
        super().__init__(open_logbook(folder / "my_garden.logbook"), NOW)
        self.path = folder / "my_garden.toml"
        transport = Transport(addresses={"open-meteo": address}, pause=lambda _: None)
        self.door = NewGarden(self.path, "My garden", self.logbook, transport, self._watch)
        self._transport = transport

    def _watch(self) -> Watch:
        garden = read_garden(self.path)
        return Watch(Setting(garden=garden, logbook=self.logbook, transport=self._transport, path=self.path))

    def code(self) -> str:
        with self.logbook.begin() as c:
            return make_let_in_code(c, "My garden", self.now, timedelta(hours=48), "owner")


@pytest.fixture
def begin(tmp_path: Path, httpserver: HTTPServer) -> Iterator[Beginning]:
    """A weather service on loopback that knows the height of the place and nothing else."""
    httpserver.expect_request("/v1/elevation").respond_with_json({"elevation": [1743.0]})
    beginning = Beginning(tmp_path, httpserver.url_for("").rstrip("/"))
    yield beginning
    beginning.logbook.close()


def test_a_pin_two_taps_a_sentence_and_two_taps_make_a_garden(begin: Beginning) -> None:
    assert "location pin" in begin.say(begin.code())
    assert begin.say(location=PLACE) == "Is your clock on America/Denver time?"
    assert "1743 m" in begin.tap("Yes")
    assert "first tree" in begin.tap("°F, inches, mph")
    assert "cover Porch" in begin.say("add a fig called Porch, by the house wall, planted 2023")
    assert "How does the cover of" in begin.tap("Straw, film")
    assert "worth" in begin.tap("Cap open")
    assert "whose way" in begin.tap("As usual: 40")
    assert "My garden is set up, with Porch" in begin.tap("As I was taught")
    garden = read_garden(begin.path)
    assert (garden.name, garden.people[0].name) == ("My garden", "Rowan")
    assert (garden.site.latitude_deg, garden.site.elevation_m, garden.site.time_zone) == (39.0, 1743, "America/Denver")
    assert (garden.units.fahrenheit, garden.units.length) == (True, "in")
    tree = garden.trees[0]
    assert (tree.name, tree.species, tree.standing, tree.planted_year) == ("Porch", "fig", "wall", 2023)
    assert garden.tending is Tending.AS_TAUGHT
    assert "Porch: cap open" in begin.say("trees")


def test_the_same_is_typed_word_by_word(begin: Beginning) -> None:
    begin.say(begin.code())
    for said in ("39.0, -109.0", "yes", "1", "kaki", "Gate", "in the open", "no cover"):
        begin.say(said)
    begin.say("30")
    assert "My garden is set up, with Gate" in begin.say("fewest trips")
    garden = read_garden(begin.path)
    assert (garden.trees[0].species, garden.trees[0].cover, garden.trees[0].worth_trips) == ("kaki", None, 30)
    assert garden.units.fahrenheit is False


def test_trees_told_while_one_is_asked_about_wait_their_turn_and_none_is_taken_for_an_answer(begin: Beginning) -> None:
    begin.say(begin.code())
    for said in ("39.0, -109.0", "yes", "°F, inches, mph", "a fig called Well, in the open"):
        begin.say(said)
    creeper = "add a fig called Creeper, in the open, bent down and mounded"
    assert begin.say(creeper).startswith("Creeper comes next. First: How do you cover Well")
    begin.say("no cover")
    assert "Creeper comes next. First: How many walks" in begin.say(creeper)  # said twice, it waits once
    assert "I did not understand" in begin.say("an old tree, this")  # an article is no number
    begin.say("40")
    answer = begin.say("fewest trips")
    assert "set up, with Well" in answer
    assert "How does the cover of" in answer
    assert "Crate comes next. First: How does the cover of" in begin.say("add a lemon called Crate, in a court")
    begin.say("mounded")
    answer = begin.say("1")
    assert "Added Creeper" in answer
    assert "worth 10 trips" in answer
    assert "How do you cover Crate" in answer
    assert [tree.name for tree in read_garden(begin.path).trees] == ["Well", "Creeper"]


def test_sizes_and_a_second_film_told_in_the_sentence_are_kept(begin: Beginning) -> None:
    begin.say(begin.code())
    for said in ("39.0, -109.0", "yes", "°F, inches, mph"):
        begin.say(said)
    answer = begin.say("a fig called Old Tom, by the house wall, straw cage with two layers of film, 24 inches inside")
    assert "did not keep" not in answer
    for said in ("cap shut", "40", "fewest trips"):
        begin.say(said)
    garden = read_garden(begin.path)
    cover = garden.covers[str(garden.trees[0].cover)]
    assert (cover.preset, cover.second_film) == (Preset.STRAW_FILM, True)
    assert cover.inner_diameter_m == pytest.approx(0.6096)  # 24 inches


def test_what_follows_a_name_is_no_part_of_it() -> None:
    words = read_tree_words("a fig called Nude left bare, twin of Coat", 2026)
    assert (words.name, words.left_bare, words.twin) == ("Nude", True, "Coat")


def test_a_sentence_tells_all_it_can_of_a_tree_and_what_has_no_place_is_said(begin: Beginning) -> None:
    begin.say(begin.code())
    for said in ("39.0, -109.0", "yes", "°C, cm, km/h"):
        begin.say(said)
    said = "add a fig called Well, planted 2017, 350 cm high, in the open, twin of Gate, bent down and mounded, sings"
    answer = begin.say(said)
    assert "did not keep it: sings; twin of Gate" in answer
    assert "How does the cover of" in answer
    assert "worth" in begin.say("mounded")
    begin.say("40")
    begin.say("early")
    (tree,) = read_garden(begin.path).trees
    assert (tree.planted_year, tree.height_m, tree.twin) == (2017, 3.5, None)
    assert read_garden(begin.path).covers[str(tree.cover)].preset is Preset.MOUND
    assert "Well: mounded" in begin.say("trees")


def test_a_kind_that_is_in_no_table_is_kept_and_a_near_one_asked_about(begin: Beginning) -> None:
    begin.say(begin.code())
    for said in ("39.0, -109.0", "yes", "°C, cm, km/h", "a tree called Gate, in the open"):
        begin.say(said)
    assert "Do you mean one of these?" in begin.say("pomegranite")
    assert "How do you cover" in begin.tap("No, pomegranite")
    for said in ("no cover", "40", "early"):
        begin.say(said)
    (tree,) = read_garden(begin.path).trees
    assert (tree.species, tree.cultivar) == ("unknown", "pomegranite")


@pytest.mark.parametrize("said", ["planted 2017", "it is 3 wide", "two figs", "1620 m and 5 cm"])
def test_a_number_that_is_no_height_is_not_taken_for_one(said: str) -> None:
    assert _height_m(said) is None


def test_the_owner_of_the_printed_code_is_the_owner_and_nobody_else_is_heard(begin: Beginning) -> None:
    code = begin.code()
    assert "private garden" in begin.say("39.0, -109.0", STRANGER)
    begin.say(code)
    assert "wrong, used up" in begin.say(code, STRANGER)
    with begin.logbook.begin() as c:
        assert [(person.name, person.role) for person in list_people(c, "My garden")] == [("Rowan", "owner")]


def test_what_is_no_answer_is_asked_again_and_a_wrong_zone_can_be_named(begin: Beginning) -> None:
    begin.say(begin.code())
    assert "press and hold the spot" in begin.say("where do I find those?")
    begin.say("39.0, -109.0")
    assert "Which time zone" in begin.tap("No")
    assert "did not understand" in begin.say("Atlantis/Sunken")
    assert "What do you want to read" in begin.say("america/boise")
    begin.say("1")
    begin.say("fig called Porch in a pot")
    assert "did not understand" in begin.say("with love")
    for said in ("burlap", "not on yet", "20", "early"):
        begin.say(said)
    assert read_garden(begin.path).site.time_zone == "America/Boise"


def test_another_pin_before_the_clock_is_confirmed_moves_the_garden(begin: Beginning) -> None:
    begin.say(begin.code())
    begin.say("39.0, -109.0")
    assert begin.say(location=(52.0, -1.0)) == "Is your clock on Europe/London time?"


def test_a_place_without_a_known_height_is_asked_for_it(tmp_path: Path) -> None:
    begin = Beginning(tmp_path, "http://127.0.0.1:9")  # the discard port: nobody answers
    begin.say(begin.code())
    begin.say("39.0, -109.0")
    assert "How high" in begin.say("yes")
    assert "did not understand" in begin.say("90000 m")
    assert "1615 m (5300 ft)" in begin.say("5300 ft")
    begin.logbook.close()


def test_a_tree_the_reader_refuses_is_asked_again_in_its_words(begin: Beginning) -> None:
    begin.say(begin.code())
    for said in ("39.0, -109.0", "yes", "1", "add a fig called due, in the open", "none"):
        begin.say(said)
    begin.say("40")
    text = begin.say("as I was taught")
    assert "is a word of the conversation" in text
    assert "first tree" in text
    assert not begin.path.exists()
    for said in ("a fig called Porch, in the open", "none", "40"):
        begin.say(said)
    assert read_garden(begin.path).trees[0].name == "Porch"


def test_a_restart_in_the_middle_goes_on_where_it_was(begin: Beginning) -> None:
    begin.say(begin.code())
    begin.say("39.0, -109.0")
    begin.door = NewGarden(begin.path, "My garden", begin.logbook, begin._transport, begin._watch)
    assert "1743 m" in begin.say("yes")


def test_words_near_the_buttons_are_heard(begin: Beginning) -> None:
    begin.say(begin.code())
    begin.say("39.0, -109.0")
    assert "What do you want to read" in begin.say("yep")
    assert "first tree" in begin.say("farenheit")
    begin.say("a fig called Well, in the open, no cover")
    assert "whose way" in begin.say("quite a lot")
    begin.say("early please")
    assert read_garden(begin.path).trees[0].worth_trips == 80


def test_a_name_without_called_is_offered_and_no_spot_or_word_of_the_chat_is_a_name(begin: Beginning) -> None:
    begin.say(begin.code())
    for said in ("39.0, -109.0", "yes", "°C, cm, km/h"):
        begin.say(said)
    assert "What do you call it?" in begin.say("a satsuma Tub, in a pot, goes into the garage")
    for no_name in ("in the open", "trees"):
        assert "did not understand" in begin.say(no_name)
    begin.tap("Tub")
    for said in ("Inside", "40", "early"):
        begin.say(said)
    (tree,) = read_garden(begin.path).trees
    assert (tree.name, tree.species, tree.cultivar, tree.cover) == ("Tub", "satsuma", "", "garage")


def test_news_of_a_tree_is_no_answer_to_what_is_asked_of_another(begin: Beginning) -> None:
    begin.say(begin.code())
    for said in ("39.0, -109.0", "yes", "°C, cm, km/h", "a satsuma called Tub, in a pot, goes into the garage"):
        begin.say(said)
    for said in ("not on yet", "40", "early", "add a fig called Gate, straw cage with film"):
        begin.say(said)
    assert "Tub brought in" in begin.say("brought tub in")  # "tub" is a word for a pot, too
    assert "How does the cover of Gate" in begin.say("in the open")
    begin.say("not on yet")
    begin.say("low was -4 at tub")
    assert "Added Gate: fig, in the open" in begin.say("30 trips")
    assert read_garden(begin.path).trees[1].worth_trips == 30


@pytest.mark.parametrize(
    ("said", "name"),
    [
        ("a hardy fig next to the chimney, I call it Well, straw cage", "Well"),
        ("a fig called Ditch we bend down and cover with straw", "Ditch"),
        ("a fig called Gate with straw and film", "Gate"),
        ("a fig called Old Tom that goes into the garage", "Old Tom"),
    ],
)
def test_a_name_ends_where_the_sentence_goes_on(said: str, name: str) -> None:
    assert read_tree_words(said, 2026).name == name


def test_a_tree_under_the_same_cover_as_another_is_not_asked_for_it(begin: Beginning) -> None:
    begin.say(begin.code())
    for said in ("39.0, -109.0", "yes", "1", "a fig called Well, in the open, straw cage with two films, same as ever"):
        begin.say(said)
    for said in ("not on yet", "40", "early", "Add: a fig called Gate, in the open, same cover as Well", "no"):
        begin.say(said)
    assert "Added Gate" in begin.say("40")
    well, gate = read_garden(begin.path).trees
    assert gate.cover == well.cover
