"""`bedstraw serve-many` in a process of its own."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.bot.preloaded import Program


@contextmanager
def serving_many(folder: Path, url: str, token: str, address: str, *more: str) -> Iterator[Program]:
    """The program on the gardens of `folder`, killed at the end if it still lives; its log never holds the secret."""
    mine = {"BEDSTRAW_TOKEN": token, "BEDSTRAW_LOGBOOK": url, "BEDSTRAW_TELEGRAM_ADDRESS": address}
    log = folder / f"program-{len(list(folder.glob('program-*')))}.log"
    log.touch()
    process = Program(["serve-many", str(folder), *more], os.environ | mine, log)
    try:
        yield process
    finally:
        process.kill()
        process.wait()
    assert token.partition(":")[2] not in log.read_text()
