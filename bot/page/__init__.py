"""The page to look at: one HTML file with all of a garden, which fetches nothing and runs nothing."""

from bot.page.contents import Contents, SeasonOfTree
from bot.page.document import page_of_garden

__all__ = ["Contents", "SeasonOfTree", "page_of_garden"]
