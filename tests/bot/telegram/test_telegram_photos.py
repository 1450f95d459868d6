"""Pins, photos and mentions as the messenger writes them; photos fetched, refused, and wanted again after a fault."""

import asyncio
import json
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

import pytest
from telegram.error import BadRequest, NetworkError

from bot.messages import LARGEST_FILE_BYTES, LARGEST_PHOTO_BYTES
from bot.telegram_chat import read_update
from bot.telegram_chat.photos import GONE, fetch_photos

NOW = datetime(2026, 11, 25, 16, 10, tzinfo=UTC)
ROWAN = {"id": 7, "is_bot": False, "first_name": "Rowan"}


def update(**content: Any) -> str:
    chat = content.pop("chat", {"id": 7, "type": "private"})
    message = {"message_id": 1, "date": 1795622400, "chat": chat, "from": ROWAN, **content}
    return json.dumps({"update_id": 9, "message": message})


def size(name: str, pixels: int, size_bytes: int) -> dict[str, Any]:
    return {"file_id": name, "file_unique_id": name, "width": pixels, "height": pixels, "file_size": size_bytes}


def test_a_pin_is_a_place() -> None:
    heard = read_update(update(location={"latitude": 39.0, "longitude": -109.0}))
    assert heard is not None
    assert heard.location == (39.0, -109.0)
    assert heard.sender_id == 7


def test_of_a_photos_sizes_the_largest_that_is_kept_is_taken_with_its_words() -> None:
    sizes = [size("small", 90, 1000), size("large", 1280, 200_000), size("huge", 9000, LARGEST_PHOTO_BYTES + 1)]
    heard = read_update(update(photo=sizes, caption="porch in leaf"))
    assert heard is not None
    assert (heard.photo_id, heard.text) == ("large", "porch in leaf")


@pytest.mark.parametrize(("mime", "kept"), [("image/jpeg", "file"), ("application/pdf", "")])
def test_a_picture_sent_as_a_file_is_a_photo_and_another_file_is_not(mime: str, kept: str) -> None:
    document = {"file_id": "file", "file_unique_id": "f", "mime_type": mime, "file_size": 1000}
    heard = read_update(update(document=document))
    assert heard is not None
    assert heard.photo_id == kept


def test_a_file_that_is_no_picture_comes_with_its_name_and_one_too_large_without_its_id() -> None:
    document = {"file_id": "file", "file_unique_id": "f", "mime_type": "application/toml", "file_name": "garden.toml"}
    heard = read_update(update(document=document | {"file_size": LARGEST_FILE_BYTES}))
    assert heard is not None
    assert (heard.file_id, heard.file_name, heard.photo_id) == ("file", "garden.toml", "")
    too_large = read_update(update(document=document | {"file_size": LARGEST_FILE_BYTES + 1}))
    assert too_large is not None
    assert (too_large.file_id, too_large.file_name) == ("", "garden.toml")


GROUP = {"id": -5, "type": "group", "title": "The house"}


def test_in_a_group_only_what_is_meant_for_us_is_heard() -> None:
    assert read_update(update(chat=GROUP, text="closed porch"), 99) is None
    heard = read_update(update(chat=GROUP, text="@larkmoor_bot closed porch"), 99)
    assert heard is not None
    assert (heard.text, heard.sender_id, heard.is_group) == ("closed porch", 7, True)
    assert read_update(update(chat=GROUP, text="/due"), 99) is not None


@dataclass
class Photo:
    file_id: str


@dataclass
class File:
    data: bytes
    file_size: int

    async def download_as_bytearray(self) -> bytearray:
        return bytearray(self.data)


@dataclass
class Shelf:
    """Wants what was not kept yet."""

    names: list[str]
    kept: dict[str, bytes] = field(default_factory=dict)
    threads: list[str] = field(default_factory=list)

    def wanted(self, now: datetime) -> list[Photo]:  # noqa: ARG002 - the shelf's words
        return [Photo(name) for name in self.names if name not in self.kept]

    def keep(self, photo: Photo, data: bytes) -> None:
        self.kept[photo.file_id] = data
        self.threads.append(threading.current_thread().name)


@dataclass
class Messenger:
    """Answers getFile as told: a file, or an error to raise."""

    answers: dict[str, File | Exception]

    async def get_file(self, file_id: str) -> File:
        answer = self.answers[file_id]
        if isinstance(answer, Exception):
            raise answer
        return answer


async def at_once(work: Callable[[], Any]) -> Any:
    return work()


def test_a_photo_is_fetched_one_the_messenger_refuses_is_given_up_and_a_fault_is_tried_again() -> None:
    shelf = Shelf(["good", "gone", "late", "large"])
    messenger = Messenger(
        {
            "good": File(b"\xff\xd8\xff", 3),
            "gone": BadRequest("wrong file_id or the file is temporarily unavailable"),
            "late": NetworkError("reset"),
            "large": File(b"\xff\xd8\xff", LARGEST_PHOTO_BYTES + 1),
        }
    )
    asyncio.run(fetch_photos(messenger, shelf, at_once, NOW))  # type: ignore[arg-type]  # the one call it makes
    assert shelf.kept == {"good": b"\xff\xd8\xff", "gone": GONE, "large": GONE}
    messenger.answers["late"] = File(b"\xff\xd8\xff", 3)
    asyncio.run(fetch_photos(messenger, shelf, at_once, NOW))  # type: ignore[arg-type]  # as above
    assert shelf.kept["late"] == b"\xff\xd8\xff"


def test_what_was_fetched_is_read_in_a_thread_in_which_no_message_waits() -> None:
    """A garden file that is dear to read holds up neither the loop of the door nor its thread for the logbook."""
    shelf, messenger = Shelf(["file"]), Messenger({"file": File(b"name = ", 7)})
    with ThreadPoolExecutor(1, thread_name_prefix="logbook") as doors_own:

        async def in_thread(work: Callable[[], Any]) -> Any:
            return await asyncio.get_running_loop().run_in_executor(doors_own, work)

        asyncio.run(fetch_photos(messenger, shelf, in_thread, NOW))  # type: ignore[arg-type]  # the one call it makes
    assert shelf.kept == {"file": b"name = "}
    assert not {"MainThread", "logbook_0"} & set(shelf.threads)
