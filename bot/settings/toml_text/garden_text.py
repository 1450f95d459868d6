"""The text of a garden file, and its TOML tables; a sentence that a grower can act on where it is neither."""

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from bot.messages import LARGEST_FILE_BYTES
from bot.settings.problems import TOKEN_SHAPE, GardenError, Problem
from bot.settings.toml_text.statements import BeyondBoundsError, statements

# What the reader of TOML says → what a grower can act on.
SYNTAX: Final[Mapping[str, str]] = {
    "Invalid value": 'the value cannot be read; text needs straight "quotation marks", true and false are small',
    "Cannot overwrite a value": "the same key or table stands in the file twice",
    "Cannot declare": "the same table stands in the file twice; entries of a list need [[double brackets]]",
    "Expected '=' after a key": "a key needs = and a value after it",
    "Unclosed array": "a list is not closed with ]",
    "Unterminated string": 'a text is not closed with a "quotation mark"',
    "Illegal character": "a text is not closed on its line, or holds a character that must not stand there",
    "Expected newline or end of document": "after a value the line must end; text needs quotation marks, a remark #",
    "Invalid date or datetime": "there is no such date or time",
}
A_TIME: Final = re.compile(r"=\s*\d{1,2}:\d\d")


def text_of(path: Path) -> str:
    """The text of the file; a sentence for everything that is not a small file of UTF-8."""
    try:
        if path.is_dir():
            raise refused(f"{path} is a folder, not a garden file")
        if path.exists() and not path.is_file():
            raise refused(f"{path} is not a plain file")
        if path.stat().st_size > LARGEST_FILE_BYTES:
            raise refused(f"{path} has {path.stat().st_size:,} bytes, a garden file at most {LARGEST_FILE_BYTES:,}")
        text = path.read_bytes().decode("utf-8-sig").replace("\r\n", "\n")
    except FileNotFoundError:
        raise refused(f"there is no file {path}") from None
    except UnicodeDecodeError as error:
        line = path.read_bytes()[: error.start].count(b"\n") + 1
        raise refused("is not written in UTF-8; save the file as UTF-8 text", line) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise refused(f"{path} cannot be read: {reason.lower()}") from None
    if not text.strip():
        raise refused(f"{path} is empty; start from a copy of demo_config/larkmoor.toml")
    return text


def document_of(text: str) -> dict[str, Any]:
    """The file as TOML tables; a sentence with line and column where it is not TOML."""
    secret_lines = [n for n, row in enumerate(text.split("\n"), start=1) if TOKEN_SHAPE.search(row)]
    if secret_lines:
        sentence = "a bot token does not belong in the garden file; take it out and set BEDSTRAW_TOKEN_FILE instead"
        raise GardenError([Problem(key="", sentence=sentence, line=line) for line in secret_lines])
    try:
        _refuse_beyond_bounds(text)
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _syntax_problem(text, str(error)) from None
    except BeyondBoundsError as error:
        raise refused(str(error), error.line) from None
    except ValueError as error:  # a number or date that Python cannot hold
        raise refused(f"a number or date in it cannot be read: {error}") from None


def refused(sentence: str, line: int | None = None) -> GardenError:
    return GardenError([Problem(key="", sentence=sentence, line=line)])


def _refuse_beyond_bounds(text: str) -> None:
    """Before anything is parsed: a small file can be dear to read."""
    for _ in statements(text):
        pass


def _syntax_problem(text: str, message: str) -> GardenError:
    """The reader's complaint in plain words, with its line and column."""
    complaint, _, place = message.partition(" (at ")
    place = place.rstrip(")")
    words = next((plain for start, plain in SYNTAX.items() if complaint.startswith(start)), complaint)
    if A_TIME.search(_line_at(text, place)):
        words = 'a time needs quotation marks, for example "21:00"'
    digits = [int(part) for part in place.replace(",", " ").split() if part.isdigit()]
    line = digits[0] if digits else text.rstrip("\n").count("\n") + 1
    column = f"column {digits[1]}: " if len(digits) > 1 else ""
    return refused(f"{column}{words}", line)


def _line_at(text: str, place: str) -> str:
    """The line of the text that a complaint speaks of."""
    digits = [int(part) for part in place.replace(",", " ").split() if part.isdigit()]
    lines = text.splitlines()
    return lines[digits[0] - 1] if digits and digits[0] <= len(lines) else ""
