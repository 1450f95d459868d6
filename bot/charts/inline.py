"""A picture as SVG for a page of text: its colours follow the page's light or dark, and it says its words itself."""

import re
from dataclasses import asdict
from html import escape
from typing import Final

from bot.charts.theme import PAINTS, Paint, Picture, Theme

_ID: Final = re.compile(r' id="([^"]*)"')
_USED: Final = re.compile(r'(?:url\(#|href="#)([^")]*)')
_SIZE: Final = re.compile(r'^<svg [^>]*?viewBox="([^"]*)"[^>]*>', re.DOTALL)


def inline_svg(picture: Picture) -> str:
    """The picture to stand inside an HTML page that sets the colours of `colour_names`."""
    drawn = picture.sheet.svg(picture.text)
    drawn = drawn[drawn.index("<svg ") :]
    drawn = re.sub(r"<metadata>.*?</metadata>|<style.*?</style>|<!--.*?-->", "", drawn, flags=re.DOTALL)
    drawn = _coloured(drawn, picture.sheet.paint)
    used = set(_USED.findall(drawn))
    drawn = _ID.sub(lambda found: found[0] if found[1] in used else "", drawn)  # names repeat from picture to picture
    words = escape(picture.text)
    return _SIZE.sub(lambda size: f'<svg role="img" aria-label="{words}" viewBox="{size[1]}">', drawn).strip()


def _coloured(drawn: str, paint: Paint) -> str:
    for name, value in asdict(paint).items():
        drawn = drawn.replace(value, f"var(--{name})")
    return drawn.replace("'DejaVu Sans'", "'DejaVu Sans', sans-serif")


def colour_names(theme: Theme) -> str:
    """The colours of a theme as CSS, such as `--ink: #111418;`."""
    return " ".join(f"--{name}: {value};" for name, value in asdict(PAINTS[theme]).items())
