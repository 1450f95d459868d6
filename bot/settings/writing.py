"""A garden file written whole or not at all, and only as one that can be read again."""

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import date
from pathlib import Path
from typing import Final

import tomlkit
from tomlkit import TOMLDocument
from tomlkit.exceptions import TOMLKitError

from bot.settings.garden import Garden
from bot.settings.problems import GardenError, Problem
from bot.settings.reading import read_garden

Edit = Callable[[TOMLDocument], None]
OWNER_ONLY: Final = 0o600  # a garden file says where somebody lives
BOM: Final = "\ufeff"


def edited_garden(path: Path, edit: Edit, today: date | None = None, *, keep: bool = True) -> Garden:
    """The garden after one change to its file; the file is replaced whole, or, if the change is refused, untouched.

    Without `keep` it is only tried out, and the file untouched in any case.

    Raises
    ------
    GardenError
        The change would make a file that cannot be used, with the sentences `read_garden` has for it; or the file
        cannot be written.
    """
    text = path.read_bytes().decode("utf-8")
    document = _parsed(text)
    edit(document)
    return write_garden(path, _as_before(tomlkit.dumps(document), text), today, keep=keep)


def write_garden(path: Path, text: str, today: date | None = None, *, keep: bool = True) -> Garden:
    """The garden a text describes, written to `path` whole or not at all; without `keep` only read.

    Raises
    ------
    GardenError
        With every mistake in the text, or one sentence why it cannot be written.
    """
    with _beside(path, text) as part:
        garden = read_garden(part, today=today)  # in its own folder, so that the places it names are found
        if keep:
            part.replace(path)
    return garden


def put_garden(path: Path, text: str) -> None:
    """A text that was read before as `write_garden` reads it, written to `path` whole or not at all.

    Raises
    ------
    GardenError
        It cannot be written.
    """
    with _beside(path, text) as part:
        part.replace(path)


@contextmanager
def _beside(path: Path, text: str) -> Iterator[Path]:
    """A file with the text in the folder of another; gone at the end, unless it was put somewhere."""
    part = path.with_name(f".{path.name}.part")
    try:
        _write_down(part, text, path.stat().st_mode & 0o777 if path.exists() else OWNER_ONLY)
        yield part
    except OSError as error:
        raise refused(f"{path} cannot be written: {(error.strerror or str(error)).lower()}") from None
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def _write_down(part: Path, text: str, mode: int) -> None:
    descriptor = os.open(part, os.O_CREAT | os.O_TRUNC | os.O_WRONLY, mode)
    with os.fdopen(descriptor, "wb") as file:
        file.write(text.encode("utf-8"))
        file.flush()
        os.fsync(file.fileno())
    part.chmod(mode)


def _parsed(text: str) -> TOMLDocument:
    try:
        return tomlkit.parse(text.removeprefix(BOM))
    except TOMLKitError as error:
        raise refused(f"the garden file cannot be changed: {error}") from None


def _as_before(new: str, old: str) -> str:
    """The new text with the line ends and the byte order mark of the old one."""
    if "\r\n" in old:
        new = new.replace("\r\n", "\n").replace("\n", "\r\n")
    return BOM + new if old.startswith(BOM) else new


def refused(sentence: str) -> GardenError:
    """The error that says one sentence."""
    return GardenError([Problem(key="", sentence=sentence)])
