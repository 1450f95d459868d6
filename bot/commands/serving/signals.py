"""How a program that serves is told to stop, and to look at its files again; not every system has all signals."""

import asyncio
import signal
from collections.abc import Callable
from typing import Any


def stop_on_signals(loop: asyncio.AbstractEventLoop, stop: Callable[[], Any]) -> None:
    """Have a stop asked for by the terminal or by systemd end the program in order."""
    for sign in (signal.SIGINT, signal.SIGTERM):
        _on(loop, sign, stop)


def on_hangup(loop: asyncio.AbstractEventLoop, again: Callable[[], Any]) -> None:
    """Have SIGHUP do this; where there is none, files are looked at every minute all the same."""
    hangup = getattr(signal, "SIGHUP", None)
    if hangup is not None:
        _on(loop, hangup, again)


def _on(loop: asyncio.AbstractEventLoop, sign: signal.Signals, do: Callable[[], Any]) -> None:
    try:
        loop.add_signal_handler(sign, do)
    except NotImplementedError:  # Windows
        signal.signal(sign, lambda *_: loop.call_soon_threadsafe(do))
