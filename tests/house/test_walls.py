"""The floors and walls of the house: who may import whom, and what each room may not touch."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
FLOORS: list[set[str]] = [
    {"rules.garden.units", "rules.garden.doubt", "rules.garden.tree"},
    {"rules.weather.daily_minima", "rules.backtest.day_curves"},
    {"rules.weather.hourly", "rules.garden.cover", "rules.garden.shed", "rules.weather.freeze_seasons"},
    {
        "rules.garden.records",
        "rules.garden.species",
        "rules.wood.hardening",
        "rules.wood.daily_temperatures",
        "rules.site.sun",
        "rules.site.sky",
        "rules.weather.gaps",
        "rules.weather.members",
        "rules.wood.chill",
        "rules.site.soil",
        "rules.heat.surroundings",
        "rules.heat.properties",
        "rules.wood.spring_buds",
        "rules.wood.heat_sums",
        "rules.weather.minima_table",
        "rules.weather.cold_nights",
        "rules.weather.climatology",
    },
    {"rules.garden.cultivars", "rules.garden.season_records", "rules.weather.toward_climatology"},
    {"rules.wood.season", "rules.site.microclimate"},
    {"rules.wood.course", "rules.heat.network"},
    {"rules.heat.step"},
    {"rules.heat.march"},
    {"rules.heat.batch"},
    {"rules.heat.balance", "rules.wood.hardiness"},
    {"rules.wood.injury", "rules.heat.terms", "rules.heat.what_if", "rules.weather.timeline", "rules.wood.margins"},
    {"rules.outlook.nights", "rules.wood.night_losses"},
    {"rules.plan.stakes"},
    {"rules.plan.prices", "rules.plan.slots", "rules.heat.courses", "rules.plan.search"},
    {"rules.plan.standing_costs", "rules.plan.costs_to_go"},
    {"rules.plan.beyond_forecast", "rules.plan.work"},
    {"rules.plan.garden_stakes"},
    {"rules.plan.choice", "rules.plan.acts"},
    {"rules.plan.sensitivity"},
    {
        "rules.plan.garden_plan",
        "rules.garden.supplies",
        "rules.weather.freeze_dates",
        "rules.wood.ripening",
        "rules.learning",
    },
    {"rules.jobs"},
    {"rules.outlook.inputs", "rules.outlook.state_courses"},
    {"rules.outlook.past"},
    {"rules.outlook.garden_outlook"},
    {"rules.outlook.tree_past", "rules.outlook.tree_heat"},
    {"rules.outlook.week", "rules.outlook.season_so_far", "rules.outlook.last_night"},
    {"rules.outlook.section", "rules.outlook.past_winter"},
    {"rules.backtest.reduced_heat"},
    {"rules.backtest.winters"},
    {"rules.backtest.believed_garden"},
    {"rules.backtest.plain_rules"},
    {"rules.backtest.beyond_forecast"},
    {"rules.backtest.our_plan"},
    {"rules.backtest.last_winter"},
    {"rules.backtest.comparison"},
    {"bot.messages", "bot.settings", "bot.forecasts", "bot.replies", "bot.nudges"},
    {"bot.wording", "bot.logbook"},
    {"bot.inbox", "bot.outbox", "bot.charts", "bot.upkeep.loopback"},
    {"bot.rounds"},
    {"bot.demo.weather"},
    {
        "bot.telegram_chat",
        "bot.demo.grower",
        "bot.terminal_chat",
        "bot.timetable",
        "bot.upkeep.watchdog",
        "bot.hosting.fan_out",
        "bot.sensors.posted",
    },
    {"bot.upkeep.logs", "bot.commands", "bot.demo.freeze_week"},
    {"bot.demo.year"},
    {"bot.command_line"},
    {"bot.__main__"},
]
ONE_ROOM = {
    "requests": {"bot.forecasts"},
    "telegram": {"bot.telegram_chat"},
    "httpx": {"bot.telegram_chat"},
    "apscheduler": {"bot.timetable"},
    "matplotlib": {"bot.charts"},
    "sqlalchemy": {"bot.logbook", "bot.inbox", "bot.outbox"},
    "prompt_toolkit": {"bot.terminal_chat"},
    "timezonefinder": {"bot.settings"},
    "tomlkit": {"bot.settings"},
    "procrastinate": {"bot.hosting.fan_out"},
    "rapidfuzz": {"bot.replies", "bot.settings"},
}
FORBIDDEN_IN_RULES = {"time", "random", "socket", "requests", "os", "subprocess", "sqlite3", "urllib", "http"}
CLOCKS = {"now", "today", "utcnow"}


def room(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:2])


SOURCES = [
    p
    for top in ("rules", "bot")
    for p in sorted((ROOT / top).rglob("*.py"))
    if p.stem != "__init__" or p.parent.parent != ROOT
]


def imports(path: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            names |= {f"{base}.{a.name}" for a in node.names} if base in ("rules", "bot") else {base}
    return names


def floor_of(name: str) -> int:
    found = [i for i, rooms in enumerate(FLOORS) if name in rooms]
    assert found, f"{name} stands on no floor: add it to FLOORS"
    return found[0]


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: str(p.relative_to(ROOT)))
def test_a_file_imports_only_from_lower_floors(path: Path) -> None:
    own = room(path)
    for name in imports(path):
        top = ".".join(name.split(".")[:2])
        if name.split(".")[0] in ("rules", "bot") and top != own:
            assert floor_of(top) < floor_of(own) or _same_floor_of_the_bot(top, own), f"{own} must not import {top}"


def _same_floor_of_the_bot(low: str, high: str) -> bool:
    """Files of one floor may not know each other, except the nouns both doors share."""
    return low == "bot.messages" and high.startswith("bot.")


@pytest.mark.parametrize("path", [p for p in SOURCES if room(p).startswith("rules")], ids=lambda p: p.stem)
def test_rules_touch_no_clock_chance_network_or_disk(path: Path) -> None:
    assert not {name.split(".")[0] for name in imports(path)} & FORBIDDEN_IN_RULES
    assert not {name for name in imports(path) if name.startswith("bot")}
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            called = ast.unparse(node.func)
            assert not (node.func.attr in CLOCKS and "date" in called), f"{path.name} reads the clock: {called}"
            assert node.func.attr not in {"write_text", "write_bytes"}, f"{path.name} writes to disk"
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            assert node.func.id not in {"open", "print", "input"}, f"{path.name} calls {node.func.id}"


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: str(p.relative_to(ROOT)))
def test_each_library_has_one_room(path: Path) -> None:
    for name in imports(path):
        rooms = ONE_ROOM.get(name.split(".")[0])
        assert rooms is None or room(path) in rooms, f"{room(path)} must not import {name}"


def test_the_top_level_holds_only_what_the_card_names() -> None:
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "bot", "rules", "tests", "demo_config"}
    shown = {p.name for p in ROOT.iterdir() if not p.name.startswith(".") and not p.name.endswith(".egg-info")}
    assert shown - {"build", "dist"} <= allowed


BARE_QUANTITIES = {
    "temperature",
    "wind",
    "height",
    "width",
    "depth",
    "speed",
    "gust",
    "cloud",
    "latitude",
    "longitude",
}


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: str(p.relative_to(ROOT)))
def test_a_field_that_holds_a_quantity_says_its_unit(path: Path) -> None:
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.ClassDef):
            for line in node.body:
                if isinstance(line, ast.AnnAssign) and isinstance(line.target, ast.Name):
                    annotated = ast.unparse(line.annotation)
                    if "float" in annotated or "Hours" in annotated:
                        assert line.target.id not in BARE_QUANTITIES, f"{path.name}: {node.name}.{line.target.id}"
