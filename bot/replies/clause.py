"""One part of a reply: what it says of which trees."""

from dataclasses import dataclass, field

from bot.replies.nouns import Verb
from bot.replies.words.names import Named
from bot.replies.words.numbers import Temperature
from bot.replies.words.times import Moment
from bot.replies.words.vocabulary import DONE
from rules.garden.records import SightingKind


@dataclass(kw_only=True)
class Clause:
    """One part of a reply: what it says of which trees."""

    joined_by: str = ""
    did: str | None = None
    is_bare_verb: bool = False
    is_either_tense: bool = False  # "open", "shut", "put": told or wished
    named: list[Named] = field(default_factory=list)
    excepted: list[Named] = field(default_factory=list)
    group: str | None = None
    numbers: list[int] = field(default_factory=list)
    excepted_numbers: list[int] = field(default_factory=list)
    moment: Moment | None = None
    temperature: Temperature | None = None
    sight: SightingKind | None = None
    refusal: Verb | None = None
    is_promise: bool = False
    is_reminder: bool = False
    is_later: bool = False
    is_unsure: bool = False  # "closed porch, wall at 6": the deed before it, or a time to ask again
    is_until: bool = False
    is_inside: bool = False
    is_lowest: bool = False
    unknown: list[str] = field(default_factory=list)
    targets_before_verb: bool = False
    is_stray: bool = False  # one word we do not know, where a tree may have been meant

    @property
    def has_targets(self) -> bool:
        """Whether it says which trees."""
        return bool(self.named or self.group or self.numbers or self.excepted or self.excepted_numbers)

    @property
    def is_unsure_done(self) -> bool:
        """Whether it is a mere "ok" or "done", which a later time turns into a promise."""
        return self.did == DONE and not self.has_targets

    @property
    def has_word(self) -> bool:
        """Whether it says what is the matter with them."""
        signs = (self.did, self.temperature, self.sight, self.refusal)
        return any(sign is not None for sign in signs) or self.is_promise or self.is_reminder or self.is_later
