"""The page to look at: sound HTML for any browser and reader, nothing fetched, nothing run, the numbers of the chat."""

import re
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import html5lib
import pytest

from bot.__main__ import main
from bot.answers.season import garden_page
from bot.charts import ChartsMissing, Theme
from bot.charts.theme import PAINTS
from bot.page.document import PARTS
from bot.replies import Context, Understood, Verb, parse_reply
from tests.bot.household_phones import demo_garden
from tests.bot.phone import Phone, larkmoor

NOW = datetime(2025, 11, 28, 19, tzinfo=UTC)
EVIL = '<script src="//x">"Porch" & co</script>'
OUTSIDE = ("src", "srcset", "poster", "action", "data")


@pytest.fixture(scope="module")
def phone() -> Iterator[Phone]:
    garden = larkmoor("Porch fig", "Trial pomegranate")
    renamed = garden.trees[0].model_copy(update={"name": EVIL, "short_names": ("porch",)})
    phone = Phone(garden.model_copy(update={"trees": (renamed, *garden.trees[1:])}), NOW)
    phone.tick()
    phone.say("closed porch")
    phone.say("-6.5 at porch this morning")
    yield phone
    phone.close()


def _sent(phone: Phone) -> str:
    (sent,) = phone.send(text="page")
    assert sent.picture is not None
    assert Path(sent.picture).stat().st_mode & 0o077 == 0  # it says where covers stand open, and when
    return Path(sent.picture).read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def page(phone: Phone) -> str:
    return _sent(phone)


@pytest.fixture(scope="module")
def tree(page: str) -> Any:
    """As html5lib reads it, which follows the HTML standard and here forgives no error."""
    return html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(page)


def _words(element: Any) -> str:
    return " ".join("".join(element.itertext()).split())


def test_nothing_is_fetched_or_run(page: str, tree: Any) -> None:
    assert not list(tree.iter("script"))
    assert not [e for e in tree.iter() for name in OUTSIDE if isinstance(e.tag, str) and name in e.attrib]
    links = [value for e in tree.iter() for name, value in e.attrib.items() if str(name).endswith("href")]
    assert links
    assert {link[0] for link in links} == {"#"}
    assert not re.findall(r"url\((?!#)|@import|https?:", page)
    assert "default-src 'none'" in page  # Content Security Policy Level 3: so a browser loads nothing whatever is there


def test_a_name_that_is_markup_is_shown_as_a_name(tree: Any) -> None:
    assert EVIL in [_words(e) for e in tree.iter("h3")]


def test_every_table_and_picture_says_what_it_is(tree: Any) -> None:
    """WCAG 2.2, 1.1.1 and 1.3.1 (from memory): words for each picture, captions, headers of rows and columns."""
    tables, pictures = list(tree.iter("table")), [e for e in tree.iter() if str(e.tag).endswith("svg")]
    assert len(tables) >= 5
    assert len(pictures) == 5  # week and season of two trees, one cover
    for table in tables:
        assert _words(table.find("caption"))
        assert all(e.get("scope") == "col" for e in table.find("thead").iter("th"))
        assert all(len(list(row.iter("th"))) == 1 for row in table.find("tbody").iter("tr"))
    assert all(e.get("role") == "img" and len(e.get("aria-label")) > 40 for e in pictures)


def test_every_link_leads_to_a_part_and_no_name_stands_twice(tree: Any) -> None:
    names = [e.get("id") for e in tree.iter() if e.get("id")]
    assert len(names) == len(set(names))
    ways = [e.get("href")[1:] for e in tree.find("body").iter("a")]
    assert ways == [key for key, _, _ in PARTS]
    assert set(ways) <= set(names)


def test_tonight_stands_on_the_page_as_the_chat_tells_it(phone: Phone, tree: Any) -> None:
    line = next(line for line in phone.say("tonight").splitlines() if line.startswith("Trial"))
    feels, safe = re.findall(r"−?\d+", line)[:2]
    rows = next(e for e in tree.iter("section") if e.get("id") == "tonight").find(".//tbody")
    cells = next([_words(cell) for cell in row] for row in rows if _words(row[0]).startswith("Trial"))
    assert cells[1] == feels
    assert cells[2].split()[0] == safe


@pytest.mark.parametrize("theme", list(Theme))
def test_words_can_be_read_in_light_and_in_the_dark(theme: Theme) -> None:
    """WCAG 2.2, 1.4.3: text stands out 4.5 to 1 at least; the formula of relative luminance is its own."""
    paint = PAINTS[theme]
    ground = _luminance(paint.ground)
    for colour in (paint.ink, paint.faint, paint.closed):
        light, dark = sorted((ground, _luminance(colour)), reverse=True)
        assert (light + 0.05) / (dark + 0.05) >= 4.5


def _luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_pictures_take_the_colours_of_the_page(page: str) -> None:
    drawn = re.findall(r"<svg.*?</svg>", page, re.DOTALL)
    assert not [found for one in drawn for found in re.findall(r"(?:fill|stroke): (#\w+)", one)]


def test_where_nothing_can_draw_the_tables_say_it_all(phone: Phone, monkeypatch: pytest.MonkeyPatch) -> None:
    def missing(*_: object) -> None:
        raise ChartsMissing("no drawing library")

    monkeypatch.setattr(garden_page, "draw_week", missing)
    page = _sent(phone)
    assert "<svg" not in page
    assert "pip install" in page
    assert page.count("<table") >= 5


@pytest.mark.parametrize("text", ["page", "the page please", "send me the page", "/page", "show my garden page"])
def test_a_wish_for_the_page_is_understood(text: str) -> None:
    reply = parse_reply(text, Context(trees=(), now=NOW, zone=larkmoor().site.zone))
    assert isinstance(reply, Understood)
    assert [meaning.verb for meaning in reply.meanings] == [Verb.PAGE]


def test_the_command_writes_it_beside_the_garden_file_and_begins_no_logbook(tmp_path: Path) -> None:
    garden = demo_garden(tmp_path, "Porch fig")
    assert main(["page", str(garden), "--now", "2025-11-28T16:00"]) == 0
    assert "<h1>Larkmoor</h1>" in garden.with_suffix(".html").read_text(encoding="utf-8")
    assert not garden.with_suffix(".logbook").exists()
