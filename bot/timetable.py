"""When the tick runs. apscheduler calls it and does nothing else: what is due is asked of the logbook each time.

An interval on the event loop, no job store, no cron trigger: a restart, a sleep, a clock jump or a change to summer
time can neither lose nor repeat anything, because the tick remembers nothing.
"""

from collections.abc import Awaitable, Callable
from datetime import UTC, datetime
from typing import Final

from apscheduler.schedulers.asyncio import AsyncIOScheduler

TICK_S: Final = 30  # bounds how late a suspended machine notices the time; no source


def start_timetable(tick: Callable[[], Awaitable[None]], every_s: float = TICK_S) -> AsyncIOScheduler:
    """A started scheduler that awaits `tick` at once and then every `every_s` seconds, never twice at a time.

    Missed runs are made up by a single one (`coalesce`), however late (`misfire_grace_time` None).
    """
    once = {"misfire_grace_time": None, "coalesce": True, "max_instances": 1}
    scheduler = AsyncIOScheduler(timezone=UTC, job_defaults=once)
    scheduler.add_job(tick, "interval", seconds=every_s, next_run_time=datetime.now(UTC))
    scheduler.start()
    return scheduler
