"""Words for what a piece of a reply tells, beside the names of the grammar's lines."""

from typing import Final

from bot.replies.grammar.recogniser import Kept

MAYBE: Final = "?"  # behind what is told: it was told so that it must be asked
ASK: Final = "did" + MAYBE
TALK: Final = "talk"  # none of our business
PUT_OFF: Final = ("cannot", "later", "plan", "not_done")
SEEN: Final = ["damage", "swelling", "leafed", "dropped", "yellow", "frozen_green"]
RECORDED: Final = ["did", "damage", "stock", "bought", "moved", "reading", "job", "away"]
Told = tuple[str, list[Kept]]  # what it tells, and what of its words is kept
