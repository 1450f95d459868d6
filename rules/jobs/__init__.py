"""The year's rulebook: one small rule a job, from tapering the feed to reviewing the winter."""

from rules.jobs.cautions import cautions_of
from rules.jobs.due import RULES, jobs_at, jobs_by_day, jobs_due, jobs_to_announce, jobs_with_wrap
from rules.jobs.facts import Facts, GardenFacts, GardenYear, TreeFacts
from rules.jobs.gathering import garden_facts
from rules.jobs.nouns import (
    Basis,
    Caution,
    Job,
    JobKind,
    JobMark,
    JobReason,
    JobSettings,
    MarkState,
    Window,
    merged,
)
from rules.jobs.rule import GardenRule, JobRule, TreeRule
from rules.jobs.year import JobYear
from rules.weather.local_days import DayWeather, days_of

__all__ = [
    "RULES",
    "Basis",
    "Caution",
    "DayWeather",
    "Facts",
    "GardenFacts",
    "GardenRule",
    "GardenYear",
    "Job",
    "JobKind",
    "JobMark",
    "JobReason",
    "JobRule",
    "JobSettings",
    "JobYear",
    "MarkState",
    "TreeFacts",
    "TreeRule",
    "Window",
    "cautions_of",
    "days_of",
    "garden_facts",
    "jobs_at",
    "jobs_by_day",
    "jobs_due",
    "jobs_to_announce",
    "jobs_with_wrap",
    "merged",
]
