"""What a page is made of."""

from collections.abc import Sequence
from dataclasses import dataclass

from bot.charts import Picture
from bot.wording.formats import Style
from rules.jobs import Job
from rules.outlook.garden_outlook import Outlook
from rules.outlook.views.section import CoverSection


@dataclass(frozen=True, kw_only=True)
class SeasonOfTree:
    """One tree's season: what is known of it in half a sentence, and what was told, newest last."""

    tree: str
    known: str
    told: Sequence[str] = ()


@dataclass(frozen=True, kw_only=True, eq=False)
class Contents:
    """One garden at one moment.

    Parameters
    ----------
    garden
        Its name.
    outlook
        Tonight and the week; its moment is the page's.
    jobs
        What is due in the weeks ahead.
    cautions
        What to beware of with them.
    seasons
        One for each tree.
    sections
        The covers that can be cut open.
    learned
        What readings taught, a sentence each.
    pictures
        By kind (week, season, section) and tree; fewer where nothing can draw.
    """

    garden: str
    outlook: Outlook
    jobs: Sequence[Job]
    cautions: Sequence[str]
    seasons: Sequence[SeasonOfTree]
    sections: Sequence[CoverSection]
    learned: Sequence[str]
    pictures: dict[tuple[str, str], Picture]
    style: Style
