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
from rules.backtest.comparison import Progress, Replay, Rule, Scored, Verdict, replay
from rules.backtest.winters import winters_of
from rules.weather.daily_minima import DailyMinima
from rules.weather.minima_table import parse_daily_minima

VERDICTS = {
    Verdict.HELPS: "a cover saves {saved:.0%} of its wood in a mean winter, for {trips:.1f} trips by our plan",
    Verdict.NOT_NEEDED: "no cover is needed here: left bare it loses {bare:.0%} of its wood in a mean winter",
    Verdict.CANNOT_SAVE: "no cover like this pays here: {known:.0%} of its wood goes in a mean winter even for one who "
    "knows the weather; a thicker cover, a pot indoors or a hardier kind would help",
}
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
    """The replay as a plain table: costs in trips, means per winter; and what it says of each tree."""
    shift = f", shifted by {found.shift_c:+g} °C".replace("-", MINUS) if found.shift_c else ""
    years = f"{len(found.years)} winters, {found.years[0]} to {found.years[-1]}{shift}"
    lines = [
        f"{years}, seed {found.seed}. Means per winter.",
        "Forecasts carry the published error; the true site, cover, wood and its pace are drawn from their doubt.",
        "Over: trips more than one pays who knows the weather, with the error of that mean. Met open: of the nights",
        "that kill under an open top and not under a shut one. Saved: of the wood one saves who knows the weather.",
        f"{'tree':22}{'rule':50}{'cost':>7}{'wood lost':>11}{'trips':>7}{'over':>7}{'±':>5}"
        f"{'met open':>10}{'saved':>8}",
    ]
    said = [_verdict(name, verdict, found) for name, verdict in found.verdicts.items()]
    return "\n".join([*lines, *(_row(row) for row in found.rows), *said]) + "\n"


def _row(row: Scored) -> str:
    saved = "" if row.savable is None else f"{row.savable:.0%}".replace("-", MINUS)
    over = f"{row.regret:.1f}".replace("-", MINUS)
    met = f"{row.missed}/{row.killing}"
    numbers = f"{row.cost:7.1f}{row.lost:11.2f}{row.trips:7.1f}{over:>7}{row.regret_se:5.1f}{met:>10}{saved:>8}"
    return f"{row.tree[:21]:22}{row.rule:50}{numbers}"


def _verdict(name: str, verdict: Verdict, found: Replay) -> str:
    """What the winters say of covering one tree, in plain words."""
    ours, bare, known = (next(row for row in found.rows if row.tree == name and row.rule is rule)
                         for rule in (Rule.PLAN, Rule.NEVER, Rule.KNOWN))  # fmt: skip
    words = VERDICTS[verdict].format(saved=bare.lost - ours.lost, trips=ours.trips, bare=bare.lost, known=known.lost)
    return f"{name}: {words}."


def _drawn(found: Replay, picture: Path) -> str:
    """The rules compared over all trees, as a picture."""
    from bot.charts import RuleResult, draw_rules_compared

    means = {rule: _over_trees([row for row in found.rows if row.rule == rule]) for rule in Rule}
    best = max(means[Rule.KNOWN][0], 1e-9)
    drawn = draw_rules_compared(
        [
            RuleResult(name=rule, cost_multiple=cost / best, trips=trips, wood_lost=lost, ours=rule is Rule.PLAN)
            for rule, (cost, trips, lost) in means.items()
        ],
        winters=len(found.years),
    )
    said = " ".join(_verdict(name, verdict, found) for name, verdict in found.verdicts.items())
    return f"{drawn.save(picture)}\n{drawn.text} {said}\n"


def _over_trees(rows: list[Scored]) -> tuple[float, float, float]:
    count = max(1, len(rows))
    return (
        sum(row.cost for row in rows) / count,
        sum(row.trips for row in rows) / count,
        sum(row.lost for row in rows) / count,
    )
