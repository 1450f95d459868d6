"""The sentences of the nudges: `asks` what asks for a deed, `news` what asks for nothing."""

from bot.nudges import DueNudge, Stage
from bot.wording.dead_wood import lost_news
from bot.wording.formats import Style
from bot.wording.nudges.asks import ask_text
from bot.wording.nudges.news import all_well, blind, stand_down
from rules.outlook.garden_outlook import Outlook


def nudge_text(nudge: DueNudge, outlook: Outlook, style: Style) -> str:
    """The whole text of one nudge, without its caution."""
    if nudge.stage == Stage.STAND_DOWN:
        return stand_down(nudge, outlook, style)
    if nudge.stage == Stage.BLIND:
        return blind(outlook, style)
    if nudge.stage == Stage.LOST:
        return lost_news(nudge.trees, outlook, style)
    if nudge.stage == Stage.ALL_WELL:
        return all_well(outlook, style)
    if nudge.ask is None:
        raise ValueError(f"a nudge of stage {nudge.stage} needs an ask")
    return ask_text(nudge.stage, nudge.ask, outlook, style)
