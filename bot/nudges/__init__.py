"""Which nudges are due; pure."""

from bot.nudges.jobs import Announced, is_time_to_look, jobs_nudge, jobs_to_tell
from bot.nudges.ladder import SILENT_STAGES, nudges_due, stage_times
from bot.nudges.nouns import COLD_JOBS, Ask, Declined, DueNudge, NudgeState, PastNudge, Quiet, Stage, asks
from bot.nudges.occasional import (
    all_well_nudge,
    asked_for,
    at_risk_tonight,
    at_risk_unasked,
    blind_nudge,
    is_cold_ahead,
    lost_nudge,
    offer_nudge,
)
from bot.nudges.wake import wake_nudge

__all__ = [
    "COLD_JOBS",
    "SILENT_STAGES",
    "Announced",
    "Ask",
    "Declined",
    "DueNudge",
    "NudgeState",
    "PastNudge",
    "Quiet",
    "Stage",
    "all_well_nudge",
    "asked_for",
    "asks",
    "at_risk_tonight",
    "at_risk_unasked",
    "blind_nudge",
    "is_cold_ahead",
    "is_time_to_look",
    "jobs_nudge",
    "jobs_to_tell",
    "lost_nudge",
    "nudges_due",
    "offer_nudge",
    "stage_times",
    "wake_nudge",
]
