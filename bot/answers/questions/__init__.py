"""What a grower may ask, one file a subject; each gives its own table of verbs, joined here."""

from collections.abc import Callable, Mapping
from typing import Final

from bot.answers.exchange import Answer, Exchange
from bot.answers.questions.ahead import AHEAD
from bot.answers.questions.behind import BEHIND
from bot.answers.questions.heat import HEAT
from bot.answers.questions.people import PEOPLE
from bot.answers.questions.ripening import RIPENING
from bot.answers.questions.small_talk import SMALL_TALK
from bot.answers.questions.winters import WINTERS
from bot.replies import Meaning, Verb

# a new subject (the season, supplies, what was learned) is a file of its own and a line here
ANSWERS: Final[Mapping[Verb, Callable[[Exchange, Meaning], Answer]]] = {
    **AHEAD,
    **BEHIND,
    **HEAT,
    **WINTERS,
    **RIPENING,
    **PEOPLE,
    **SMALL_TALK,
}
