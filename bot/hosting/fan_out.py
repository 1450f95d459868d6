"""Rounds handed out to many programs by procrastinate: a wake-up and a queue, never the record.

What is due stands in the table of turns and what goes out in the outbox, so switching this off costs speed and loses
nothing: every program looks for turns by itself too, only less often.
"""

import asyncio
import logging
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, suppress
from datetime import datetime
from functools import partial
from typing import Any, Final

from procrastinate import App, PsycopgConnector
from procrastinate.exceptions import AlreadyEnqueued, ConnectorException, UniqueViolation
from procrastinate.jobs import Job, Status

from bot.hosting.many_gardens import Gardens
from bot.logbook.programs.round_leases import cells_due
from bot.messages import in_words

TASK: Final = "evaluate_cell"
WAKE: Final = "wake_outbox"
CELLS: Final = "cells"
OUTBOX: Final = "outbox"
HAND_OUT_EVERY_S: Final = 1.0
MOST_HANDED_OUT: Final = 100  # at a time: several times what is evaluated until the next; the queue need not hold all
SWEEP_EVERY_S: Final = 10.0
STALLED_AFTER_S: Final = 30.0  # three missed heartbeats of a worker
AT_ONCE: Final = 2  # looks under way in one program: they are arithmetic, so more than its cores gain nothing

log = logging.getLogger(__name__)


class FanOut:
    """One program's part: it hands out the cells that are due, and evaluates those it is handed."""

    def __init__(self, gardens: Gardens, address: str, who: str, now: Callable[[], datetime]) -> None:
        self._gardens = gardens
        self._who = who
        self._now = now
        self.app = App(connector=PsycopgConnector(conninfo=conninfo_of(address)))
        self._news: asyncio.Event | None = None
        self._evaluate = self.app.task(name=TASK, queue=CELLS)(self._take)
        self._wake = self.app.task(name=WAKE, queue=OUTBOX)(self._woken)

    async def _take(self, cell: str) -> None:
        """A job may come twice; the second finds the turn taken. What it wrote into the outbox need not wait."""
        if await asyncio.to_thread(self._gardens.take_turn, self._now(), cell):
            with suppress(AlreadyEnqueued):
                await self._wake.configure(queueing_lock=WAKE).defer_async()

    async def _woken(self) -> None:
        if self._news is not None:
            self._news.set()

    def lead(self, news: asyncio.Event | None) -> None:
        """Set `news` from now on whenever any program has made a round; None when this one sends no more."""
        self._news = news

    @asynccontextmanager
    async def opened(self) -> AsyncIterator[None]:
        """The engine's tables made where they are missing, its connections open."""
        async with self.app.open_async():
            if not await self.app.check_connection_async():
                with suppress(ConnectorException):  # another program was quicker
                    await self.app.schema_manager.apply_schema_async()
            yield

    async def run(self, stop: asyncio.Event) -> None:
        """Hand out and evaluate until `stop` is set; a job under way ends first."""
        async with self.opened():
            # a name of its own at each start: jobs of a dead worker of the same name would look alive
            worker = asyncio.ensure_future(
                self.app.run_worker_async(
                    name=self._who, queues=[CELLS], concurrency=AT_ONCE, install_signal_handlers=False,
                    delete_jobs="always",
                )
            )  # fmt: skip
            chores = [
                asyncio.ensure_future(_every(HAND_OUT_EVERY_S, partial(self._listen, stop), stop)),
                asyncio.ensure_future(_every(HAND_OUT_EVERY_S, self.hand_out, stop)),
                asyncio.ensure_future(_every(SWEEP_EVERY_S, self.sweep, stop)),
            ]
            await asyncio.wait([worker, *chores], return_when=asyncio.FIRST_COMPLETED)
            worker.cancel()  # its orderly end: the jobs under way are waited for
            await asyncio.gather(worker, return_exceptions=True)
            for chore in chores:
                chore.cancel()
            await asyncio.gather(*chores, return_exceptions=True)

    async def _listen(self, stop: asyncio.Event) -> None:
        """While this program sends: take the wake-ups of all."""
        if self._news is None:
            return
        worker = asyncio.ensure_future(
            self.app.run_worker_async(
                name=f"{self._who} {OUTBOX}", queues=[OUTBOX], install_signal_handlers=False, delete_jobs="always"
            )
        )
        try:
            while self._news is not None and not stop.is_set() and not worker.done():
                await asyncio.wait([worker], timeout=HAND_OUT_EVERY_S)
        finally:
            worker.cancel()
            await asyncio.gather(worker, return_exceptions=True)

    async def hand_out(self) -> int:
        """How many cells were put into the queue; one that waits there already is not put in again."""
        cells = await asyncio.to_thread(self._due)
        put = 0
        for cell in cells:
            with suppress(AlreadyEnqueued):
                await self._evaluate.configure(queueing_lock=cell).defer_async(cell=cell)
                put += 1
        return put

    def _due(self) -> list[str]:
        with self._gardens.logbook.begin() as c:
            return cells_due(c, self._now(), MOST_HANDED_OUT)

    async def sweep(self) -> int:
        """How many jobs of workers that died were put back; nothing else does it."""
        stalled = list(await self.app.job_manager.get_stalled_jobs(seconds_since_heartbeat=STALLED_AFTER_S))
        for job in stalled:
            await self._put_back(job)
        return len(stalled)

    async def _put_back(self, job: Job) -> None:
        try:
            await self.app.job_manager.retry_job(job)
        except UniqueViolation:  # a newer job for the same cell waits already
            await self.app.job_manager.finish_job(job, status=Status.FAILED, delete_job=True)


def conninfo_of(address: str) -> str:
    """The address of a logbook as the driver alone wants it.

    >>> conninfo_of("postgresql+psycopg://bedstraw@/bedstraw?host=/run/postgresql")
    'postgresql://bedstraw@/bedstraw?host=/run/postgresql'
    """
    return address.replace("postgresql+psycopg://", "postgresql://", 1)


async def _every(seconds: float, work: Callable[[], Any], stop: asyncio.Event) -> None:
    while not stop.is_set():
        try:
            await work()
        except Exception as error:  # noqa: BLE001 - the turns come without the engine too
            log.warning("the engine stumbled: %s", in_words(error))
        with suppress(TimeoutError):
            await asyncio.wait_for(stop.wait(), seconds)
