"""The floors and walls of the house: who may import whom, and what each room may not touch."""

import ast
from functools import cache
from pathlib import Path
from typing import Final

ROOT: Final = Path(__file__).parents[2]
# From the ground up. A file imports from its own folder or from lower floors;
# folders of one floor do not know each other.
FLOORS: Final[list[set[str]]] = [
    {"rules.garden", "rules.compiled"},
    {"rules.weather"},
    {"rules.site"},
    {"rules.heat", "rules.wood"},
    {"rules.plan", "rules.learning"},
    {"rules.jobs"},
    {"rules.outlook"},
    {"rules.backtest"},
    {"bot.messages", "bot.weather_services"},
    {"bot.settings", "bot.replies", "bot.nudges"},
    {"bot.forecasts", "bot.logbook"},
    {"bot.wording"},
    {"bot.charts", "bot.inbox", "bot.outbox"},
    {"bot.page", "bot.calendar"},
    {"bot.rounds"},
    {"bot.answers"},
    {"bot.upkeep"},
    {"bot.hosting", "bot.telegram_chat", "bot.terminal_chat", "bot.timetable", "bot.sensors", "bot.second_way"},
    {"bot.demo"},
    {"bot.commands"},
    {"bot.command_line"},
    {"bot.__main__"},
]
ONE_ROOM: Final = {
    "requests": {"bot.forecasts"},
    "telegram": {"bot.telegram_chat"},
    "httpx": {"bot.telegram_chat"},
    "apscheduler": {"bot.timetable"},
    "matplotlib": {"bot.charts"},
    "aiomqtt": {"bot.sensors"},
    "segno": {"bot.commands"},
    "apprise": {"bot.second_way"},
    "icalendar": {"bot.calendar"},
    "sqlalchemy": {"bot.logbook", "bot.inbox", "bot.outbox"},
    "prompt_toolkit": {"bot.terminal_chat"},
    "tzfpy": {"bot.settings"},
    "tomlkit": {"bot.settings"},
    "procrastinate": {"bot.hosting"},
    "rapidfuzz": {"bot.replies", "bot.settings"},
}
LARGEST_FOLDER: Final = 12  # files beside its __init__, so that a newcomer reads the names at one glance
DEEPEST: Final = 4  # parts of a path such as bot/answers/questions/why.py
FORBIDDEN_IN_RULES: Final = {"time", "random", "socket", "requests", "os", "subprocess", "sqlite3", "urllib", "http"}
CLOCKS: Final = {"now", "today", "utcnow"}
BARE_QUANTITIES: Final = {
    "temperature", "wind", "height", "width", "depth", "speed", "gust", "cloud", "latitude", "longitude",
}  # fmt: skip
SOURCES: Final = sorted(
    path
    for top in ("rules", "bot")
    for path in (ROOT / top).rglob("*.py")
    if path.stem != "__init__" or path.parent.parent != ROOT
)
RULES: Final = [path for path in SOURCES if path.is_relative_to(ROOT / "rules")]


def named(path: Path) -> str:
    return str(path.relative_to(ROOT))


def room(path: Path) -> str:
    """The folder of the list of floors in which a file lies, or the file itself where it stands beside them."""
    return ".".join(path.relative_to(ROOT).with_suffix("").parts[:2])


@cache
def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def imports(path: Path) -> frozenset[str]:
    names: set[str] = set()
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            names |= {f"{base}.{a.name}" for a in node.names} if base in ("rules", "bot") else {base}
    return frozenset(names)


def floor_of(name: str) -> int:
    found = [i for i, rooms in enumerate(FLOORS) if name in rooms]
    assert found, f"{name} stands on no floor: put its folder on one of FLOORS"
    return found[0]


def test_a_file_imports_only_from_its_own_folder_and_lower_floors() -> None:
    climbing = [
        f"{named(path)} imports {name}"
        for path in SOURCES
        for name in imports(path)
        if name.split(".")[0] in ("rules", "bot")
        and (other := ".".join(name.split(".")[:2])) != room(path)
        and floor_of(other) >= floor_of(room(path))
    ]
    assert climbing == []


def test_every_folder_stands_on_a_floor_and_no_floor_names_one_that_is_gone() -> None:
    assert {room(path) for path in SOURCES} == set().union(*FLOORS)


def test_no_folder_is_a_drawer() -> None:
    """At most a dozen files, so that the room for a change is found by names alone."""
    folders: dict[Path, list[str]] = {}
    for path in SOURCES:
        if path.stem != "__init__":
            folders.setdefault(path.parent, []).append(path.stem)
    full = {named(folder): len(files) for folder, files in folders.items() if len(files) > LARGEST_FOLDER}
    assert full == {}
    assert [named(path) for path in SOURCES if len(path.relative_to(ROOT).parts) > DEEPEST] == []


def test_rules_import_no_clock_chance_network_or_disk_and_never_the_bot() -> None:
    forbidden = [
        f"{named(path)} imports {name}"
        for path in RULES
        for name in imports(path)
        if name.split(".")[0] in FORBIDDEN_IN_RULES | {"bot"}
    ]
    assert forbidden == []


def test_rules_read_no_clock_and_write_nothing() -> None:
    called = [
        f"{named(path)}: {ast.unparse(node.func)}"
        for path in RULES
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.Call) and _touches_the_world(node.func)
    ]
    assert called == []


def _touches_the_world(func: ast.expr) -> bool:
    if isinstance(func, ast.Name):
        return func.id in {"open", "print", "input"}
    if not isinstance(func, ast.Attribute):
        return False
    reads_clock = func.attr in CLOCKS and "date" in ast.unparse(func)
    return reads_clock or func.attr in {"write_text", "write_bytes"}


def test_each_library_has_one_room() -> None:
    elsewhere = [
        f"{named(path)} imports {name}"
        for path in SOURCES
        for name in imports(path)
        if room(path) not in ONE_ROOM.get(name.split(".")[0], {room(path)})
    ]
    assert elsewhere == []


def test_the_top_level_holds_only_what_the_card_names() -> None:
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "bot", "rules", "tests", "demo_config"}
    shown = {p.name for p in ROOT.iterdir() if not p.name.startswith(".") and not p.name.endswith(".egg-info")}
    assert shown - {"build", "dist"} <= allowed


def test_a_field_that_holds_a_quantity_says_its_unit() -> None:
    bare = [
        f"{named(path)}: {node.name}.{line.target.id}"
        for path in SOURCES
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.ClassDef)
        for line in node.body
        if isinstance(line, ast.AnnAssign)
        and isinstance(line.target, ast.Name)
        and line.target.id in BARE_QUANTITIES
        and any(kind in ast.unparse(line.annotation) for kind in ("float", "Hours"))
    ]
    assert bare == []
