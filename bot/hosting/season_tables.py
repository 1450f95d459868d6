"""Seasons' tables in the logbook, so that a restart or another program does not reckon them again."""

import base64
import json
from collections.abc import MutableMapping
from dataclasses import fields
from datetime import datetime
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from bot.logbook import (
    AnswerRow,
    Connection,
    forget_kept_answers,
    kept_answer_times,
    note_kept_answer,
    read_kept_answers,
)
from rules.plan.season.table import SeasonTable

MOST: Final = 48  # kept for one garden, the newest: a few a tree, as its place and cover come to be known better

Numbers = npt.NDArray[np.float64] | npt.NDArray[np.int64]


def read_tables(c: Connection, garden: str) -> dict[str, SeasonTable]:
    """The tables kept for a garden, by what they were made of; none that other rules made."""
    own = _rules()
    rows = [row for row in read_kept_answers(c, _cell(garden)) if row.service.startswith(own)]
    return {row.service.removeprefix(own): _unpacked(row.body) for row in rows}


def keep_tables(c: Connection, garden: str, tables: MutableMapping[str, SeasonTable], now: datetime) -> None:
    """Keep those that are not kept yet, and let go what is too much."""
    known = kept_answer_times(c, _cell(garden))
    new = [key for key in tables if _rules() + key not in known]
    for key in new:
        note_kept_answer(
            c, _cell(garden), AnswerRow(service=_rules() + key, body=_packed(tables[key]), fetched_utc=now)
        )
    late = sorted(known, key=known.__getitem__, reverse=True)[max(0, MOST - len(new)) :] if new else []
    forget_kept_answers(c, _cell(garden), late)


def _cell(garden: str) -> str:
    return f"{garden} seasons"


@cache
def _rules() -> str:
    """What the rules are made of: a table is good for the rules that made it alone."""
    folder = Path(__file__).parents[2] / "rules"
    files = sorted(path for end in ("*.py", "*.toml") for path in folder.rglob(end))
    return sha256(b"".join(path.read_bytes() for path in files)).hexdigest()[:12] + " "


def _packed(table: SeasonTable) -> str:
    return json.dumps({field.name: _text(getattr(table, field.name)) for field in fields(table)})


def _text(values: Numbers) -> list[object]:
    return [list(values.shape), values.dtype.str, base64.b64encode(values.tobytes()).decode()]


def _unpacked(body: str) -> SeasonTable:
    def numbers(shape: list[int], kind: str, text: str) -> Any:
        return np.frombuffer(base64.b64decode(text), dtype=np.dtype(kind)).reshape(shape)

    return SeasonTable(**{name: numbers(*parts) for name, parts in json.loads(body).items()})
