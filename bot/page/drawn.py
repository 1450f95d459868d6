"""A picture in its frame, or nothing where none could be drawn: the tables say all that it shows."""

from bot.charts import inline_svg
from bot.page.contents import Contents
from bot.page.markup import Html, tagged


def drawn(of: Contents, kind: str, tree: str) -> Html:
    """The picture of this kind of one tree; it says its own words to who cannot see it."""
    picture = of.pictures.get((kind, tree))
    return tagged("figure", Html(inline_svg(picture))) if picture else Html("")
