"""A garden file → a garden, or every mistake in it at once."""

import json
from collections.abc import Mapping
from datetime import UTC, date, datetime
from pathlib import Path as FilePath
from typing import Any, Final

from pydantic import ValidationError

from bot.settings.cross_checks import Finding, findings
from bot.settings.garden import Garden
from bot.settings.grower_units import field_meant, in_field_unit
from bot.settings.problems import GardenError, Problem
from bot.settings.refusals import bound_in_words, inside, meant_field, noun_of, sentence_of
from bot.settings.toml_text.garden_text import document_of, refused, text_of
from bot.settings.toml_text.statements import DEEPEST_NESTING
from bot.settings.toml_text.toml_lines import Path, line_of, lines_of_keys

LARGEST_WHOLE_NUMBER: Final = 2**63  # TOML 1.0: whole numbers are 64 bits
PLACES: Final = {"saved_forecasts": "file or folder", "past_weather": "file or folder", "past_winters": "file"}


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
    text = text_of(path)
    day = today or datetime.now(UTC).date()
    return _Reading(text, document_of(text), path.absolute().parent, day).garden()


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
            raise refused(f"is nested more than {DEEPEST_NESTING} deep")
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
