"""The page as a whole: its head, its parts in their order, its looks."""

from pathlib import Path
from typing import Final

from bot.charts import Theme, colour_names
from bot.page.ahead import jobs, tonight, week
from bot.page.behind import covers, learned, season
from bot.page.contents import Contents
from bot.page.markup import joined, paragraph, tagged, text

PARTS: Final = (
    ("tonight", "Tonight", tonight),
    ("week", "Week", week),
    ("jobs", "Jobs", jobs),
    ("season", "Season", season),
    ("covers", "Covers", covers),
    ("learned", "Learned", learned),
)
LOOKS: Final = (Path(__file__).parent / "page.css").read_text(encoding="utf-8")
NO_PICTURES: Final = "For the pictures too, install the drawing library where bedstraw runs: pip install '.[charts]'."
SOME_PICTURES: Final = "Pictures are of the trees tended next. 'bedstraw page', where I run, draws all of them."
# The page may not load anything at all, whatever somebody called a tree.
NOTHING_LOADS: Final = "default-src 'none'; style-src 'unsafe-inline'"


def page_of_garden(of: Contents) -> str:
    """One HTML file that needs no other."""
    title = f"{of.garden}, {_moment(of)}"
    ways = tagged("nav", joined(tagged("a", text(name), href=f"#{key}") for key, name, _ in PARTS), aria_label="Parts")
    head = tagged("header", joined([tagged("h1", text(of.garden)), paragraph(f"As I see it on {_moment(of)}."), ways]))
    rest = paragraph(_of_pictures(of))
    body = joined([head, tagged("main", joined(make(of) for _, _, make in PARTS)), tagged("footer", rest)])
    return f"{_HEAD.format(title=text(title), looks=_looks(), policy=NOTHING_LOADS)}{body}\n</body>\n</html>\n"


_HEAD: Final = """<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{policy}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>{title}</title>
<style>
{looks}
</style>
</head>
<body>
"""


def _of_pictures(of: Contents) -> str:
    """Which trees have none, and how to have them; nothing where all have."""
    if not of.pictures:
        return NO_PICTURES
    drawn = {tree for _, tree in of.pictures}
    return "" if {one.tree for one in of.seasons} <= drawn else SOME_PICTURES


def _moment(of: Contents) -> str:
    local = of.outlook.now.astimezone(of.style.zone)
    return f"{local:%A} {of.style.short_date(local)} {local:%Y}, {of.style.clock(of.outlook.now)}"


def _looks() -> str:
    dark = f"@media (prefers-color-scheme: dark) {{ :root {{ {colour_names(Theme.DARK)} }} }}"
    return f":root {{ {colour_names(Theme.LIGHT)} }}\n{dark}\n{LOOKS}"
