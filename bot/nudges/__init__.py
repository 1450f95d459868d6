"""Which nudges are due; pure."""

from bot.nudges.ladder import nudges_due, stage_times
from bot.nudges.nouns import Ask, Nudge, NudgeState, Quiet, Refusal, Said, Stage, asks
from bot.nudges.occasional import all_well_nudge, blind_nudge

__all__ = [
    "Ask",
    "Nudge",
    "NudgeState",
    "Quiet",
    "Refusal",
    "Said",
    "Stage",
    "all_well_nudge",
    "asks",
    "blind_nudge",
    "nudges_due",
    "stage_times",
]
