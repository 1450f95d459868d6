"""`bedstraw replay`: whole past winters replayed for this garden's trees: our plan against simpler rules."""

import csv
import sys
from collections.abc import Iterator
from pathlib import Path

from tqdm import tqdm

from bot.commands.mistakes import MistakeError
from bot.commands.opening import open_garden
from bot.settings import Garden
from bot.wording.formats import MINUS
from rules.backtest.comparison import Progress, Replay, Rule, Scored, replay
from rules.backtest.winters import winters_of
from rules.weather.daily_minima import DailyMinima
from rules.weather.minima_table import parse_daily_minima

DRAWN = tuple(rule for rule in Rule if rule is not Rule.WEATHER_FORESIGHT)  # as many as fit a phone
LEAST_WINTERS = 5  # fewer say nothing of a rule; assumed, no source
MOST_SHIFT_C = 20.0  # from the coldest orchard to the mildest; assumed, no source


def replay_winters(path: Path, winters: Path | None, seed: int, shift_c: float, picture: Path | None) -> str:
    """The table of a replay, and its picture where one is asked for.

    Raises
    ------
    MistakeError
        There are no or too few past winters, the file cannot be read, or a number makes no sense; it says which.
    """
    _refuse_odd_draws(seed, shift_c)
    garden, _ = open_garden(path)
    past = _past(garden, winters)
    trees = [(tree, garden.covers[tree.cover]) for tree in garden.trees if tree.cover and not tree.left_bare]
    if not trees:
        raise MistakeError("--winters: the garden has no covered tree to replay")
    found = _replayed(replay(trees, garden.site, past, seed=seed, shift_c=shift_c))
    return f"{table(found)}{_drawn(found, picture) if picture else ''}"


def _refuse_odd_draws(seed: int, shift_c: float) -> None:
    if seed < 0:
        raise MistakeError(f"--seed must be 0 or more, got {seed}")
    if not abs(shift_c) <= MOST_SHIFT_C:
        raise MistakeError(f"--shift must be {MINUS}{MOST_SHIFT_C:g} to {MOST_SHIFT_C:g} °C, got {shift_c:g}")


def _past(garden: Garden, winters: Path | None) -> DailyMinima:
    file = winters or garden.past_winters
    if file is None:
        raise MistakeError(
            "--winters: name a file of daily minima (date,min_c,max_c), or past_winters in the garden file"
        )
    past: DailyMinima | None = None
    try:
        past = parse_daily_minima(file.read_text(encoding="utf-8-sig"))
        whole = len(winters_of(past, garden.site).years)
    except UnicodeDecodeError as error:
        raise MistakeError(f"--winters: {file.name} is no text; it should begin with date,min_c,max_c") from error
    except (ValueError, csv.Error) as error:
        raise MistakeError(f"--winters: {file.name}: {error}{_set_aside(past)}") from error
    if whole < LEAST_WINTERS:
        few = f"{whole} whole winter{'s' if whole != 1 else ''} from September to May"
        raise MistakeError(f"--winters: {file.name} holds {few}; less than {LEAST_WINTERS} are too few to judge by")
    return past


def _set_aside(past: DailyMinima | None) -> str:
    """The days that were not believed, where they may be why no winter is whole."""
    if past is None or not past.refused:
        return ""
    first = past.refused[0]
    return f"; {len(past.refused)} days were set aside, {first.day} first: {first.why}"


def _replayed(steps: Iterator[Progress]) -> Replay:
    """Follow the replay to its end, with a bar on a terminal."""
    found: Replay | None = None
    with tqdm(file=sys.stderr, disable=not sys.stderr.isatty(), unit="night") as bar:
        for step in steps:
            bar.total = step.total
            bar.update(step.done - bar.n)
            found = step.found or found
    if found is None:
        raise MistakeError("--winters: there is no whole winter in the file")
    return found


def table(found: Replay) -> str:
    """The replay as a plain table: costs in trips, means per winter."""
    shift = f", shifted by {found.shift_c:+g} °C".replace("-", MINUS) if found.shift_c else ""
    years = f"{len(found.years)} winters, {found.years[0]} to {found.years[-1]}{shift}"
    lines = [
        f"{years}, seed {found.seed}. Means per winter.",
        "Forecasts carry the published error; the true site, cover and wood are drawn from their stated doubt.",
        "Value: 0 is the best calendar rule in hindsight, 1 is perfect foresight.",
        f"{'tree':22}{'rule':38}{'cost':>7}{'wood lost':>11}{'trips':>7}{'missed':>11}{'false':>7}{'value':>8}",
    ]
    return "\n".join([*lines, *(_row(row) for row in found.rows)]) + "\n"


def _row(row: Scored) -> str:
    value = "" if row.value is None else f"{row.value:.2f}".replace("-", MINUS)
    missed = f"{row.missed}/{row.killing}"
    numbers = f"{row.cost:7.1f}{row.lost:11.2f}{row.trips:7.1f}{missed:>11}{row.false_calls:7.1f}{value:>8}"
    return f"{row.tree[:21]:22}{row.rule:38}{numbers}"


def _drawn(found: Replay, picture: Path) -> str:
    """The rules compared over all trees, as a picture."""
    from bot.charts import RuleResult, draw_rules_compared

    means = {rule: _over_trees([row for row in found.rows if row.rule == rule]) for rule in DRAWN}
    best = max(means[Rule.FORESIGHT][0], 1e-9)
    drawn = draw_rules_compared(
        [
            RuleResult(name=rule, cost_multiple=cost / best, trips=trips, wood_lost=lost, ours=rule is Rule.PLAN)
            for rule, (cost, trips, lost) in means.items()
        ],
        winters=len(found.years),
    )
    return f"{drawn.save(picture)}\n{drawn.text}\n"


def _over_trees(rows: list[Scored]) -> tuple[float, float, float]:
    count = max(1, len(rows))
    return (
        sum(row.cost for row in rows) / count,
        sum(row.trips for row in rows) / count,
        sum(row.lost for row in rows) / count,
    )
