"""A logbook moved between SQLite and PostgreSQL: every row the same, broken off and gone on with, never mixed."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import sqlalchemy as sa

from bot import logbook as lb
from bot.__main__ import main
from bot.logbook import Logbook, LogbookError, open_logbook
from bot.logbook.database import moving
from bot.logbook.database.moving import TABLES, move_logbook
from bot.logbook.database.tables import doors, inbox, outbox
from bot.messages import Button, OnUnknown, Outgoing
from rules.garden.cover import CoverState
from rules.garden.records import Deed, DeedKind
from tests.hourly import hours_of

NOW = datetime(2026, 11, 25, 16, 10, 5, 123456, tzinfo=UTC)
DAY = timedelta(days=1)


def fill(logbook: Logbook, count: int = 40) -> None:
    """Something of everything, with text of all kinds."""
    source = lb.Source(garden="Larkmoor", person="Røwan 🌱", update_id=1, noted_utc=NOW)
    weather = hours_of(datetime(2026, 11, 24, tzinfo=UTC), np.linspace(-9.75, 7.1, 30))
    with logbook.begin() as c:
        lb.note_person(c, "Larkmoor", 2**40, "Røwan 🌱", "owner")
        lb.make_let_in_code(c, "Larkmoor", NOW, DAY)
        lb.mark_unreachable(c, 7, NOW)
        deed = Deed(tree="Porch fig", kind=DeedKind.CLOSED, state=CoverState.CLOSED, at_utc=NOW)
        for number in range(count):
            lb.note_entry(c, source, deed)
            lb.note_state(c, "Larkmoor", f"n {number}", f'"{number} \\" − °"')
            message = Outgoing(
                key=f"k{number}", chat_id=2**40, text=f"−{number} °C", due_utc=NOW, expires_utc=NOW + DAY,
                buttons=(Button(label="Closed", data="closed:n1:0"),), on_unknown=OnUnknown.RESEND,
            )  # fmt: skip
            lb.enqueue(c, message, "Larkmoor", "n")
            row = {"update_id": number, "raw": '{"text": "\\u0000"}', "state": "done", "got_utc": NOW, "error": "x"}
            c.execute(sa.insert(inbox).values(door="telegram", chat_id=-5, **row))
        forecast = lb.note_forecast(c, "Larkmoor", '{"air_c": [−1]}', "saved", None, NOW)
        lb.note_round(c, "Larkmoor", NOW, forecast, '{"a": 1.25}')
        lb.note_past_hours(c, "Larkmoor", weather, NOW, NOW)
        lb.note_kept_answer(c, "cell", lb.AnswerRow(service="open-meteo", body="{}", fetched_utc=NOW, etag='"é"'))
        nudge = lb.Nudge(
            key="n", garden="Larkmoor", stage="today", ask="closed", trees=("Porch fig",),
            night=date(2026, 11, 25), opened_utc=NOW, expires_utc=NOW + DAY,
        )  # fmt: skip
        lb.open_nudge(c, nudge)
        c.execute(sa.update(doors).where(doors.c.door == "telegram").values(hold_until_utc=NOW))


def content(logbook: Logbook) -> dict[str, list[Any]]:
    with logbook.begin() as c:
        return {table.name: sorted(map(repr, c.execute(sa.select(table)))) for table in TABLES}


@pytest.fixture
def places(tmp_path: Path, new_database: Callable[[], str]) -> tuple[Path, str, Path]:
    return tmp_path / "larkmoor.logbook", new_database(), tmp_path / "back.logbook"


def test_there_and_back_again_every_row_is_the_same(places: tuple[Path, str, Path]) -> None:
    file, server, back = places
    one, two, three = open_logbook(file), open_logbook(server), open_logbook(back)
    fill(one)
    before = content(one)
    moved = move_logbook(one, two)
    assert moved == {name: len(rows) for name, rows in before.items()}
    assert sum(moved.values()) > 160
    assert content(two) == before
    move_logbook(two, three)
    assert content(three) == before == content(one)
    for logbook in (one, two, three):
        with logbook.begin() as c:  # life goes on: new numbers are above the old ones
            before_id = c.scalar(sa.select(sa.func.max(outbox.c.id)))
            assert lb.enqueue(c, Outgoing(key="new", chat_id=1, text="x", due_utc=NOW, expires_utc=NOW + DAY), None)
            assert c.scalar(sa.select(sa.func.max(outbox.c.id))) == before_id + 1
            assert not lb.enqueue(c, Outgoing(key="k1", chat_id=1, text="x", due_utc=NOW, expires_utc=NOW + DAY), None)
        logbook.close()


class BrokenOffError(Exception):
    """The move was killed."""


@pytest.mark.parametrize("after", range(0, 36, 5))
def test_a_move_broken_off_anywhere_goes_on_and_ends_the_same(
    places: tuple[Path, str, Path], after: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    file, server, _ = places
    one, two = open_logbook(file), open_logbook(server)
    fill(one, 20)
    monkeypatch.setattr(moving, "ROWS_AT_ONCE", 3)
    slices = 0

    def tell(_name: str, _rows: int) -> None:
        nonlocal slices
        slices += 1
        if slices > after:
            raise BrokenOffError

    with pytest.raises(BrokenOffError):
        move_logbook(one, two, tell)
    move_logbook(one, two)
    assert content(two) == content(one)
    one.close()
    two.close()


def test_a_place_that_is_in_use_is_refused_and_left_alone(places: tuple[Path, str, Path]) -> None:
    file, server, _ = places
    one, two = open_logbook(file), open_logbook(server)
    fill(one, 2)
    with two.begin() as c:
        lb.note_state(c, "Heron Yard", "a", "1")
    with pytest.raises(LogbookError, match="is not empty"):
        move_logbook(one, two)
    assert sum(len(rows) for rows in content(two).values()) == 1 + 2  # its state and its two doors
    with pytest.raises(LogbookError, match="onto itself"):
        move_logbook(one, one)
    move_logbook(one, third := open_logbook("sqlite://"))
    with pytest.raises(LogbookError, match="is not empty"):  # a move that ended is not gone on with
        move_logbook(one, third)
    for logbook in (one, two, third):
        logbook.close()


def test_a_row_that_changed_on_the_way_is_found(
    places: tuple[Path, str, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    file, server, _ = places
    one, two = open_logbook(file), open_logbook(server)
    fill(one, 2)

    def meddle(name: str, _rows: int) -> None:
        if name == "people":
            with two.begin() as c:
                lb.note_person(c, "Larkmoor", 2**40, "Somebody else", "owner")

    with pytest.raises(LogbookError, match="of 1 rows of table people 0 are the same"):
        move_logbook(one, two, meddle)
    one.close()
    two.close()


def test_the_command_moves_and_says_so(places: tuple[Path, str, Path], capsys: pytest.CaptureFixture[str]) -> None:
    file, server, back = places
    one = open_logbook(file)
    fill(one, 2)
    one.close()
    assert main(["move", str(file), server]) == 0
    assert "compared each one" in capsys.readouterr().out
    assert main(["move", server, str(back)]) == 0
    assert main(["move", str(file), str(back)]) == 2
    assert "is not empty" in capsys.readouterr().err
    assert main(["move", str(file) + "x", str(back)]) == 2
