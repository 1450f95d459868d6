"""`bedstraw season`, `export` and `let-in`: page, table, folder and file, as a person at the command line has them."""

import csv
import os
import re
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path

import pytest

from bot.__main__ import main
from bot.logbook import Note, Source, note_entry, note_photo_file, open_logbook
from bot.settings import read_garden
from rules.garden.records import Dieback, Reading
from rules.garden.season_records import Harvest, Photo
from tests.bot.household_phones import demo_garden

AT = datetime(2026, 4, 20, 16, 10, tzinfo=UTC)


@pytest.fixture
def garden(tmp_path: Path) -> Path:
    """A garden with a year behind it, whose people write what a spreadsheet would reckon with."""
    path = demo_garden(tmp_path, "Porch fig")
    logbook = open_logbook(path.with_suffix(".logbook"))
    source = Source(garden="Larkmoor", person="=cmd|' /C calc'!A0", update_id=1, noted_utc=AT)
    with logbook.begin() as c:
        note_entry(c, source, Dieback(tree="Porch fig", length_m=0.3, whole_m=1.5, at_utc=AT))
        note_entry(c, source, Harvest(tree="Porch fig", count=12, at_utc=AT))
        note_entry(c, source, Reading(tree="Porch fig", air_c=-6.5, at_utc=AT))
        note_entry(c, source, Note(tree="Porch fig", text="@SUM(A1:A9)", at_utc=AT))
        record_id = note_entry(c, source, Photo(tree="Porch fig", file_id="x", file=None, text="", at_utc=AT))
        note_photo_file(c, "Larkmoor", record_id, "2026-04-20_porch-fig_5.jpg")
    logbook.close()
    photos = path.with_suffix(".photos")
    photos.mkdir()
    (photos / "2026-04-20_porch-fig_5.jpg").write_bytes(b"\xff\xd8\xff")
    return path


def test_the_table_holds_every_record_and_no_formula(garden: Path, tmp_path: Path) -> None:
    assert main(["season", str(garden), "--csv", str(tmp_path / "season.csv")]) == 0
    rows = list(csv.DictReader((tmp_path / "season.csv").read_text(encoding="utf-8").splitlines()))
    assert [row["kind"] for row in rows] == ["dieback", "harvest", "reading", "note", "photo"]
    assert (rows[0]["length_m"], rows[0]["share"], rows[1]["number"], rows[2]["air_c"]) == ("0.3", "0.2", "12", "-6.5")
    assert (rows[0]["day"], rows[0]["time"]) == ("2026-04-20", "10:10")  # the garden's own clock, America/Denver
    cells = [cell for row in rows for cell in row.values()]
    assert not [cell for cell in cells if cell[:1] in ("=", "+", "@") or (cell[:1] == "-" and cell != "-6.5")]
    assert rows[3]["words"] == "'@SUM(A1:A9)"


def test_the_folder_holds_table_file_and_photos(garden: Path, tmp_path: Path) -> None:
    assert main(["season", str(garden), "--folder", str(tmp_path / "out")]) == 0
    assert (tmp_path / "out" / garden.name).read_bytes() == garden.read_bytes()
    assert (tmp_path / "out" / "photos" / "2026-04-20_porch-fig_5.jpg").exists()
    assert (tmp_path / "out" / "season.csv").exists()


def test_what_is_written_of_a_garden_is_for_its_owner_alone(garden: Path, tmp_path: Path) -> None:
    """It says where somebody lives, and when who was there; also where an older copy could be read by all."""
    out, table, copy = tmp_path / "out", tmp_path / "season.csv", tmp_path / "copy.toml"
    table.write_text("older")
    table.chmod(0o644)
    before = os.umask(0)
    try:
        assert main(["season", str(garden), "--csv", str(table), "--folder", str(out)]) == 0
        assert main(["export", str(garden), "--to", str(copy)]) == 0
    finally:
        os.umask(before)
    written = [out, *out.rglob("*"), table, copy]
    assert len(written) == 7
    assert [one for one in written if one.stat().st_mode & 0o077] == []


def test_a_table_may_go_through_a_pipe(garden: Path, tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    with ThreadPoolExecutor(1) as reader:
        read = reader.submit(pipe.read_text)
        assert main(["season", str(garden), "--csv", str(pipe)]) == 0
        assert read.result().startswith("day,time,tree")


def test_the_page_is_printed(garden: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["season", str(garden)]) == 0
    assert capsys.readouterr().out.startswith("The season since 7 Sep.\nPorch fig: ")


def test_an_exported_file_is_the_same_and_reads_again(
    garden: Path, tmp_path: Path, capfdbinary: pytest.CaptureFixture[bytes]
) -> None:
    assert main(["export", str(garden), "--to", str(garden.parent / "copy.toml")]) == 0
    assert (garden.parent / "copy.toml").read_bytes() == garden.read_bytes()
    assert read_garden(garden.parent / "copy.toml") == read_garden(garden)


def test_a_broken_file_is_not_exported_as_if_it_were_a_garden(
    garden: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    garden.write_text("name = 1")
    assert main(["export", str(garden), "--to", str(tmp_path / "copy.toml")]) == 2
    assert "mistake" in capsys.readouterr().err
    assert not (tmp_path / "copy.toml").exists()


def test_the_first_phone_is_the_owners(garden: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["let-in", str(garden)]) == 0
    assert re.match(r"(?:\w{4}-){2}\w{4}\n.*the owner's", capsys.readouterr().out)
