"""What was typed at the terminal is there again in the next session, for its owner's eyes only."""

from pathlib import Path

from prompt_toolkit.history import FileHistory

from bot.terminal_chat import history_of


def test_what_was_typed_is_kept_beside_the_logbook_for_its_owner_alone(tmp_path: Path) -> None:
    path = history_of(tmp_path / "garden.logbook")
    assert path == tmp_path / "garden.typed"
    FileHistory(str(path)).store_string("closed porch")
    assert list(FileHistory(str(path)).load_history_strings()) == ["closed porch"]
    assert path.stat().st_mode & 0o777 == 0o600


def test_a_history_others_could_read_is_closed_to_them(tmp_path: Path) -> None:
    loose = tmp_path / "garden.typed"
    loose.touch(mode=0o644)
    assert history_of(tmp_path / "garden.logbook") == loose
    assert loose.stat().st_mode & 0o777 == 0o600


def test_a_logbook_on_a_server_leaves_no_history() -> None:
    assert history_of(None) is None
