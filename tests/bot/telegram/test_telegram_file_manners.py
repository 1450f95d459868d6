"""Files are asked for with manners over a real wire, and given up with a word to who sent them."""

import asyncio
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from telegram.error import NetworkError, RetryAfter

from bot.answers.garden_file.attachments import Attachments, attachments_of
from bot.answers.season.photos import PhotoShelf, shelf_of
from bot.rounds.setting import Setting
from bot.telegram_chat.photos import Patience, fetch_for_ever
from bot.telegram_chat.transport import Pauses, connected
from tests.bot.household_phones import Phones, demo_garden
from tests.bot.talk import ROWAN
from tests.bot.telegram.conftest import Town
from tests.bot.telegram.open_door import SPEED
from tests.bot.telegram.proxy import Fault, refusal

NOW = datetime(2025, 11, 28, 16, 20, tzinfo=UTC)
OFTEN = 10_000


@dataclass
class Photo:
    file_id: str


@dataclass
class Shelf:
    """Wants its photos again and again."""

    names: tuple[str, ...]
    looked: int = 0
    kept: list[str] = field(default_factory=list)

    def wanted(self, now: datetime) -> list[Photo]:  # noqa: ARG002 - the shelf's words
        self.looked += 1
        return [Photo(name) for name in self.names]

    def keep(self, photo: Photo, data: bytes) -> None:  # noqa: ARG002 - the shelf's words
        self.kept.append(photo.file_id)


def asked_over(town: Town, shelf: Shelf, fault: Fault, fast_s: float) -> list[str]:
    """Which files were asked for while the loop ran so long on the fast clock, looking once in its every second."""

    async def here(work: Callable[[], Any]) -> Any:
        return work()

    async def run() -> None:
        async with connected(town.token, town.wire.address, Pauses(answer_s=2)) as bot, asyncio.timeout(fast_s / SPEED):
            await fetch_for_ever(bot, shelf, here, town.clock, 1 / SPEED)

    town.wire.breaks(fault)
    with pytest.raises(TimeoutError):
        asyncio.run(run())
    return [call.fields["file_id"] for call in town.wire.asked("getFile")]


def test_a_file_that_cannot_be_had_is_asked_for_after_2_4_8_16_seconds_not_every_one(town: Town) -> None:
    shelf = Shelf(("late",))
    asked = asked_over(town, shelf, refusal("getFile", 500, "Internal Server Error", OFTEN), 60)
    assert 2 <= len(asked) <= 6  # at 0, 2, 6, 14 and 30 s of the fast clock, and one for a slow machine
    assert shelf.looked > 2 * len(asked)


@pytest.mark.filterwarnings("ignore::telegram.warnings.PTBDeprecationWarning")  # the library warns itself
def test_the_messenger_that_asks_for_a_pause_gets_it_for_all_files(town: Town) -> None:
    shelf = Shelf(("one", "two"))
    asked = asked_over(town, shelf, refusal("getFile", 429, "Too Many Requests", OFTEN, retry_after=3000), 40)
    assert asked == ["one"]
    assert shelf.looked > 2


@pytest.mark.filterwarnings("ignore::telegram.warnings.PTBDeprecationWarning")  # the library warns itself
def test_patience_grows_to_five_minutes_and_outlives_no_clock_that_was_set_back() -> None:
    patience, at = Patience(), NOW
    pauses = []
    for _ in range(10):
        patience.failed("a", NetworkError("reset"), at)
        began = at
        while not patience.allows("a", at):
            at += timedelta(seconds=1)
        pauses.append((at - began).total_seconds())
    assert pauses == [2, 4, 8, 16, 32, 64, 128, 256, 300, 300]
    patience.failed("a", RetryAfter(86_400), at)
    assert not patience.allows("b", at + timedelta(minutes=59))
    assert patience.allows("b", at + timedelta(minutes=61))
    assert patience.allows("b", at - timedelta(days=1))
    patience.forget_all_but(())
    assert patience.allows("a", at + timedelta(minutes=61))


@pytest.fixture
def phones(tmp_path: Path) -> Phones:
    return Phones(demo_garden(tmp_path, "Porch fig"), NOW)


def setting(phones: Phones) -> Setting:
    return phones.watch.setting


def photos(phones: Phones) -> PhotoShelf:
    found = shelf_of(setting(phones))
    assert found is not None
    return found


def shelves(phones: Phones) -> Attachments:
    found = attachments_of(setting(phones), lambda: phones.now)
    assert found is not None
    return found


def told(phones: Phones) -> list[tuple[int, str]]:
    return [(one.chat_id, one.text) for one in phones.listen()]


LOST = (ROWAN, "I could not get your photo of Porch fig, so it is not kept. Please send it once more.")


def test_a_photo_not_had_within_a_day_is_given_up_with_a_word_to_who_sent_it(phones: Phones) -> None:
    phones.say("porch", photo_id="AgAD")
    phones.now += timedelta(hours=23)
    assert len(photos(phones).wanted(phones.now)) == 1
    phones.now += timedelta(hours=2)
    assert photos(phones).wanted(phones.now) == []
    assert told(phones) == [LOST]
    assert photos(phones).wanted(phones.now) == []
    assert told(phones) == []
    phones.close()


def test_a_photo_the_messenger_will_not_give_is_told_too(phones: Phones) -> None:
    phones.say("porch", photo_id="AgAD")
    (wanted,) = photos(phones).wanted(phones.now)
    photos(phones).keep(wanted, b"")
    assert told(phones) == [LOST]
    phones.close()


def test_a_photo_lost_long_ago_is_let_go_without_a_word(phones: Phones) -> None:
    phones.say("porch", photo_id="AgAD")
    phones.now += timedelta(days=30)
    assert photos(phones).wanted(phones.now) == []
    assert told(phones) == []
    phones.close()


def test_a_garden_file_that_never_came_is_given_up_after_an_hour_with_a_word(phones: Phones) -> None:
    phones.send(ROWAN, kind="text", text="", file_id="BQAD", file_name="larkmoor.toml")
    assert len(shelves(phones).wanted(phones.now)) == 1
    phones.now += timedelta(minutes=61)
    assert shelves(phones).wanted(phones.now) == []
    assert [text for _, text in told(phones)] == [
        "I could not get larkmoor.toml. Please send it once more; nothing was changed."
    ]
    phones.close()
