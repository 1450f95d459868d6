"""A garden file → a garden, or every mistake in it at once."""

import json
import re
import tomllib
from collections.abc import Mapping
from datetime import UTC, date, datetime
from pathlib import Path as FilePath
from typing import Any, Final

from pydantic import ValidationError

from bot.messages import LARGEST_FILE_BYTES
from bot.settings.cross_checks import Finding, findings
from bot.settings.garden import Garden
from bot.settings.grower_units import field_meant, in_field_unit
from bot.settings.problems import TOKEN_SHAPE, GardenError, Problem
from bot.settings.refusals import bound_in_words, inside, meant_field, noun_of, sentence_of
from bot.settings.toml_text.statements import DEEPEST_NESTING, BeyondBoundsError, statements
from bot.settings.toml_text.toml_lines import Path, line_of, lines_of_keys

LARGEST_WHOLE_NUMBER: Final = 2**63  # TOML 1.0: whole numbers are 64 bits
PLACES: Final = {"saved_forecasts": "file or folder", "past_weather": "file or folder", "past_winters": "file"}
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


def read_garden(path: FilePath | str, *, today: date | None = None) -> Garden:
    """The garden a file describes.

    Parameters
    ----------
    path
        The garden file, TOML.
    today
        The day against which years are judged; None takes today's date.

    Raises
    ------
    GardenError
        With every mistake found, each with key, value and line where possible.
    """
    path = FilePath(path)
    text = _text_of(path)
    document = _document(text)
    day = today or datetime.now(UTC).date()
    return _Reading(text, document, path.absolute().parent, day).garden()


def _line_at(text: str, place: str) -> str:
    """The line of the text that a complaint speaks of."""
    digits = [int(part) for part in place.replace(",", " ").split() if part.isdigit()]
    lines = text.splitlines()
    return lines[digits[0] - 1] if digits and digits[0] <= len(lines) else ""


def _refused(sentence: str, line: int | None = None) -> GardenError:
    return GardenError([Problem(key="", sentence=sentence, line=line)])


def _text_of(path: FilePath) -> str:
    """The text of the file; a sentence for everything that is not a small file of UTF-8."""
    try:
        if path.is_dir():
            raise _refused(f"{path} is a folder, not a garden file")
        if path.exists() and not path.is_file():
            raise _refused(f"{path} is not a plain file")
        if path.stat().st_size > LARGEST_FILE_BYTES:
            raise _refused(f"{path} has {path.stat().st_size:,} bytes, a garden file at most {LARGEST_FILE_BYTES:,}")
        text = path.read_bytes().decode("utf-8-sig").replace("\r\n", "\n")
    except FileNotFoundError:
        raise _refused(f"there is no file {path}") from None
    except UnicodeDecodeError as error:
        line = path.read_bytes()[: error.start].count(b"\n") + 1
        raise _refused("is not written in UTF-8; save the file as UTF-8 text", line) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise _refused(f"{path} cannot be read: {reason.lower()}") from None
    if not text.strip():
        raise _refused(f"{path} is empty; start from a copy of demo_config/larkmoor.toml")
    return text


def _document(text: str) -> dict[str, Any]:
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
        raise _refused(str(error), error.line) from None
    except ValueError as error:  # a number or date that Python cannot hold
        raise _refused(f"a number or date in it cannot be read: {error}") from None


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
    return _refused(f"{column}{words}", line)


class _Reading:
    """One pass over one document: what was understood so far, and what was found wrong."""

    def __init__(self, text: str, document: dict[str, Any], folder: FilePath, today: date) -> None:
        self.text = text
        self.document = document
        self.folder = folder
        self.today = today
        self.found: list[Finding] = []
        self.written: dict[Path, Path] = {}  # path in our units → path as written

    def garden(self) -> Garden:
        """The garden, or all findings raised together."""
        if _depth(self.document) > DEEPEST_NESTING:
            raise _refused(f"is nested more than {DEEPEST_NESTING} deep")
        ours = self._convert(self.document, Garden, (), ())
        self._name_covers(ours)
        self._resolve_places(ours)
        self.found += findings(ours, self.today)
        try:
            garden = Garden.model_validate_json(json.dumps(ours, default=str), strict=True)
        except ValidationError as error:
            self.found += self._refusals(error)
        if self.found:
            raise GardenError(self._problems())
        return garden

    def _convert(self, value: Any, annotation: Any, here: Path, written: Path) -> Any:
        """The value with every key and number in our units; what is not known stays as it is."""
        self.written[here] = written
        if isinstance(value, list):
            part = inside(annotation)
            return [self._convert(item, part, (*here, i), (*written, i)) for i, item in enumerate(value)]
        if isinstance(value, dict):
            return self._convert_table(value, annotation, here, written)
        if isinstance(value, int) and abs(value) >= LARGEST_WHOLE_NUMBER:
            self.found.append(Finding(here, "is larger than any number that belongs here"))
            return 0
        return value

    def _convert_table(self, table: dict[str, Any], annotation: Any, here: Path, written: Path) -> dict[str, Any]:
        noun = noun_of(annotation)
        fields = noun.model_fields if noun else {}
        ours: dict[str, Any] = {}
        for key, value in table.items():
            field = field_meant(key, fields) or key
            part = fields[field].annotation if field in fields else None if noun else inside(annotation)
            if field in ours:
                earlier = self.written[(*here, field)][-1]
                self.found.append(Finding((*here, key), f"is given twice, as {earlier} and as {key}; keep one"))
                self.written[(*here, key)] = (*written, key)
                continue
            plain = self._convert(value, part, (*here, field), (*written, key))
            ours[field] = in_field_unit(plain, key, field)
        return ours

    def _name_covers(self, ours: dict[str, Any]) -> None:
        """A cover's name is the name of its table."""
        covers = ours.get("covers")
        for key, cover in covers.items() if isinstance(covers, dict) else ():
            if isinstance(cover, dict) and cover.setdefault("name", key) != key:
                said = f'must be left out: the table says "{key}" already'
                self.found.append(Finding(("covers", key, "name"), said))

    def _resolve_places(self, ours: dict[str, Any]) -> None:
        """Paths of files and folders, counted from the garden file's own folder."""
        for key, kind in PLACES.items():
            given = ours.get(key)
            if not isinstance(given, str):
                continue
            place = self.folder / given
            ours[key] = str(place)
            if not _is_there(place, kind):
                self.found.append(Finding((key,), f"there is no such {kind} beside the garden file"))

    def _refusals(self, error: ValidationError) -> list[Finding]:
        """What the nouns refuse and has not been found already."""
        known = {one.path for one in self.found}
        spoilt = {path[:2] for path in known if path[:1] == ("covers",)}
        refused = [(_plain(one["loc"]), one) for one in error.errors(include_url=False)]
        meant = {meant_field(path) for path, one in refused if one["type"] == "extra_forbidden"}
        told = {path for path, one in refused if one["type"] == "missing" and path in meant}
        told |= {path for path, one in refused if one["type"] == "value_error" and path[:2] in spoilt}
        # pydantic counts only the entries it could read
        told |= {path for path, one in refused if one["type"] == "too_short" and self._has_entries(path)}
        return [
            Finding(path, sentence_of(one, self._as_written(path)))
            for path, one in refused
            if path not in known and path not in told
        ]

    def _has_entries(self, path: Path) -> bool:
        return bool(_written_at(self.document, self._as_written(path)))

    def _as_written(self, path: Path) -> Path:
        """The path as the grower wrote it."""
        for cut in range(len(path), 0, -1):
            if path[:cut] in self.written:
                return self.written[path[:cut]] + path[cut:]
        return path

    def _problems(self) -> list[Problem]:
        lines = lines_of_keys(self.text)
        return [self._problem(finding, lines) for finding in dict.fromkeys(self.found)]

    def _problem(self, finding: Finding, lines: Mapping[Path, int]) -> Problem:
        written = self._as_written(finding.path)
        sentence = finding.sentence
        if finding.bounds:
            low, high = (bound_in_words(bound, finding.path, written) for bound in finding.bounds)
            sentence += f" {low} to {high}"
        return Problem(
            key=_key_of(written),
            sentence=sentence,
            value=_worth_showing(_written_at(self.document, written)),
            named=str(_written_at(self.document, (*written[:2], "name")) or "") if len(written) > 1 else "",
            line=line_of(written, lines),
        )


def _plain(path: Path) -> Path:
    """A path without pydantic's mark for the name of a table's entry."""
    return tuple(step for step in path if step != "[key]")


def _is_there(place: FilePath, kind: str) -> bool:
    try:
        return (place.is_dir() and "folder" in kind) or (place.is_file() and "file" in kind)
    except OSError:  # a name the file system refuses
        return False


def _depth(value: Any) -> int:
    """How many tables and lists lie within one another, counted without recursion."""
    level, depth = [value], 0
    while level:
        inner = [item for item in level if isinstance(item, dict | list)]
        level = [part for item in inner for part in (item.values() if isinstance(item, dict) else item)]
        depth += bool(inner)
    return depth


def _written_at(document: Any, path: Path) -> Any:
    """What is written at a path; None where nothing is."""
    for step in path:
        try:
            document = document[step]
        except (KeyError, IndexError, TypeError):
            return None
    return document


def _worth_showing(value: Any) -> Any:
    """The value, or None for what would only fill the line: tables and endless numbers."""
    is_table = isinstance(value, dict) or (isinstance(value, list) and any(isinstance(part, dict) for part in value))
    is_endless = isinstance(value, int) and abs(value) >= LARGEST_WHOLE_NUMBER * 1000
    return None if is_table or is_endless else value


def _key_of(path: Path) -> str:
    """A path as text, entries of a list counted from 1.

    >>> _key_of(("trees", 1, "standing"))
    'trees[2].standing'
    """
    text = ""
    for step in path:
        text += f"[{step + 1}]" if isinstance(step, int) else f".{step}" if text else step
    return text
