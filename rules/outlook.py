"""The front door: one garden, its weather, its past -> margins, plan and doubts for every tree and night."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from rules.doubt import Doubt
from rules.margins import TreeMargins
from rules.plan import Act


@dataclass(frozen=True, kw_only=True)
class Outlook:
    """All that bedstraw knows of one garden at one moment."""

    now: datetime
    service: str
    issued_utc: datetime | None
    fetched_utc: datetime | None
    credit: str
    trees: Sequence[TreeMargins]
    acts: Sequence[Act]
    doubts: tuple[Doubt, ...]

    def tree(self, name: str) -> TreeMargins:
        """The margins of the tree called `name`.

        Raises
        ------
        KeyError
            If the garden has no such tree.
        """
        for found in self.trees:
            if found.tree.name == name:
                return found
        raise KeyError(name)

    def chance_if_nothing_is_done(self) -> dict[tuple[str, date], float]:
        """Chance of harm by (tree, evening), every cover left as it stands."""
        return {
            (one.tree.name, night.evening): night.felt[one.state_assumed].chance
            for one in self.trees
            for night in one.nights
        }
