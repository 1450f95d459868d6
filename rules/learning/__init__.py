"""Readings and outcomes -> better offsets, forecasts, covers and thresholds.

Each learner is a pure function of the records, with a prior it gives back untouched when there is nothing to learn
from: to drop a record is to have never had it. None believes a single record beyond a bound.
"""

from rules.learning.blending import Blend, LearnedServices, blended, learn_services, weights_of
from rules.learning.cover_gain import ColdestInside, LearnedCover, coldest_inside, learn_cover, unread_cover
from rules.learning.cover_moves import UNKNOWNS, CoverMoves, cover_moves
from rules.learning.forecast_error import (
    ForecastMiss,
    LearnedForecast,
    ToldLow,
    field_minima,
    forecast_misses,
    learn_forecast,
    minima_by_readings,
    misses_of,
    observed_minima,
    told_lows,
)
from rules.learning.garden import (
    Forgotten,
    LearnedTree,
    ThresholdAnswer,
    accepted_of,
    forgotten_since,
    remembered,
)
from rules.learning.pairs import Pair, SetAside, Sky, Why, counted, lows_of
from rules.learning.review import (
    NightLookedBackOn,
    Proposal,
    SeasonReview,
    TreeSeason,
    WouldHave,
    proposed,
    season_review,
    shifted,
    trips,
)
from rules.learning.site_offset import LearnedOffset, learn_site, learned_offsets, read_inside
from rules.learning.tree_hardiness import LearnedHardiness, Outcome, learn_hardiness
from rules.learning.twins import TwinVerdict, compare_twins
from rules.learning.worth import Worth, worth_at_tree, worth_inside

__all__ = [
    "UNKNOWNS",
    "Blend",
    "ColdestInside",
    "CoverMoves",
    "ForecastMiss",
    "Forgotten",
    "LearnedCover",
    "LearnedForecast",
    "LearnedHardiness",
    "LearnedOffset",
    "LearnedServices",
    "LearnedTree",
    "NightLookedBackOn",
    "Outcome",
    "Pair",
    "Proposal",
    "SeasonReview",
    "SetAside",
    "Sky",
    "ThresholdAnswer",
    "ToldLow",
    "TreeSeason",
    "TwinVerdict",
    "Why",
    "Worth",
    "WouldHave",
    "accepted_of",
    "blended",
    "coldest_inside",
    "compare_twins",
    "counted",
    "cover_moves",
    "field_minima",
    "forecast_misses",
    "forgotten_since",
    "learn_cover",
    "learn_forecast",
    "learn_hardiness",
    "learn_services",
    "learn_site",
    "learned_offsets",
    "lows_of",
    "minima_by_readings",
    "misses_of",
    "observed_minima",
    "proposed",
    "read_inside",
    "remembered",
    "season_review",
    "shifted",
    "told_lows",
    "trips",
    "unread_cover",
    "weights_of",
    "worth_at_tree",
    "worth_inside",
]
