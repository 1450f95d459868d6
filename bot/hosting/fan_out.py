"""Rounds handed out to many programs by procrastinate: who looks at which weather cell, and what of the dead is left.

It is a queue, never the record: what is due stands in the table of turns and what goes out in the outbox, so losing it
costs speed and no message.
"""

import asyncio
import logging
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager, suppress
from datetime import datetime
from functools import partial
from typing import Any, Final

from procrastinate import App, PsycopgConnector
from procrastinate.exceptions import AlreadyEnqueued, ConnectorException, UniqueViolation
from procrastinate.job_context import JobContext
from procrastinate.jobs import Job, Status

from bot.hosting.many_gardens import Gardens
from bot.logbook.database.opening import PATIENCE
from bot.logbook.programs.turns import cells_for
from bot.messages import in_words
from bot.upkeep.logs import ToldOnce

TASK: Final = "evaluate_cell"
CELLS: Final = "cells"  # whoever is free takes them; a program's own are in "cells of" it
HAND_OUT_EVERY_S: Final = 1.0
MOST_HANDED_OUT: Final = 100  # waiting at a time: more than is evaluated until the next, and the queue stays quick
HEARTBEAT_S: Final = 5.0
STALLED_AFTER_S: Final = 15.0  # three missed heartbeats of a worker
SWEEP_EVERY_S: Final = 5.0
LEFT_AFTER_SWEEPS: Final = 3  # that find a job in another program's own queue
ENDS_WITHIN_S: Final = 5.0  # for jobs under way when the program is told to stop; what is left undone stays due
LOOK_EVERY_S: Final = 5.0  # for a job of which no notice came
AT_ONCE: Final = 6  # cells under way in one program: most of them wait for a service, and one reckons; no source

log = logging.getLogger(__name__)


class FanOut:
    """One program's part: it hands out the cells that are due, and evaluates those it is handed.

    `beat` is called whenever what is due was looked for; `in_thread` awaits work in a thread.
    """

    def __init__(
        self, gardens: Gardens, address: str, now: Callable[[], datetime],
        in_thread: Callable[[Callable[[], object]], Awaitable[object]] = asyncio.to_thread,
        beat: Callable[[], object] = lambda: None,
    ) -> None:  # fmt: skip
        self._gardens = gardens
        self._now = now
        self._in_thread = in_thread
        self._beat = beat
        self._told = ToldOnce()
        self._worker: int | None = None
        self._under_way: set[int | None] = set()  # jobs
        self._left: set[int | None] = set()  # jobs that were ours and not under way at the last sweep
        self._own = f"{CELLS} of {gardens.program}"  # with the 23 letters of its channel at most 63
        self._seen_waiting: dict[int, int] = {}  # jobs in another's own queue, and how many sweeps found them there
        patience = {name: value for name, value in PATIENCE.items() if name not in address}
        self.app = App(connector=PsycopgConnector(conninfo=conninfo_of(address), kwargs=patience))
        self._evaluate = self.app.task(name=TASK, queue=CELLS, pass_context=True)(self._take)

    async def _take(self, context: JobContext, cell: str) -> None:
        """A job may come twice; the second finds nothing due."""
        self._worker = context.job.worker_id
        self._under_way.add(context.job.id)
        try:
            await self._in_thread(partial(self._gardens.have_turn, cell, self._now()))
        except Exception as error:  # noqa: BLE001 - it is still due, so it comes again
            log.error("a turn was broken off: %s", in_words(error))  # noqa: TRY400 - told once is enough
        finally:
            self._under_way.discard(context.job.id)

    @asynccontextmanager
    async def opened(self) -> AsyncIterator[None]:
        """The queue's tables made where they are missing, its connections open."""
        async with self.app.open_async():
            if not await self.app.check_connection_async():
                with suppress(ConnectorException):  # another program was quicker
                    await self.app.schema_manager.apply_schema_async()
            yield

    async def run(self, stop: asyncio.Event) -> None:
        """Hand out and evaluate until `stop` is set; jobs under way may end first, for a while."""
        async with self.opened():
            worker = asyncio.ensure_future(self.work(wait=True))
            chores = [
                asyncio.ensure_future(self._every(HAND_OUT_EVERY_S, "queue", self.hand_out, stop)),
                asyncio.ensure_future(self._every(SWEEP_EVERY_S, "sweep", self.sweep, stop)),
            ]
            ended, _ = await asyncio.wait([worker, *chores], return_when=asyncio.FIRST_COMPLETED)
            for task in (worker, *chores):  # an orderly end
                task.cancel()
            await asyncio.gather(worker, *chores, return_exceptions=True)
            if worker in ended:
                worker.result()

    async def work(self, *, wait: bool) -> None:
        """Evaluate what is in the queue, until there is no more or, with `wait`, until cancelled."""
        await self.app.run_worker_async(
            queues=[CELLS, self._own], concurrency=AT_ONCE, wait=wait, delete_jobs="always",
            fetch_job_polling_interval=LOOK_EVERY_S, update_heartbeat_interval=HEARTBEAT_S,
            shutdown_graceful_timeout=ENDS_WITHIN_S, install_signal_handlers=False,
        )  # fmt: skip

    async def hand_out(self) -> int:
        """How many cells were put into the queue; one that waits there, or is evaluated, is not put in again."""
        waiting, under_way = await self._jobs(Status.TODO), await self._jobs(Status.DOING)
        for_us = sum(job.queue in {CELLS, self._own} for job in waiting)
        in_the_queue = {str(job.lock) for job in (*waiting, *under_way)}
        cells = await asyncio.to_thread(self._due, MOST_HANDED_OUT - for_us, in_the_queue)
        self._beat()
        put = 0
        for cell, is_kept in cells.items():
            queue = self._own if is_kept else CELLS
            with suppress(AlreadyEnqueued):
                await self._evaluate.configure(queue=queue, lock=cell, queueing_lock=cell).defer_async(cell=cell)
                put += 1
        return put

    def _due(self, limit: int, in_the_queue: set[str]) -> dict[str, bool]:
        with self._gardens.logbook.begin() as c:
            return cells_for(c, self._gardens.program, self._now(), max(0, limit), in_the_queue)

    async def _jobs(self, state: Status) -> list[Job]:
        return list(await self.app.job_manager.list_jobs_async(task=TASK, status=state.value))

    async def sweep(self) -> int:
        """How many jobs were put back that nobody is at: of workers that died, and of ours whose end was not noted."""
        stalled = await self.app.job_manager.get_stalled_jobs(seconds_since_heartbeat=STALLED_AFTER_S)
        doing = await self._jobs(Status.DOING)
        ours = [job for job in doing if job.worker_id == self._worker and job.id not in self._under_way]
        lost = {job.id: job for job in (*stalled, *(job for job in ours if job.id in self._left))}
        self._left = {job.id for job in ours}
        for job in lost.values():
            await self._put_back(job)
        await self._drop_what_is_left_waiting()
        return len(lost)

    async def _drop_what_is_left_waiting(self) -> None:
        """Of a program that is dead or gets nowhere; what is still due is handed out anew, by whoever may."""
        theirs = [job for job in await self._jobs(Status.TODO) if job.queue not in {CELLS, self._own}]
        self._seen_waiting = {job.id: self._seen_waiting.get(job.id, 0) + 1 for job in theirs if job.id is not None}
        for job_id, times in self._seen_waiting.items():
            if times >= LEFT_AFTER_SWEEPS:
                await self.app.job_manager.cancel_job_by_id_async(job_id, delete_job=True)

    async def _put_back(self, job: Job) -> None:
        try:
            await self.app.job_manager.retry_job(job, queue=CELLS)
        except UniqueViolation:  # a newer job for the same cell waits already
            await self.app.job_manager.finish_job(job, status=Status.FAILED, delete_job=True)

    async def _every(self, seconds: float, what: str, work: Callable[[], Any], stop: asyncio.Event) -> None:
        while not stop.is_set():
            try:
                await work()
            except Exception as error:  # noqa: BLE001 - tried again soon, and the worker goes on meanwhile
                if self._told.is_new(what, error):
                    log.warning("the %s stumbled: %s", what, in_words(error))
            else:
                self._told.over(what)
            with suppress(TimeoutError):
                await asyncio.wait_for(stop.wait(), seconds)


def conninfo_of(address: str) -> str:
    """The address of a logbook as the driver alone wants it.

    >>> conninfo_of("postgresql+psycopg://bedstraw@/bedstraw?host=/run/postgresql")
    'postgresql://bedstraw@/bedstraw?host=/run/postgresql'
    """
    return address.replace("postgresql+psycopg://", "postgresql://", 1)
