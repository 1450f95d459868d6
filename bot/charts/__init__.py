"""The pictures: each a PNG for a phone and one line of words. The drawing library loads when one is asked for."""

from bot.charts.freeze_curve import draw_freeze_curve, freeze_curve_text
from bot.charts.inline import colour_names, inline_svg
from bot.charts.rules_compared import RuleResult, draw_rules_compared, rules_compared_text
from bot.charts.season import draw_season, season_text
from bot.charts.section.parts import draw_section, section_parts, section_text
from bot.charts.sparkline import sparkline
from bot.charts.supplies import SupplyBar, draw_supplies, supplies_text
from bot.charts.theme import ChartsMissing, Picture, Theme
from bot.charts.twins import Dieback, draw_twins, twins_text
from bot.charts.week import draw_week, week_text

__all__ = [
    "ChartsMissing",
    "Dieback",
    "Picture",
    "RuleResult",
    "SupplyBar",
    "Theme",
    "colour_names",
    "draw_freeze_curve",
    "draw_rules_compared",
    "draw_season",
    "draw_section",
    "draw_supplies",
    "draw_twins",
    "draw_week",
    "freeze_curve_text",
    "inline_svg",
    "rules_compared_text",
    "season_text",
    "section_parts",
    "section_text",
    "sparkline",
    "supplies_text",
    "twins_text",
    "week_text",
]
