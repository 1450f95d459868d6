"""`bedstraw serve-many` as it is started by hand, in a process of its own."""

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).parents[3]


@contextmanager
def serving_many(folder: Path, url: str, token: str, address: str, *more: str) -> Iterator[subprocess.Popen[str]]:
    """The program on the gardens of `folder`, killed at the end if it still lives; its log never holds the secret."""
    mine = {
        "BEDSTRAW_TOKEN": token,
        "BEDSTRAW_LOGBOOK": url,
        "BEDSTRAW_TELEGRAM_ADDRESS": address,
        "PYTHONPATH": str(ROOT),
    }
    command = [sys.executable, "-m", "bot", "serve-many", str(folder), *more]
    log = folder / f"program-{len(list(folder.glob('program-*')))}.log"
    with log.open("w") as err:
        process = subprocess.Popen(command, env={**os.environ, **mine}, stderr=err, text=True, cwd=ROOT)
        try:
            yield process
        finally:
            process.kill()
            process.wait()
    assert token.partition(":")[2] not in log.read_text()
