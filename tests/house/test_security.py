"""What the text of the program itself must hold: bound parameters only, plain text only, a lock that fits."""

import ast
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

ROOT = Path(__file__).parents[2]
LOCKS = {name: ROOT / ".ci" / f"{name}.lock" for name in ("home", "hosted")}
FILES = sorted((ROOT / "bot").rglob("*.py"))
STATEMENTS = {"text", "exec_driver_sql", "literal_column", "DDL"}
# statements that are put together, each from texts of the program alone: pragmas, steps, the name of a table
OUR_OWN = {
    "bot/logbook/database/moving.py": {"f'DROP TABLE {MARK}'", "f'CREATE TABLE {MARK} (name TEXT)'"},
    "bot/logbook/database/opening.py": {"'PRAGMA ' + pragma", "migrations.STEPS_TABLE"},
    "bot/logbook/database/migrations.py": {"statement.format(**SPELLING[c.dialect.name])"},
}


def statements(tree: ast.AST) -> Iterator[ast.expr]:
    """The first argument of every call that takes SQL as text."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.args:
            name, first = node.func.attr, node.args[0]
            owner = ast.unparse(node.func.value)
            takes_text = name in STATEMENTS and (name != "text" or owner in ("sa", "sqlalchemy"))
            if takes_text or (name in ("execute", "executescript", "scalar", "scalars") and _is_text(first)):
                yield first


def _is_text(node: ast.expr) -> bool:
    return isinstance(node, ast.JoinedStr | ast.BinOp) or (
        isinstance(node, ast.Constant) and isinstance(node.value, str)
    )


def put_together(tree: ast.AST) -> list[str]:
    """The statements that are not one literal text."""
    return [ast.unparse(one) for one in statements(tree) if not isinstance(one, ast.Constant)]


def test_no_statement_is_put_together_from_outside_words() -> None:
    found = {str(path.relative_to(ROOT)): put_together(ast.parse(path.read_text(encoding="utf-8"))) for path in FILES}
    assert {path: set(statements) for path, statements in found.items() if statements} == OUR_OWN


def test_this_test_finds_what_it_looks_for() -> None:
    lines = (
        'c.exec_driver_sql(f"SELECT {name}")',
        'c.execute(sa.text("SELECT " + name))',
        'c.execute("SELECT %s" % name)',
        "sa.literal_column(name)",
    )
    assert [line for line in lines if not put_together(ast.parse(line))] == []


def test_nothing_is_ever_sent_with_markup() -> None:
    said = [path for path in FILES if re.search(r"parse_mode|ParseMode", path.read_text(encoding="utf-8"))]
    assert said == []  # plain text only: no name and no word can break or forge it


def locked(name: str) -> dict[str, Version]:
    """The versions of a lock by the names of their packages."""
    text = LOCKS[name].read_text(encoding="utf-8")
    found = re.findall(r"^([A-Za-z0-9_.-]+)(?:\[[^\]]*\])?==(\S+)", text, re.MULTILINE)
    return {canonicalize_name(name): Version(version) for name, version in found}


@pytest.mark.parametrize("name", LOCKS)
def test_every_dependency_is_locked_to_a_version_that_fits(name: str) -> None:
    document = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    project, builds_with = document["project"], document["build-system"]["requires"]
    extras = project["optional-dependencies"]
    hosted = extras["hosted"] if name == "hosted" else []
    named = (*project["dependencies"], *hosted, *extras["charts"], *builds_with)
    wanted = [Requirement(one) for one in named]
    versions = locked(name)
    for one in wanted:
        assert versions[canonicalize_name(one.name)] in one.specifier, one.name


@pytest.mark.parametrize("name", LOCKS)
def test_every_locked_package_has_its_hashes_and_no_place_is_named(name: str) -> None:
    text = LOCKS[name].read_text(encoding="utf-8")
    packages = re.split(r"^(?=[A-Za-z0-9_.-]+(?:\[[^\]]*\])?==)", text, flags=re.MULTILINE)[1:]
    assert len(packages) == len(locked(name)) > 20
    assert all(re.search(r"--hash=sha256:[0-9a-f]{64}", one) for one in packages)
    assert not re.search(r"https?://|file:|index-url|find-links|trusted-host|\s/", text)


def test_the_readme_installs_what_is_locked_and_lets_nothing_else_be_fetched() -> None:
    """Without `--no-build-isolation` pip fetches what builds the program, in whatever version there is that day."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    lines = [line for line in readme.splitlines() if line.startswith("/opt/bedstraw/bin/pip install")]
    assert lines == [
        "/opt/bedstraw/bin/pip install --require-hashes -r .ci/home.lock",
        "/opt/bedstraw/bin/pip install --no-deps --no-build-isolation .",
    ]


def test_a_home_garden_installs_nothing_of_the_hosted_and_both_agree_on_the_rest() -> None:
    home, hosted = locked("home"), locked("hosted")
    assert not {"psycopg", "psycopg-binary", "procrastinate"} & set(home)
    assert {name: hosted[name] for name in home} == home
