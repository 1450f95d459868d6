"""`bedstraw replay`: what cannot be replayed is said in a sentence, what can is the same from the same seed."""

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from bot.__main__ import main
from bot.commands import replay as replaying
from bot.commands.replay import table
from rules.backtest.comparison import Replay, Rule, Scored, Verdict

GARDEN = str(Path(__file__).parents[3] / "demo_config" / "larkmoor.toml")


def winters(folder: Path, years: int, *, heading: str = "date,min_c,max_c", low: str = "-3", high: str = "6") -> str:
    """A file of so many whole years from July on, every day the same."""
    days = [date(2001, 7, 1) + timedelta(days=i) for i in range(365 * years + 2)]
    path = folder / "winters.csv"
    path.write_text("\n".join([heading, *(f"{day},{low},{high}" for day in days)]), encoding="utf-8")
    return str(path)


def refused(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    """The one sentence on a replay that cannot be."""
    assert main(["replay", GARDEN, *arguments]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert "Traceback" not in said.err
    assert len(said.err.strip().splitlines()) == 1
    return said.err


def test_a_file_of_minima_alone_is_refused_by_name(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = winters(tmp_path, 7, heading="date,min_c,rain_mm")
    assert "winters.csv: a replay needs daily maxima as well as minima" in refused(capsys, "--winters", file)


def test_fewer_than_five_whole_winters_are_refused_and_counted(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert "holds 3 whole winters" in refused(capsys, "--winters", winters(tmp_path, 3))
    assert "holds 1 whole winter from" in refused(capsys, "--winters", winters(tmp_path, 1))


def test_summers_alone_are_no_winter(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = Path(winters(tmp_path, 7))
    lines = path.read_text(encoding="utf-8").splitlines()
    path.write_text("\n".join(line for line in lines if line[5:7] in ("mi", "05", "06", "07", "08")))
    assert "0 whole winters" in refused(capsys, "--winters", str(path))


@pytest.mark.parametrize(
    ("low", "high", "why"),
    [("270.15", "279.15", "outside the believable range"), ("6", "-3", "minimum above maximum")],
)
def test_kelvin_and_columns_that_changed_places_are_said_to_be_set_aside(
    low: str, high: str, why: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said = refused(capsys, "--winters", winters(tmp_path, 7, low=low, high=high))
    assert "days were set aside, 2001-07-01 first" in said
    assert why in said


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (b"", "is empty"),
        (b"day,low\n2020-01-01,3\n", "the heading is 'day,low'"),
        (b"date,min_c,max_c\n2020-01-01,cold,6\n", "line 2"),
        (bytes(range(256)), "is no text"),
    ],
)
def test_a_file_of_another_kind_is_refused(
    text: bytes, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "odd.csv").write_bytes(text)
    assert words in refused(capsys, "--winters", str(tmp_path / "odd.csv"))


def test_a_file_that_is_not_there_and_a_folder_are_said_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "no such file" in refused(capsys, "--winters", str(tmp_path / "none.csv"))
    assert "is a directory" in refused(capsys, "--winters", str(tmp_path))


@pytest.mark.parametrize(
    ("option", "value", "words"),
    [
        ("--shift", "nan", "--shift must be −20 to 20 °C, got nan"),
        ("--shift", "900", "got 900"),
        ("--seed", "-3", "--seed must be 0 or more, got -3"),
    ],
)
def test_numbers_that_make_no_sense_are_refused(
    option: str, value: str, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert words in refused(capsys, "--winters", winters(tmp_path, 7), option, value)


def test_a_replay_broken_off_by_the_person_ends_without_a_word(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken_off(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(replaying, "replay", broken_off)
    assert main(["replay", GARDEN, "--winters", winters(tmp_path, 7)]) == 130
    assert "Traceback" not in capsys.readouterr().err


def row(rule: Rule, lost: float, savable: float | None) -> Scored:
    return Scored(
        rule=rule, tree="Porch fig", cost=12.3, lost=lost, trips=4.0, killing=20, missed=1, regret=0.5, regret_se=0.2,
        savable=savable,
    )  # fmt: skip


def test_the_table_has_a_line_for_every_rule_says_its_seed_and_shift_and_what_they_mean_for_the_tree() -> None:
    rows = (row(Rule.PLAN, 0.05, 0.91), row(Rule.NEVER, 0.45, 0.0), row(Rule.KNOWN, 0.02, 1.0))
    found = Replay(
        years=(2001, 2002), shift_c=-2.0, seed=7, rows=rows, verdicts={"Porch fig": Verdict.HELPS}, heat_rms_c=0.3
    )
    text = table(found)
    lines = text.splitlines()
    assert "2 winters, 2001 to 2002, shifted by −2 °C, seed 7" in text
    assert " ".join(lines[5].split()) == "Porch fig our plan 12.3 0.05 4.0 0.5 0.2 1/20 91%"
    assert len({len(line) for line in lines[4:8]}) == 1
    assert lines[-1] == "Porch fig: a cover saves 40% of its wood in a mean winter, for 4.0 trips by our plan."
    for verdict, words in (
        (Verdict.NOT_NEEDED, "no cover is needed"),
        (Verdict.CANNOT_SAVE, "no cover like this pays"),
    ):
        assert words in table(replace(found, verdicts={"Porch fig": verdict}))
