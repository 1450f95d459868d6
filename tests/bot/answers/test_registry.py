"""Who answers what: one answer for each thing a reply can mean, one way on from each question of ours."""

import ast
import tomllib
from collections import Counter
from pathlib import Path

from bot.answers import registry
from bot.answers.registry import ANSWERS, ONLY_A_CAPTION
from bot.replies import DEEDS, Verb
from rules.jobs import JobKind

DEEDS_AT_COVERS = {"wrap", "close", "open", "vent", "wake_early", "close_for_frost", "strip"}  # told as deeds

TABLE = next(
    node
    for node in ast.parse(Path(registry.__file__).read_text(encoding="utf-8")).body
    if isinstance(node, ast.AnnAssign) and ast.unparse(node.target) == "ANSWERS"
)


def test_every_meaning_has_exactly_one_answer() -> None:
    """Counted in the text of the table, since of two lines for one meaning Python keeps the later without a word."""
    assert isinstance(TABLE.value, ast.Dict)
    told = Counter(ast.unparse(key) for key in TABLE.value.keys if key is not None)
    assert told == Counter(f"Verb.{verb.name}" for verb in Verb)


def test_all_deeds_are_noted_in_one_way() -> None:
    assert len({ANSWERS[verb] for verb in DEEDS}) == 1


def test_a_deed_told_under_a_photo_is_no_mere_caption() -> None:
    assert ONLY_A_CAPTION.isdisjoint(DEEDS)


def test_every_job_that_is_no_deed_at_a_cover_has_words_by_which_people_tell_it() -> None:
    """That these sentences mean it, tests/bot/replies shows."""
    tables = [Path(__file__).parents[1] / "replies" / f"phrases_jobs{half}.toml" for half in ("", "_held_back")]
    told = {meant.split()[0] for table in tables for meant in tomllib.loads(table.read_text())["quiet"].values()}
    assert {kind.value for kind in JobKind} - told == DEEDS_AT_COVERS
