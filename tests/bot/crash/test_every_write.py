"""Dying at every write and every send of a round, an answer and a send: one seed of what the benchmark does."""

from pathlib import Path

import pytest

from bot.logbook.messages.unheard import unheard
from tests.bot.crash import every_write
from tests.bot.crash.every_write import course

STRIDE = 12  # one event in six or so; the benchmark dies at each


def test_nothing_is_lost_doubled_or_never_heard_wherever_the_program_dies(place: Path | str, tmp_path: Path) -> None:
    found = course(place, tmp_path, seed=2, stride=STRIDE)
    assert found.kills > 8
    assert found.wrong == []


def test_the_same_seed_dies_the_same_deaths(tmp_path: Path) -> None:
    both = []
    for name in ("a", "b"):
        (tmp_path / name).mkdir()
        found = course(tmp_path / name / "larkmoor.logbook", tmp_path / name, 3, 4 * STRIDE)
        both.append((found.kills, found.said, found.told_late, found.wrong))
    assert both[0] == both[1]


def test_answers_that_are_given_up_without_a_word_are_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The mutant that this simulation is for: as the program was before."""
    for module in ("bot.outbox", "bot.answers.answering"):
        monkeypatch.setattr(f"{module}.{unheard.__name__}", lambda *_: None)
    monkeypatch.setattr(every_write, "WORKS", ("send",))
    found = course(tmp_path / "larkmoor.logbook", tmp_path, seed=2, stride=2)
    assert any("was never heard" in sentence for sentence in found.wrong)
