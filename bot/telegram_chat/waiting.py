"""Waiting for work that must be left when the program stops."""

import asyncio
import threading
from collections.abc import Awaitable, Callable
from contextlib import suppress


async def until(loop: Awaitable[None], stop: asyncio.Event) -> None:
    """Run `loop` until it ends or `stop` is set; an unconfirmed long poll may be cancelled, nothing is lost."""
    task = asyncio.ensure_future(loop)
    halt = asyncio.ensure_future(stop.wait())
    try:
        await asyncio.wait({task, halt}, return_when=asyncio.FIRST_COMPLETED)
        if task.done():
            task.result()
    finally:
        task.cancel()
        halt.cancel()
        await asyncio.gather(task, halt, return_exceptions=True)


async def in_daemon_thread(work: Callable[[], object]) -> None:
    """Run `work` in a thread for which a program that ends does not wait.

    For rounds only: each of their transactions is kept whole or not at all, and the next start comes to the same ones.
    """
    loop = asyncio.get_running_loop()
    done: asyncio.Future[None] = loop.create_future()

    def settle(error: Exception | None) -> None:
        if done.done():
            return
        if error is None:
            done.set_result(None)
        else:
            done.set_exception(error)

    def run() -> None:
        caught = None
        try:
            work()
        except Exception as error:  # noqa: BLE001 - carried over to whoever waits
            caught = error
        with suppress(RuntimeError):  # the loop is closed: nobody waits any more
            loop.call_soon_threadsafe(settle, caught)

    threading.Thread(target=run, daemon=True, name="rounds").start()
    await done
