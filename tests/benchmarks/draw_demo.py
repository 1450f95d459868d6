"""Every picture of the demo garden in both themes, saved and timed: run by hand and look at them.

nice python -m tests.benchmarks.draw_demo some_folder
"""

import argparse
import time
from collections.abc import Callable
from pathlib import Path

from bot.charts import (
    Picture,
    RuleResult,
    SupplyBar,
    Theme,
    draw_freeze_curve,
    draw_rules_compared,
    draw_season,
    draw_section,
    draw_supplies,
    draw_twins,
    draw_week,
)
from bot.wording.formats import Style
from rules.garden.cover import CoverState
from rules.outlook.views.season_so_far import season_so_far
from rules.outlook.views.section import cover_section
from rules.outlook.views.week import week_ahead
from rules.weather.freeze_dates import freeze_law
from rules.weather.freeze_seasons import WhichFreeze
from tests.bot.charts.test_charts import CELSIUS, FAHRENHEIT, NOW, inputs, seen
from tests.high_plains import high_plains

GOAL_S = 1.0
INVENTED_RESULTS = [
    RuleResult(name="bedstraw", cost_multiple=1.3, trips=14, wood_lost=0.03, ours=True),
    RuleResult(name="wrap in November, open in April", cost_multiple=2.1, trips=4, wood_lost=0.09),
    RuleResult(name="never cover", cost_multiple=6.4, trips=0, wood_lost=0.81),
]
INVENTED_SUPPLIES = [
    SupplyBar(label="straw", need=7, have=3, buy=4, unit="bales"),
    SupplyBar(label="white film", need=12.5, have=20, buy=0, unit="m"),
    SupplyBar(label="moving blankets", need=4, have=0, buy=4, unit=""),
]


def pictures(style: Style, theme: Theme) -> dict[str, Callable[[], Picture]]:
    """What to draw, by the name of its file; the data are made beforehand so that only drawing is timed."""
    week, season = week_ahead(inputs(), seen(), "Bench fig"), season_so_far(inputs(), "Bench fig", NOW)
    bare, section = season_so_far(inputs(), "Trial pomegranate", NOW), cover_section(inputs(), seen(), "Bench fig")
    vented = cover_section(inputs(), seen(), "Bench fig", CoverState.VENTED)
    laws = [freeze_law(high_plains(), at_c, WhichFreeze.LAST_IN_SPRING, 40.4)[0] for at_c in (0.0, -2.0, -4.0)]
    return {
        "week": lambda: draw_week(week, style, theme),
        "season": lambda: draw_season(season, style, theme),
        "freeze_curve": lambda: draw_freeze_curve([law for law in laws if law], 2026, style, theme),
        "rules_compared": lambda: draw_rules_compared(INVENTED_RESULTS, theme, winters=37),
        "section_closed": lambda: draw_section(section, style, NOW, theme),
        "section_vented": lambda: draw_section(vented, style, NOW, theme),
        "supplies": lambda: draw_supplies(INVENTED_SUPPLIES, theme),
        "twins": lambda: draw_twins(season, bare, style, theme),
    }


def save_pictures_of_demo(folder: Path) -> None:
    """Draw, save, and print the seconds and the words of each."""
    folder.mkdir(parents=True, exist_ok=True)
    for style, theme in ((CELSIUS, Theme.LIGHT), (FAHRENHEIT, Theme.DARK)):
        for name, draw in pictures(style, theme).items():
            start, cpu = time.perf_counter(), time.process_time()
            picture = draw()
            seconds, cpu_s = time.perf_counter() - start, time.process_time() - cpu
            path = picture.save(folder / f"{name}_{theme}.png")
            late = "" if seconds <= GOAL_S else "TOO SLOW  "
            print(f"{seconds:.2f} s ({cpu_s:.2f} s of work)  {late}{path}\n        {picture.text}")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    save_pictures_of_demo(parser.parse_args().folder)
