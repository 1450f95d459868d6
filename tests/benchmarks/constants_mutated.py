"""Which thresholds and constants no test misses: each is doubled, then halved, and the tests of its room must turn red.

    python -m tests.benchmarks.constants_mutated [ROOM …] [--only NAME …] [--how double|halve|both]
        [--tests PATH … | --whole]

Works in a copy of the tree, one constant at a time; prints a line for each and the survivors at the end. The text of
its file is changed, so that what is bound at import is changed too. A constant is a name in capitals at the top of a
module whose value is a number, a time or a tuple or dict of these; what is no threshold (NO_THRESHOLD) is left out
unless it is named.
Only the quick tests of a room are run, in seconds for each constant; `--whole` adds the long ones, `--tests` names
others instead, and must for a room that QUICK has not. One constant:
`python -m tests.benchmarks.constants_mutated rules/plan --only PAST_SAVING`.
"""

import argparse
import ast
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from tqdm import tqdm

ROOT: Final = Path(__file__).parents[2]
WHOLE_NIGHTS: Final = "tests/bot/rounds/test_whole_nights.py"
# the quick tests of each room, the quickest first: the first that turns red ends the run
QUICK: Final = {
    "rules/jobs": ["tests/rules/jobs/test_jobs_thresholds.py", "tests/rules/jobs"],
    "bot/nudges": ["tests/bot/nudges/test_nudge_thresholds.py", "tests/bot/nudges"],
    "rules/plan": [
        "tests/rules/plan/season/test_ways.py", "tests/rules/plan/grower", "tests/rules/plan/test_wood_ahead.py",
        "tests/rules/plan/season/test_beyond_forecast.py", "tests/rules/plan/test_plan_thresholds_ahead.py",
        "tests/rules/plan/test_plan_thresholds.py", "tests/rules/plan/season",
    ],
    "bot/rounds": [
        "tests/bot/rounds/test_rounds_kept_forecast.py", "tests/bot/rounds/test_rounds_thresholds.py",
        "tests/bot/rounds/test_rounds_thresholds_heard.py",
    ],
}  # fmt: skip
LONG: Final = {
    "rules/jobs": ["rules/jobs", "tests/bot/nudges/test_job_nudges.py"],
    "bot/nudges": ["bot/nudges", "tests/bot/rounds/test_rounds_waking.py", WHOLE_NIGHTS],
    "rules/plan": ["tests/rules/plan", "rules/plan", WHOLE_NIGHTS],
    "bot/rounds": [
        "tests/bot/rounds/test_rounds_past_winters.py", "tests/bot/rounds/test_rounds_waking.py",
        "tests/bot/answers/test_rounds_household.py", "tests/bot/answers/test_rounds_jobs.py",
        "tests/bot/answers/test_rounds_learning.py", WHOLE_NIGHTS, "tests/bot/rounds/test_faults.py",
    ],
}  # fmt: skip
# what says how much is reckoned, or what a thing is, and not when a grower hears what: doubling it is no other advice
NO_THRESHOLD: Final = {
    ("rules/plan/decision.py", "ROUNDS"): "effort: how often visits are shared anew; bounded in test_plan_search",
    ("rules/plan/search.py", "BEAM"): "effort: what fewer courses miss is bounded in test_plan_search",
    ("rules/plan/certainty/sensitivity.py", "THINNED"): "effort: how many members stand for all",
    ("rules/plan/beyond_forecast.py", "MOST_WINTERS"): "effort: how many winters the mean is taken of",
    ("rules/plan/season/daily_heat.py", "SWITCH_EVERY_DAYS"):
        "effort: how many changes of state a fit sees; what its memory misses is bounded in test_seasons_replayed",
    ("rules/plan/season/felt_winters.py", "CALIBRATION_WINTERS"):
        "effort: how many winters a fit sees; what it misses of others is bounded in test_seasons_replayed",
    ("rules/plan/season/felt_winters.py", "SAME_DRAW"): "a seed: what it draws is counted in test_forecasts_replayed",
    ("rules/plan/season/table.py", "EVERY_DAYS"):
        "effort: how many days are begun on; what lies between is bounded in test_seasons_replayed",
    ("rules/plan/season/whole_courses.py", "OPEN_FOR"):
        "effort: how long the courses tried first stand open; what they miss is bounded in test_whole_courses",
    ("rules/plan/season/whole_courses.py", "NO_DAY"): "a day that no season has: any other beyond its end is the same",
    ("rules/plan/grower/own_way.py", "NOT_THIS_WAY"):
        "more than any tree is worth; that half of it would be too little is in test_own_way",
    ("rules/plan/search.py", "STATES"): "a count: bare, vented, closed",
    ("rules/plan/garden_stakes.py", "WOOD"): "a place in an array: the last node",
    ("rules/plan/slots.py", "HOUR"): "a unit",
}  # fmt: skip
FACTORS: Final[dict[str, tuple[float, ...]]] = {"double": (2.0,), "halve": (0.5,), "both": (2.0, 0.5)}
COPIED: Final = ("bot", "rules", "tests", "demo_config", "pyproject.toml", "README.md", "DEVELOPERS.md", ".ci")


@dataclass(frozen=True)
class Constant:
    """One name and where its value stands in its file."""

    path: str
    name: str
    value: ast.expr

    def mutated(self, text: str, factor: float) -> str:
        """The file with the value of this constant multiplied."""
        begin, end = _offset(text, self.value.lineno, self.value.col_offset), self.value.end_col_offset
        assert end is not None
        assert self.value.end_lineno is not None
        return text[:begin] + _times(self.value, factor) + text[_offset(text, self.value.end_lineno, end) :]


def _offset(text: str, line: int, column_bytes: int) -> int:
    lines = text.splitlines(keepends=True)
    return sum(map(len, lines[: line - 1])) + len(lines[line - 1].encode()[:column_bytes].decode())


def _times(value: ast.expr, factor: float) -> str:
    """The expression with each of its numbers multiplied; whole numbers stay whole."""
    match value:
        case ast.Tuple(elts=parts):
            return f"({''.join(f'{_times(part, factor)}, ' for part in parts)})"
        case ast.Dict(keys=keys, values=values):
            pairs = (f"{ast.unparse(key)}: {_times(one, factor)}" for key, one in zip(keys, values, strict=True) if key)
            return f"{{{', '.join(pairs)}}}"
        case ast.Constant(value=0 | 0.0):
            return "1.0"  # nothing doubled is nothing
        case ast.Constant(value=int()) | ast.BinOp():
            return f"max(1, round(({ast.unparse(value)}) * {factor}))"
        case _:
            return f"({ast.unparse(value)} * {factor})"


def constants_of(room: str) -> Iterator[Constant]:
    """The thresholds and constants of the modules of one room."""
    for path in sorted((ROOT / room).rglob("*.py")):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if not isinstance(node, ast.AnnAssign) or not isinstance(node.target, ast.Name) or node.value is None:
                continue
            if node.target.id.isupper() and _is_number(node.value):
                yield Constant(str(path.relative_to(ROOT)), node.target.id, node.value)


def _is_number(value: ast.expr) -> bool:
    match value:
        case ast.Constant(value=bool()):
            return False
        case ast.Constant(value=int() | float()):
            return True
        case ast.UnaryOp(operand=one):
            return _is_number(one)
        case ast.BinOp(left=left, right=right):
            return _is_number(left) and _is_number(right)
        case ast.Tuple(elts=parts):
            return bool(parts) and all(map(_is_number, parts))
        case ast.Dict(values=values):
            return bool(values) and all(map(_is_number, values))
        case ast.Call(func=ast.Name(id="timedelta")):
            return True
        case _:
            return False


def red_test(tree: Path, tests: list[str]) -> str:
    """The first test that turns red, or nothing."""
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-n0", "-p", "no:cacheprovider", "--tb=no", *tests]
    compiled_once = {**os.environ, "PYTHONDONTWRITEBYTECODE": ""}
    done = subprocess.run(command, cwd=tree, env=compiled_once, capture_output=True, text=True, check=False)
    if done.returncode == 0:
        return ""
    named = [line for line in done.stdout.splitlines() if line.startswith(("FAILED", "ERROR"))]
    return named[0].split(" - ")[0].split("::")[-1] if named else "it does not even start"


def tree_copied(into: Path) -> None:
    """The tree without what is made from it."""
    for name in COPIED:
        if (ROOT / name).is_dir():
            shutil.copytree(ROOT / name, into / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(ROOT / name, into / name)


def asked_for() -> argparse.Namespace:
    """What the command line asks for."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    rooms = f"of {', '.join(QUICK)}, or with --tests any; those where none is named"
    asked.add_argument("rooms", nargs="*", metavar="ROOM", help=rooms)
    asked.add_argument("--only", nargs="+", default=[], metavar="NAME")
    asked.add_argument("--how", choices=FACTORS, default="both")
    which = asked.add_mutually_exclusive_group()
    which.add_argument("--tests", nargs="+", default=[], metavar="PATH", help="instead of the room's quick ones")
    which.add_argument("--whole", action="store_true", help="the room's long tests after its quick ones")
    given = asked.parse_args()
    given.rooms = given.rooms or list(QUICK)
    strange = [room for room in given.rooms if room not in QUICK and not (given.tests and (ROOT / room).is_dir())]
    names = {one.name for room in given.rooms for one in constants_of(room)}
    strange += [name for name in given.only if name not in names]
    if strange:
        asked.error(f"there is no {', '.join(strange)} to change in {', '.join(given.rooms)}")
    return given


def is_meant(one: Constant, only: Collection[str]) -> bool:
    """Whether it is to be changed: what is named, else each threshold."""
    return one.name in only if only else (one.path, one.name) not in NO_THRESHOLD


def main() -> None:
    """Change one constant after the other and print which of them no test misses."""
    given = asked_for()
    tests = {room: given.tests or QUICK[room] + (LONG[room] if given.whole else []) for room in given.rooms}
    mutants = [(room, one, factor) for room in given.rooms for one in constants_of(room)
               for factor in FACTORS[given.how] if is_meant(one, given.only)]  # fmt: skip
    survivors = []
    with tempfile.TemporaryDirectory(prefix="mutated-") as folder:
        tree = Path(folder)
        tree_copied(tree)
        for room in given.rooms:
            unchanged = red_test(tree, tests[room])
            if unchanged:
                sys.exit(f"{room}: {unchanged} is red before anything is changed")
        for room, one, factor in tqdm(mutants):
            text = (ROOT / one.path).read_text(encoding="utf-8")
            (tree / one.path).write_text(one.mutated(text, factor), encoding="utf-8")
            red = red_test(tree, tests[room])
            (tree / one.path).write_text(text, encoding="utf-8")
            tqdm.write(f"{one.path}: {one.name} × {factor}: {red or 'SURVIVES'}")
            survivors += [] if red else [f"{one.path}: {one.name} × {factor}"]
    print(f"{len(mutants) - len(survivors)} of {len(mutants)} turn a test red")
    print(*(f"  unnoticed: {one}" for one in survivors), sep="\n")


if __name__ == "__main__":
    main()
