"""Pictures asked for in the chat: what is taken for such a wish, and what comes back."""

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from bot.answers.season import pictures
from bot.answers.season.drawing import Drawing
from bot.charts import ChartsMissing, Picture
from bot.replies import Context, TreeName, Understood, Verb, parse_reply
from tests.bot.phone import Phone, larkmoor, winters_file

NOW = datetime(2025, 11, 28, 19, tzinfo=UTC)
CONTEXT = Context(
    trees=(
        TreeName(name="Porch fig", short_names=("porch",), number=1, species="fig", standing="wall"),
        TreeName(name="Bench fig", short_names=("bench",), number=2, species="fig"),
        TreeName(name="Kaki", number=3, species="kaki"),
    ),
    now=NOW,
    zone=ZoneInfo("America/Denver"),
)


@pytest.mark.parametrize(
    ("text", "kind", "trees"),
    [
        ("show me porch", "week", ("Porch fig",)),
        ("Show the kaki please", "week", ("Kaki",)),
        ("chart porch", "week", ("Porch fig",)),
        ("picture of the porch fig", "week", ("Porch fig",)),
        ("picture of the week", "week", ()),
        ("picture", "week", ()),
        ("/picture bench", "week", ("Bench fig",)),
        ("week chart for bench", "week", ("Bench fig",)),
        ("draw the cover of porch", "section", ("Porch fig",)),
        ("draw porch's cover", "section", ("Porch fig",)),
        ("can you sketch the inside of the kaki?", "section", ("Kaki",)),
        ("freeze dates picture", "freezes", ()),
        ("frost curve", "freezes", ()),
        ("show me a picture of the freeze dates", "freezes", ()),
        ("chart the season", "season", ()),
        ("picture of the season at bench", "season", ("Bench fig",)),
        ("winter chart", "season", ()),
        ("picture of the twins", "twins", ()),
        ("supplies chart", "supplies", ()),
    ],
)
def test_a_wish_for_a_picture_is_understood(text: str, kind: str, trees: tuple[str, ...]) -> None:
    reply = parse_reply(text, CONTEXT)
    assert isinstance(reply, Understood)
    assert [(m.verb, m.text, m.trees) for m in reply.meanings] == [(Verb.PICTURE, kind, trees)]


@pytest.mark.parametrize(
    "text",
    [
        "closed porch",
        "show me the trees",
        "drew the cover off porch",
        "draw the curtains",
        "covered the porch",
        "wrapped the kaki, picture later",
        "chart figs",  # several trees: no one picture
        "season",
        "frost?",
        "picked 12 from porch",
        "show is over, closed bench",
    ],
)
def test_other_words_are_no_wish_for_a_picture(text: str) -> None:
    reply = parse_reply(text, CONTEXT)
    meanings = reply.meanings if isinstance(reply, Understood) else ()
    assert Verb.PICTURE not in {meaning.verb for meaning in meanings}


@pytest.fixture(scope="module")
def phone() -> Iterator[Phone]:
    garden = larkmoor("Pomegranate", "Trial pomegranate", winters=winters_file())
    phone = Phone(garden, NOW)
    phone.tick()
    yield phone
    phone.logbook.close()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("show me pomegranate", "Week ahead for Pomegranate."),
        ("draw the cover of pomegranate", "Cover of Pomegranate, cut open."),
        ("season chart of trial", "Season so far of Trial pomegranate."),
        ("freeze dates picture", ""),
        ("picture of the twins", "Pomegranate"),
        ("supplies picture", "Supplies."),
    ],
)
def test_a_picture_comes_with_its_words_as_caption(phone: Phone, text: str, words: str) -> None:
    (sent,) = phone.send(text=text)
    assert words in sent.text
    assert len(sent.text) <= 1024  # the messenger's limit for a caption
    assert sent.picture is not None
    assert Path(sent.picture).read_bytes().startswith(b"\x89PNG")


def test_a_tree_without_a_cover_has_no_section(phone: Phone) -> None:
    (sent,) = phone.send(text="draw the cover of trial")
    assert sent.picture is None
    assert "cover" in sent.text


def test_where_nothing_can_draw_the_words_come_alone_and_how_to_get_the_picture(
    phone: Phone, monkeypatch: pytest.MonkeyPatch
) -> None:
    def missing() -> Picture:
        raise ChartsMissing("no drawing library")

    said = Drawing(draw=missing, words=lambda: "Week ahead for Pomegranate.")
    monkeypatch.setattr(pictures, "drawing", lambda *_: said)
    (sent,) = phone.send(text="show me pomegranate")
    assert sent.picture is None
    assert sent.text.startswith("Week ahead for Pomegranate.")
    assert "pip install" in sent.text
