"""A logbook file that came through all steps, copied for whoever needs a new one: a step takes longer than a copy."""

import tempfile
from functools import cache
from pathlib import Path

from bot.logbook import open_logbook


def new_file(path: Path) -> Path:
    """A new logbook at `path`, as `open_logbook` would leave it there; one that lies there already stays."""
    if not path.exists():
        path.touch(mode=0o600)
        path.write_bytes(_migrated())
    return path


@cache
def _migrated() -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "migrated.logbook"
        open_logbook(path).close()
        return path.read_bytes()
