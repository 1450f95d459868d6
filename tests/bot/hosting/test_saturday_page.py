"""The page on Saturdays: for who wants it, once, at the hour of the all-is-well; said in the chat."""

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from bot.settings import read_garden
from tests.bot.household_phones import Phones, demo_garden

DENVER = ZoneInfo("America/Denver")
FRIDAY = datetime(2025, 11, 28, 17, 0, tzinfo=DENVER)
SATURDAY = datetime(2025, 11, 29, 17, 0, tzinfo=DENVER)


@pytest.fixture
def phones(tmp_path: Path) -> Iterator[Phones]:
    phones = Phones(demo_garden(tmp_path, "Porch fig"), FRIDAY)
    yield phones
    phones.logbook.close()


def pages(phones: Phones) -> list[tuple[int, str]]:
    return [(one.chat_id, one.text) for one in phones.tick() if (one.picture or "").endswith("page.html")]


def test_who_wants_it_has_the_page_once_on_a_saturday_afternoon_and_who_does_not_has_none(phones: Phones) -> None:
    phones.now = SATURDAY
    assert pages(phones) == []
    assert "The page comes on Saturdays" in phones.say("send me the page on saturdays")
    assert read_garden(phones.path).page_on_saturdays
    phones.now = FRIDAY
    assert pages(phones) == []
    phones.now = SATURDAY
    sent = pages(phones)
    assert len(sent) == 2  # both who live there
    assert all("Larkmoor this Saturday." in text for _, text in sent)
    assert pages(phones) == []
    assert "when you ask" in phones.say("no page on saturdays")
