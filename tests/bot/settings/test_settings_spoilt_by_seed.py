"""Garden files spoilt in many ways at once, each told by its seed: read or refused within two seconds of work."""

import random
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from bot.settings import GardenError, doubtful, in_plain_words, read_garden
from tests.bot.settings.test_settings_any_input import TEXT, TODAY

PROMISED_S = 2.0  # of one core; thousands of each are run by tests/benchmarks/mutated_files.py
MARKS = "\"[]{}=#.\\,'\n\r\t \u201c\0\u2028\ufeff-+e0_9:"
WORDS = ["nan", "inf", "-inf", "9" * 400, "1979-05-27", "07:32:00", "true", '"""', "'''", "[[", "]]", "é", "😀"]
DEAR = [("[", "]"), ("{a=", "}"), ("a.", "a"), ("'a'.", "b"), ("{", "}")]


def garden_text(seed: int) -> str:
    """The demo's garden file after one to twelve changes: of letters, words, lines and parts, and what is dear."""
    chance, text = random.Random(seed), TEXT
    for _ in range(chance.randint(1, 12)):
        text = chance.choice(CHANGES)(chance, text)
    return text[:150_000]


def _letter(chance: random.Random, text: str) -> str:
    at = chance.randint(0, len(text))
    new: str = chance.choice([*MARKS, *WORDS, chr(chance.randint(0, 0x2FFF))])
    return text[:at] + new + text[at + chance.randint(0, 2) :]


def _line(chance: random.Random, text: str) -> str:
    rows = text.split("\n")
    at = chance.randrange(len(rows))
    rows[at : at + chance.choice([0, 1, 1, 5])] = chance.choice([[], [rows[at]] * 2, [chance.choice(rows)]])
    return "\n".join(rows)


def _value(chance: random.Random, text: str) -> str:
    rows = text.split("\n")
    with_value = [i for i, row in enumerate(rows) if "=" in row]
    if with_value:
        at = chance.choice(with_value)
        new = chance.choice([*WORDS, "[]", "{}", "-1", "1e308", str(2**63), "x"])
        rows[at] = f"{rows[at].partition('=')[0]}= {new}"
    return "\n".join(rows)


def _part(chance: random.Random, text: str) -> str:
    start = chance.randint(0, len(text))
    part = text[start : start + chance.randint(0, 3_000)]
    at = chance.randint(0, len(text))
    return text[:at] + part * chance.choice([1, 1, 2, 30]) + text[at:]


def _cut(chance: random.Random, text: str) -> str:
    return text[: chance.randint(0, len(text))] if chance.random() < 0.3 else text


def _dear(chance: random.Random, text: str) -> str:
    (start, end), times = chance.choice(DEAR), chance.choice([3, 30, 3_000, 20_000])
    at = text.find("\n", chance.randint(0, len(text))) + 1
    return f"{text[:at]}k = {start * times}{end * times}\n{start * times}z = 1\n{text[at:]}"


CHANGES: list[Callable[[random.Random, str], str]] = [_letter, _letter, _line, _value, _value, _part, _cut, _dear]


def assert_short(said: str) -> None:
    """What is said of a spoilt file is some lines a person can read."""
    assert 0 < len(said) < 20_000
    assert len(said.splitlines()) <= 22


def read_spoilt_garden(path: Path, seed: int) -> bool:
    """Whether the garden file of a seed is a garden; anything but a garden or a GardenError is raised."""
    path.write_bytes(garden_text(seed).encode("utf-8", "surrogatepass"))
    try:
        garden = read_garden(path, today=TODAY)
    except GardenError as error:
        assert_short(str(error))
        return False
    assert in_plain_words(garden)
    tuple(doubtful(garden))
    return True


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("spoilt")
    for name in ("forecasts", "past"):
        (folder / name).mkdir()
    return folder / "garden.toml"


@pytest.mark.parametrize("first", range(0, 200, 20))
def test_a_spoilt_garden_file_is_a_garden_or_its_mistakes_within_the_promised_time(place: Path, first: int) -> None:
    for seed in range(first, first + 20):
        began_s = time.process_time()
        read_spoilt_garden(place, seed)
        assert time.process_time() - began_s < PROMISED_S, seed
