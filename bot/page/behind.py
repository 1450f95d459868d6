"""The parts of the page that look at what is and was: the season, covers cut open, what readings taught."""

from bot.charts import section_parts
from bot.page.contents import Contents, SeasonOfTree
from bot.page.drawn import drawn
from bot.page.markup import Html, joined, listed, paragraph, part, table, tagged, text
from bot.wording.formats import sentence
from rules.outlook.views.section import CoverSection


def season(of: Contents) -> Html:
    """Each tree's season: the cold it felt, what was told of it, its picture."""
    rows = [[one.tree, sentence(one.known)] for one in of.seasons]
    shown = table("The season, tree by tree", ("Tree", "So far"), rows)
    return part("season", "The season", [shown, *(_tree(one, of) for one in of.seasons)])


def _tree(one: SeasonOfTree, of: Contents) -> Html:
    shown = [drawn(of, "season", one.tree), listed(one.told)]
    return joined([tagged("h3", text(one.tree)), *shown]) if any(shown) else Html("")


def covers(of: Contents) -> Html:
    """Each cover that stands, cut open at its coldest hour ahead."""
    if not of.sections:
        return part("covers", "Covers cut open", [paragraph("No cover here can be cut open this week.")])
    return part("covers", "Covers cut open", [_cover(one, of) for one in of.sections])


def _cover(section: CoverSection, of: Contents) -> Html:
    when = f"{of.style.day(section.at_utc, of.outlook.now)}, {of.style.clock(section.at_utc)}"
    rows = [[one.name, one.number] for one in section_parts(section, of.style)]
    shown = table(f"{section.tree}: its parts at the coldest hour, {when}", ("Part", "Temperature"), rows)
    return joined([tagged("h3", text(section.tree)), drawn(of, "section", section.tree), shown])


def learned(of: Contents) -> Html:
    """What readings taught, and what more of them would be worth."""
    return part("learned", "What your readings taught", [listed(of.learned)])
