"""The columns of the records table in which a yes or no to what a tree is held to be safe to is kept."""

import json
from datetime import datetime
from typing import Final

from rules.garden.tree import Phase
from rules.learning import LearnedHardiness, ThresholdAnswer

YES: Final = "yes"
NO: Final = "no"


def threshold_columns(word: ThresholdAnswer) -> dict[str, object]:
    """The columns of one answer: yes or no, and the numbers it was given to."""
    learned = word.learned
    numbers = {
        "phase": learned.phase.value,
        "shift_c": learned.shift_c,
        "sd_c": learned.sd_c,
        "prior_sd_c": learned.prior_sd_c,
        "outcomes": learned.outcomes,
    }
    return {"what": YES if word.is_accepted else NO, "text": json.dumps(numbers)}


def threshold_of(tree: str, at_utc: datetime, what: str, text: str) -> ThresholdAnswer:
    """The answer kept in these columns."""
    numbers = json.loads(text)
    learned = LearnedHardiness(**{**numbers, "phase": Phase(numbers["phase"])}, odd=(), other_phase=0)
    return ThresholdAnswer(tree=tree, at_utc=at_utc, learned=learned, is_accepted=what == YES)
