"""What a grower may ask, one file a subject; each gives its own table of verbs, joined here."""

from collections.abc import Callable, Mapping
from typing import Final

from bot.replies import Meaning, Verb
from bot.rounds.desk import Answer, Desk
from bot.rounds.questions.ahead import AHEAD
from bot.rounds.questions.behind import BEHIND
from bot.rounds.questions.heat import HEAT
from bot.rounds.questions.people import PEOPLE
from bot.rounds.questions.ripening import RIPENING
from bot.rounds.questions.small_talk import SMALL_TALK
from bot.rounds.questions.winters import WINTERS

# a new subject (the season, supplies, what was learned) is a file of its own and a line here
ANSWERS: Final[Mapping[Verb, Callable[[Desk, Meaning], Answer]]] = {
    **AHEAD,
    **BEHIND,
    **HEAT,
    **WINTERS,
    **RIPENING,
    **PEOPLE,
    **SMALL_TALK,
}
