"""Whatever stands in a garden file: a garden, or a GardenError with sentences; never anything else."""

import copy
import random
import tomllib
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bot.settings import Garden, GardenError, Problem, in_plain_words, read_garden
from bot.settings.toml_text.toml_lines import line_of, lines_of_keys

TODAY = date(2026, 11, 25)
DEMO = Path(__file__).parents[3] / "demo_config" / "larkmoor.toml"
TEXT = DEMO.read_text(encoding="utf-8")

WORDS = st.sampled_from(
    ["open", "fig", "straw cage", "Kaki", "saved", "owner", "21:00", "America/Denver", "", "a\0b", "…"]
)
NUMBERS = st.one_of(st.integers(), st.floats(), st.sampled_from([0, -1, 2**63, -(2**70), 1e308]))
PLAIN = st.one_of(WORDS, st.text(max_size=8), NUMBERS, st.booleans(), st.dates(), st.times(), st.datetimes())
VALUES = st.recursive(
    PLAIN, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(WORDS, inner, max_size=3), max_leaves=6
)


def as_toml(value: Any) -> str:
    """A value as TOML writes it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return '"' + "".join(f"\\U{ord(c):08X}" if ord(c) < 32 or c in '"\\\x7f' else c for c in value) + '"'
    if isinstance(value, dict):
        return "{" + ", ".join(f"{as_toml(str(k))} = {as_toml(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(as_toml, value)) + "]"
    return str(value).replace(" ", "T") if isinstance(value, date) else str(value)


def places(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Every path inside a document."""
    steps = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [place for step, inner in steps for place in ((*path, step), *places(inner, (*path, step)))]


PLACES = places(tomllib.loads(TEXT))


@st.composite
def mutated_documents(draw: st.DrawFn) -> dict[str, Any]:
    """The demo garden with up to three values replaced, removed or added."""
    document: dict[str, Any] = copy.deepcopy(tomllib.loads(TEXT))
    for _ in range(draw(st.integers(1, 3))):
        *above, last = draw(st.sampled_from(PLACES))
        act = draw(st.sampled_from(["replace", "remove", "add"]))
        try:
            table: Any = document
            for step in above:
                table = table[step]
            if act == "remove":
                del table[last]
            elif act == "add" and isinstance(table, dict):
                table[draw(st.one_of(WORDS, st.text(max_size=6)))] = draw(VALUES)
            else:
                table[last] = draw(VALUES)
        except (KeyError, IndexError, TypeError):
            continue  # an earlier change took the place away
    return document


def garden_or_problems(folder: Path, text: str) -> None:
    path = folder / "garden.toml"
    path.write_text(text, encoding="utf-8")
    (folder / "forecasts").mkdir(exist_ok=True)
    (folder / "past").mkdir(exist_ok=True)
    garden, problems = read_or_problems(path)
    if garden is None:
        assert problems
        assert all(isinstance(problem, Problem) and problem.sentence for problem in problems)
        assert all("\n" not in str(problem) for problem in problems)
    else:
        assert Garden.model_validate_json(garden.model_dump_json()) == garden
        assert garden.name in in_plain_words(garden)


def read_or_problems(path: Path) -> tuple[Garden | None, tuple[Problem, ...]]:
    try:
        return read_garden(path, today=TODAY), ()
    except GardenError as error:
        return None, error.problems


@settings(deadline=None, max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(document=mutated_documents())
def test_any_change_of_values_gives_a_garden_or_its_problems(tmp_path: Path, document: dict[str, Any]) -> None:
    text = "\n".join(f"{as_toml(key)} = {as_toml(value)}" for key, value in document.items())
    garden_or_problems(tmp_path, text + "\n")


@pytest.mark.parametrize("seed", range(60))
def test_any_change_of_text_gives_a_garden_or_its_problems(tmp_path: Path, seed: int) -> None:
    chance = random.Random(seed)
    rows = TEXT.split("\n")
    for _ in range(chance.randint(1, 4)):
        at = chance.randrange(len(rows))
        row, cut = rows[at], chance.randint(0, len(rows[at]))
        changes = [row[:cut] + chance.choice('"[]{}=#.\\\u201c\0 7') + row[cut:], row[:cut], "", row + "\n" + row]
        rows[at] = chance.choice(changes)
    garden_or_problems(tmp_path, "\n".join(rows))


def test_the_demo_garden_written_without_tables_means_the_same(tmp_path: Path) -> None:
    document = tomllib.loads(TEXT)
    for key in ("saved_forecasts", "past_weather"):
        document[key] = str(DEMO.parent / document[key])
    path = tmp_path / "garden.toml"
    path.write_text("\n".join(f"{key} = {as_toml(value)}" for key, value in document.items()) + "\n", encoding="utf-8")
    assert read_garden(path, today=TODAY) == read_garden(DEMO, today=TODAY)


def test_each_key_of_the_demo_garden_is_found_on_its_line() -> None:
    lines, rows = lines_of_keys(TEXT), TEXT.split("\n")
    for path in PLACES:
        names = [step for step in path if isinstance(step, str)]
        number = line_of(path, lines)
        assert number is not None
        assert names[-1] in rows[number - 1], path


def test_lines_are_counted_through_lists_texts_and_inner_tables() -> None:
    text = 'a = [\n 1,\n 2,\n]\nb = """\n[[trees]]\n"""\n\n[[trees]]\nname = "x"\n[trees.own]\n"q.r" = 1\n'
    text += '[[trees]]\nname = "y"\ns = { t = 1 }'
    lines = lines_of_keys(text)
    assert lines[("a",)] == 1
    assert lines[("b",)] == 5
    assert lines[("trees",)] == lines[("trees", 0)] == 9
    assert lines[("trees", 0, "own", "q.r")] == 12
    assert lines[("trees", 1, "name")] == 14
    assert line_of(("trees", 1, "s", "t", "deeper"), lines) == 15
    assert line_of(("nowhere",), lines) is None


def test_a_date_where_a_species_is_due_is_a_mistake_with_a_sentence(tmp_path: Path) -> None:
    path = tmp_path / "garden.toml"
    path.write_text(TEXT.replace('species = "olive"', "species = 2000-01-01"))
    with pytest.raises(GardenError, match="is not in the table"):
        read_garden(path)
