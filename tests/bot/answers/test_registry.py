"""Who answers what: one answer for each thing a reply can mean, one way on from each question of ours."""

import ast
from collections import Counter
from pathlib import Path

from bot.answers import registry
from bot.answers.registry import ANSWERS, ONLY_A_CAPTION
from bot.replies import DEEDS, Verb

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
