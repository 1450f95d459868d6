"""Letters on a picture: what the font can draw, how wide a line is, where it breaks."""

import re
from collections.abc import Iterator
from functools import cache
from typing import Any, Final

import numpy as np

DPI: Final = 200
PX_PER_PT: Final = DPI / 72
FONT: Final = "DejaVu Sans"  # comes with matplotlib
LEAST_PT: Final = 13.0  # 36 of 1080 px: smaller is not read on a phone; no source
SPACES: Final = " \N{NO-BREAK SPACE}"
_MONTH: Final = "(?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)"
# blanks at which no line breaks: "8 in 10", "−10 °C", "6 Dec", "Dec 6"
TOGETHER: Final = re.compile(rf" (?=°)|(?<=\d) (?=in \d)|(?<=\d in) (?=\d)|(?<=\d) (?={_MONTH}\b)|(?<={_MONTH}) (?=\d)")


@cache
def _font(bold: bool) -> Any:
    from matplotlib.font_manager import FontProperties, findfont, get_font

    return get_font(findfont(FontProperties(family=FONT, weight="bold" if bold else "normal")))


def drawable(text: str) -> str:
    """The text without what the font cannot draw (emoji, some scripts) and without control characters.

    The words beside the picture keep the name whole; a name of which nothing is left becomes "your tree".
    """
    kept = "".join(letter for letter in text if letter in SPACES or (letter.isprintable() and _in_font(letter)))
    return " ".join(word for word in kept.split(" ") if word) or ("your tree" if text.strip() else "")


@cache
def _in_font(letter: str) -> bool:
    return bool(_font(False).get_char_index(ord(letter)))


def text_width_px(text: str, size_pt: float, bold: bool = False) -> float:
    """How wide a line of text is on the sheet [px]."""
    font = _font(bold)
    font.set_size(size_pt, DPI)
    font.set_text(text, 0.0)
    return float(font.get_width_height()[0]) / 64


def fitted(text: str, room_px: float, size_pt: float, bold: bool = False) -> tuple[str, float]:
    """The text and the size at which it fits; cut with an ellipsis where the least that a phone shows is too large."""
    least = min(size_pt, LEAST_PT)
    for size in np.linspace(size_pt, least, 6).tolist():
        if text_width_px(text, size, bold) <= room_px:
            return text, size
    while len(text) > 1 and text_width_px(text + "…", least, bold) > room_px:
        text = text[:-1].rstrip()
    return text + "…", least


def broken(text: str, room_px: float, size_pt: float) -> Iterator[str]:
    """The text in lines no wider than the room."""
    line = ""
    for word in TOGETHER.sub(SPACES[1], text).split(" "):
        longer = f"{line} {word}".strip()
        if line and text_width_px(longer, size_pt) > room_px:
            yield line
            longer = word
        line = longer
    if line:
        yield line
