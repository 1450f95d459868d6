"""The other door for home sensors: readings that a broker of the house passes on (MQTT), by topics."""

import asyncio
import contextlib
import json
import logging
import ssl
import threading
import time
from collections.abc import Callable
from datetime import datetime
from typing import Any, Final

import aiomqtt

from bot.logbook import Logbook, LogbookError
from bot.logbook.garden.entries import SENSOR
from bot.sensors.readings import Row, take_readings
from bot.settings import Garden, MqttBroker, SensorTopic

LONGEST_MESSAGE: Final = 4096  # bytes; a thermometer says less
EVERY_S: Final = 60.0  # one message of a topic is looked at in so many seconds; one an hour is kept. Assumed
LOOK_S: Final = 20.0  # how soon a changed garden file is heeded
LONGEST_PAUSE_S: Final = 60.0

log = logging.getLogger(__name__)


def connection(broker: MqttBroker) -> aiomqtt.Client:
    """A connection, not yet open. What was kept for us while away is not wanted: nobody knows how old it is.

    Raises
    ------
    OSError
        The file of certificates cannot be read.
    """
    trust = ssl.create_default_context(cafile=broker.certificates) if broker.is_encrypted else None
    return aiomqtt.Client(
        broker.host, broker.port, username=broker.user, password=broker.password, tls_context=trust, clean_session=True
    )


class Subscription:
    """Hears the topics of one garden in a thread of its own, for as long as it lasts, and notes what they tell.

    `garden` gives the garden as it is now, None where there is none; topics that its file no longer names are let go.
    """

    def __init__(
        self,
        garden: Callable[[], Garden | None],
        logbook: Logbook,
        broker: MqttBroker,
        now: Callable[[], datetime],
        clock_s: Callable[[], float] = time.monotonic,
    ) -> None:
        self._garden, self._logbook, self._broker, self._now, self._clock_s = garden, logbook, broker, now, clock_s
        self._heard_s: dict[str, float] = {}
        self._said = ""
        self._loop: asyncio.AbstractEventLoop | None = None
        self._task: asyncio.Task[None] | None = None
        self.is_listening = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True, name="mqtt")

    def start(self) -> None:
        """Begin to listen."""
        self._thread.start()

    def stop(self) -> None:
        """End at once: what is not heard is not lost, since the next reading comes anyway."""
        if self._loop is not None and self._task is not None:
            with contextlib.suppress(RuntimeError):  # it has ended by itself
                self._loop.call_soon_threadsafe(self._task.cancel)
        self._thread.join(LOOK_S)

    def _run(self) -> None:
        with contextlib.suppress(asyncio.CancelledError):
            asyncio.run(self._for_ever())

    async def _for_ever(self) -> None:
        self._loop, self._task = asyncio.get_running_loop(), asyncio.current_task()
        pause_s = 1.0
        while True:
            try:
                await self._listen()
            except (aiomqtt.MqttError, OSError) as error:
                self.is_listening.clear()
                self._say(f"the broker of the sensors cannot be heard: {type(error).__name__}: {error}")
                await asyncio.sleep(pause_s)
                pause_s = min(2 * pause_s, LONGEST_PAUSE_S)
            else:
                pause_s = 1.0

    def _say(self, words: str) -> None:
        """The same trouble is told once."""
        if words != self._said:
            log.warning("%s", words)
        self._said = words

    async def _listen(self) -> None:
        """Until the garden's topics change."""
        topics = _topics(self._garden())
        async with connection(self._broker) as client:
            for topic in topics:
                await client.subscribe(topic)
            self._said = ""
            log.info("sensors are heard on %d topics", len(topics))
            self.is_listening.set()
            hearing = asyncio.ensure_future(self._hear(client))
            try:
                while _topics(self._garden()) == topics:
                    done, _ = await asyncio.wait({hearing}, timeout=LOOK_S)
                    if done:
                        return hearing.result()
            finally:
                hearing.cancel()

    async def _hear(self, client: aiomqtt.Client) -> None:
        async for message in client.messages:
            topic = str(message.topic)
            if message.retain or not self._is_time_for(topic):
                continue  # a kept message is of nobody knows when
            told = message.payload if isinstance(message.payload, bytes) else str(message.payload).encode()
            await asyncio.get_running_loop().run_in_executor(None, self.note, topic, told)

    def _is_time_for(self, topic: str) -> bool:
        now_s = self._clock_s()
        if now_s - self._heard_s.get(topic, -EVERY_S) < EVERY_S:
            return False
        self._heard_s[topic] = now_s
        return True

    def note(self, topic: str, payload: bytes) -> None:
        """One message noted at the trees whose topic it is; what cannot be taken is told in the log."""
        garden = self._garden()
        if garden is None:
            return
        rows = [_row(one, payload) for one in garden.sensors if one.topic == topic]
        try:
            with self._logbook.begin() as c:
                taken = take_readings(c, garden, SENSOR, rows, self._now())
        except LogbookError as error:
            self._say(f"a reading could not be noted: {error}")
            return
        for sentence in taken.refused:
            self._say(f"sensor {json.dumps(topic)}: {sentence}")


def _topics(garden: Garden | None) -> tuple[str, ...]:
    return tuple(dict.fromkeys(one.topic for one in garden.sensors)) if garden else ()


def _row(one: SensorTopic, payload: bytes) -> Row:
    """The message as a row of a table: a number alone, or one inside a JSON document under names joined by dots."""
    told: Any = payload[:LONGEST_MESSAGE].decode("utf-8", "replace").strip()
    if one.value:
        try:
            told = json.loads(told)
            for name in one.value.split("."):
                told = told[int(name)] if isinstance(told, list) else told[name]
        except (ValueError, KeyError, IndexError, TypeError, RecursionError):
            told = f'no "{one.value}"'
    return {"tree": one.tree, f"air_{one.unit}": told, "place": one.place}
