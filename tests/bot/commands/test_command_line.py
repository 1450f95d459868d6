"""The command line as a new user meets it: helpful words, sentences for mistakes, nothing changed by them."""

import io
import json
import logging
import os
import re
import socket
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest
import sqlalchemy as sa

from bot.__main__ import main
from bot.demo.freeze_week import run_demo
from bot.logbook import note_round, open_logbook
from bot.logbook.database.tables import let_in_codes
from bot.wording.document import OutlookDocument

ROOT = Path(__file__).parents[3]
DEMO = ROOT / "demo_config"
GARDEN = str(DEMO / "larkmoor.toml")
COMMANDS = ("demo", "check", "outlook", "chart", "replay", "chat", "serve", "let-in")


@pytest.fixture(autouse=True)
def _logs_as_before() -> Iterator[None]:
    """The command line sets up logging for its process; here it must not write into another test's closed capture."""
    root, hook, thread_hook = logging.getLogger(), sys.excepthook, threading.excepthook
    handlers, level = root.handlers[:], root.level
    yield
    root.handlers[:], sys.excepthook, threading.excepthook = handlers, hook, thread_hook
    root.setLevel(level)


@pytest.fixture
def garden(tmp_path: Path) -> Path:
    """The demo's garden file somewhere of its own, so that a logbook may lie beside it."""
    text = (DEMO / "larkmoor.toml").read_text()
    text = text.replace('"forecasts"', f'"{DEMO / "forecasts"}"').replace('"past"', f'"{DEMO / "past"}"')
    path = tmp_path / "mine.toml"
    path.write_text(text)
    return path


def run(*arguments: str, capsys: pytest.CaptureFixture[str]) -> tuple[int, str, str]:
    status = main(arguments)
    said = capsys.readouterr()
    return status, said.out, said.err


def test_every_command_is_in_the_readme_and_has_help(capsys: pytest.CaptureFixture[str]) -> None:
    readme = (ROOT / "README.md").read_text()
    for command in COMMANDS:
        assert f"`bedstraw {command}" in readme
        with pytest.raises(SystemExit) as leave:
            main([command, "--help"])
        assert leave.value.code == 0
        assert command in capsys.readouterr().out


def test_check_says_what_was_understood(capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = run("check", GARDEN, capsys=capsys)
    assert status == 0
    assert "8 trees" in out
    assert "left bare on purpose beside its twin Pomegranate" in out


def test_check_lists_every_mistake_with_its_line_and_the_nearest_right_word(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (DEMO / "larkmoor.toml").read_text().replace('standing = "hollow"', 'standing = "hollo"')
    wrong = tmp_path / "wrong.toml"
    wrong.write_text(text.replace("planted_year = 2024", "planted_yaer = 2024"))
    status, out, err = run("check", str(wrong), capsys=capsys)
    assert (status, out) == (2, "")
    assert "planted_year" in err
    assert "hollow" in err
    assert err.count("line ") >= 2


def test_outlook_as_json_keeps_to_its_documented_schema(capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = run("outlook", GARDEN, "--now", "2025-11-28T09:00", "--json", capsys=capsys)
    assert status == 0
    document = OutlookDocument.model_validate_json(out)
    assert [tree.name for tree in document.trees][:2] == ["Porch fig", "Wall fig"]
    assert json.loads(out)["version"] == 2


def test_outlook_shows_each_tree_and_night(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = run("outlook", GARDEN, "--now", "2025-11-28T09:00", capsys=capsys)
    assert re.search(r"^Porch fig +unknown, as bare +−?\d+ ", out, re.MULTILINE)
    assert "°C" in out
    assert max(len(line) for line in out.splitlines()) <= 100
    assert len(out.splitlines()) <= 24  # one screen


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("check", "nowhere.toml"), "nowhere.toml"),
        (("outlook", GARDEN, "--now", "yesterday"), "--now must be a time like"),
        (("outlook", GARDEN, "--now", "2025-11-28T09:00", "--forecast", "no.json"), "no.json"),
        (("outlook", GARDEN, "--now", "2025-11-28T09:00", "--forecast", GARDEN), "saved"),
    ],
)
def test_a_mistake_gets_a_sentence_and_status_2(
    arguments: tuple[str, ...], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    status, _, err = run(*arguments, capsys=capsys)
    assert status == 2
    assert words.lower() in err.lower()
    assert "Traceback" not in err


@pytest.mark.parametrize("picture", ["week", "freezes", "supplies"])
def test_chart_saves_a_picture_and_says_it_in_one_line(
    picture: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "picture.png"
    status, said, _ = run("chart", GARDEN, picture, "--now", "2025-11-28T09:00", "--out", str(out), capsys=capsys)
    assert status == 0
    assert out.read_bytes().startswith(b"\x89PNG")
    assert len(said.strip().splitlines()) == 2


def test_a_chart_of_a_tree_nobody_knows_names_the_trees(capsys: pytest.CaptureFixture[str]) -> None:
    status, _, err = run("chart", GARDEN, "week", "--tree", "Oak", "--now", "2025-11-28T09:00", capsys=capsys)
    assert status == 2
    assert "Porch fig" in err


def test_a_cover_that_cannot_be_cut_open_is_said_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = ("--out", str(tmp_path / "section.png"))
    status, _, err = run("chart", GARDEN, "section", "--now", "2031-01-01T12:00", *out, capsys=capsys)
    assert status == 2
    assert "no forecast reaches beyond now" in err
    status, _, err = run(
        "chart", GARDEN, "section", "--tree", "Trial pomegranate", "--now", "2025-11-28T09:00", *out, capsys=capsys
    )
    assert status == 2
    assert "Trial pomegranate has no cover" in err


@pytest.mark.parametrize(
    ("text", "words"),
    [("date,min_c,max_c\n2001-01-01,-3,2\n", "0 whole winters"), ("nonsense", "nonsense"), (None, "name a file")],
)
def test_replay_without_enough_winters_says_so(
    text: str | None, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "winters.csv"
    if text is not None:
        file.write_text(text)
    arguments = ("--winters", str(file)) if text is not None else ()
    status, _, err = run("replay", GARDEN, *arguments, capsys=capsys)
    assert status == 2
    assert words in err


def test_serve_without_a_token_says_where_to_put_one(
    garden: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("BEDSTRAW_TOKEN", raising=False)
    monkeypatch.delenv("BEDSTRAW_TOKEN_FILE", raising=False)
    status, _, err = run("serve", str(garden), capsys=capsys)
    assert status == 2
    assert "BEDSTRAW_TOKEN_FILE" in err


def test_a_token_of_the_wrong_shape_is_never_shown(
    garden: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BEDSTRAW_TOKEN", "this-is-no-token-but-secret")
    status, out, err = run("serve", str(garden), capsys=capsys)
    assert status == 2
    assert "secret" not in out + err


def test_let_in_shows_a_code_that_works_once(garden: Path, capsys: pytest.CaptureFixture[str]) -> None:
    open_logbook(garden.with_suffix(".logbook")).close()  # as the bot's first start does
    status, out, _ = run("let-in", str(garden), capsys=capsys)
    assert status == 0
    assert len(out.splitlines()[0].replace("-", "")) == 12


def test_let_in_begins_no_logbook_in_which_a_code_would_be_dead(
    garden: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    status, out, err = run("let-in", str(garden), capsys=capsys)
    assert (status, out) == (2, "")
    assert "There is no logbook at" in err
    assert "--env FILE" in err
    assert not garden.with_suffix(".logbook").exists()


def test_let_in_asks_for_the_backup_where_a_logbook_that_was_served_is_gone(
    garden: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    garden.with_suffix(".logbook.serving").touch()
    status, _, err = run("let-in", str(garden), capsys=capsys)
    assert status == 2
    assert "newest backup" in err
    assert "Start the bot" not in err  # which would begin one in which everybody is a stranger


def test_a_code_in_a_logbook_that_no_bot_uses_comes_with_a_warning(
    garden: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """As after a move to a database server: the old file stays, and whoever forgets the environment writes into it."""
    now = datetime.now(UTC)
    with closing(open_logbook(garden.with_suffix(".logbook"))) as logbook:
        _, never, _ = run("let-in", str(garden), capsys=capsys)
        with logbook.begin() as c:
            note_round(c, "Larkmoor", now - timedelta(days=3), None, "{}")
        _, long_ago, _ = run("let-in", str(garden), capsys=capsys)
        with logbook.begin() as c:
            note_round(c, "Larkmoor", now - timedelta(minutes=5), None, "{}")
        _, in_use, _ = run("let-in", str(garden), capsys=capsys)
    assert "No bot has used the logbook" in never
    assert f"since {now - timedelta(days=3):%Y-%m-%d %H:%M} UTC" in long_ago
    assert "works nowhere" in long_ago
    assert "No bot" not in in_use


def test_the_environment_file_of_the_service_tells_where_the_logbook_is(
    garden: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    there, env = tmp_path / "elsewhere.logbook", tmp_path / "bedstraw.env"
    env.write_text(f"BEDSTRAW_LOGBOOK={there}\n")
    monkeypatch.setenv("BEDSTRAW_LOGBOOK", str(tmp_path / "of the shell"))
    monkeypatch.setenv("BEDSTRAW_HEALTH_PORT", "7")
    with closing(open_logbook(there)) as logbook:
        for words in (("--env", str(env), "let-in", str(garden)), ("let-in", str(garden), "--env", str(env))):
            assert run(*words, capsys=capsys)[0] == 0
        with logbook.begin() as c:
            assert c.execute(sa.select(sa.func.count()).select_from(let_in_codes)).scalar() == 2
    assert not garden.with_suffix(".logbook").exists()
    assert not (tmp_path / "of the shell").exists()
    assert "BEDSTRAW_HEALTH_PORT" not in os.environ  # the service does not have it either


def test_a_health_port_that_somebody_has_is_told_in_words(
    garden: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BEDSTRAW_TOKEN", "12345678:AAinvented_for_this_test_only")
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        monkeypatch.setenv("BEDSTRAW_HEALTH_PORT", str(port))
        status, _, err = run("serve", str(garden), capsys=capsys)
    assert status == 2
    assert f"BEDSTRAW_HEALTH_PORT {port} cannot be used: Address already in use." in err
    assert "Traceback" not in err


def test_a_logbook_of_a_newer_version_is_left_alone(garden: Path, capsys: pytest.CaptureFixture[str]) -> None:
    open_logbook(garden.with_suffix(".logbook")).close()
    with closing(sqlite3.connect(garden.with_suffix(".logbook"))) as base, base:
        base.execute("INSERT INTO logbook_steps VALUES ('9999 from the future')")
    status, _, err = run("let-in", str(garden), capsys=capsys)
    assert status == 2
    assert "newer bedstraw" in err


def test_chat_through_a_pipe_answers_line_by_line(garden: Path) -> None:
    said = subprocess.run(
        [sys.executable, "-m", "bot", "chat", str(garden)],
        input="wrapped kaki\ntrees\nfrobnicate\nundo\n",
        capture_output=True, text=True, cwd=ROOT, timeout=120, check=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert "Noted: Kaki wrapped" in said.stdout
    assert "4. Kaki" in said.stdout
    assert "none of the trees' business, so I noted nothing" in said.stdout
    assert "Undone: Kaki wrapped" in said.stdout
    assert said.stderr == ""  # what is logged lies in a file of its owner's alone, not between the lines of the talk
    log = garden.with_suffix(".chat.log")  # what is in it depends on the hour
    assert log.stat().st_mode & 0o777 == 0o600


def test_help_answers_without_loading_what_it_does_not_need() -> None:
    script = (
        "import sys, bot.__main__ as m\n"
        "try: m.main(['--help'])\nexcept SystemExit: pass\n"
        "print([n for n in ('numpy','pydantic','sqlalchemy','telegram','matplotlib','requests') if n in sys.modules])"
    )
    said = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, cwd=ROOT, check=True)
    assert said.stdout.strip().splitlines()[-1] == "[]"


@pytest.fixture(scope="module")
def story() -> str:
    out = io.StringIO()
    assert run_demo(out) == 0
    return out.getvalue()


def test_the_demo_tells_a_whole_freeze_week(story: str) -> None:
    assert "Larkmoor" in story
    assert "Noted: Kaki wrapped" in story  # said as "wraped kaki"
    assert "Once this season" in story
    assert "Trial pomegranate" in story
    assert "Traceback" not in story


def test_in_the_demo_every_killing_night_is_asked_for_by_daylight(story: str) -> None:
    friday = story.partition("Friday 28 November")[2].partition("Saturday 29 November")[0]
    before = story.partition("Friday 28 November")[0]
    assert "Porch fig" in friday + before
    assert "lose" in friday + before or "rap" in friday + before


def test_the_demo_speaks_unasked_only_outside_the_quiet_hours(story: str) -> None:
    lines = [line for line in story.splitlines() if line.strip()]
    for line, after in pairwise(lines):
        if line.startswith("—") and line.endswith("—") and not after.startswith("Rowan:"):
            assert 7 <= int(line.split(", ")[1][:2]) < 21, line
