"""A messenger, or what stands before it, that drips: every call ends, and of a send nobody knows what came of it."""

import asyncio
import time

import pytest
from telegram.error import TimedOut

from bot.outbox import Outcome
from bot.telegram_chat import Pauses, outcome_of
from bot.telegram_chat.transport import BoundedRequest, connected
from tests.bot.hostile_weather import DRIPS, Malice, hostile_weather

HANGS_S = 30.0  # a call that is not bounded drips for ever; the bound is half a second, the rest is the machine's


@pytest.mark.parametrize("malice", DRIPS, ids=lambda one: one.value)
def test_a_call_that_drips_ends_and_is_unclear(malice: Malice) -> None:
    async def call(address: str) -> None:
        async with BoundedRequest(within_s=0.5, read_timeout=5.0) as request:
            await request.do_request(f"{address}/bot1:x/sendMessage", "POST")

    with hostile_weather(malice) as service:
        began_s = time.monotonic()
        with pytest.raises(TimedOut) as ended:
            asyncio.run(call(service.address))
        assert time.monotonic() - began_s < HANGS_S
    assert outcome_of(ended.value).outcome is Outcome.UNKNOWN


def test_all_calls_of_the_door_are_bounded() -> None:
    async def requests() -> list[object]:
        async with connected("1:x", "http://127.0.0.1:1", Pauses()) as bot:
            return list(bot._request)

    assert all(isinstance(one, BoundedRequest) for one in asyncio.run(requests()))
