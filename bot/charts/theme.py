"""What all pictures share: the sheet they are drawn on, two themes, safe colours, type, and the grower's scale.

Colours are of the set Okabe and Ito proposed for colour-blind readers (from memory); no meaning rests on colour alone:
each line has its own stroke and its own row of numbers.
"""

import io
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Final, Literal

import numpy as np
import numpy.typing as npt

from bot.charts.lettering import DPI, FONT, LEAST_PT, PX_PER_PT, broken, drawable, fitted
from rules.garden.cover import CoverState

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Floats = npt.NDArray[np.float64]

WIDTH_PX: Final = 1080  # a phone's width; a messenger shrinks what is wider
HEIGHT_PX: Final = 1350
SHORT_PX: Final = 420  # where there is nothing to draw but a sentence
TITLE_PT: Final = 18.0
BODY_PT: Final = 14.5  # 40 of 1080 px: no smaller than the text of a message
SMALL_PT: Final = LEAST_PT
EDGE_PX: Final = 40


class Theme(StrEnum):
    """Pictures for a bright screen or for the eyes at night."""

    LIGHT = "light"
    DARK = "dark"


class ChartsMissing(RuntimeError):  # noqa: N818 - it reads as the sentence it carries
    """The drawing library is not installed."""


@dataclass(frozen=True, kw_only=True)
class Paint:
    """The colours of one theme."""

    ground: str
    ink: str
    faint: str
    rule: str
    night: str
    outside: str
    bare: str
    vented: str
    closed: str
    act: str
    straw: str
    soil: str


PAINTS: Final = {
    Theme.LIGHT: Paint(
        ground="#ffffff", ink="#111418", faint="#4a525c", rule="#c9ced4", night="#e6eaf2", outside="#8a929c",
        bare="#d55e00", vented="#009e73", closed="#0072b2", act="#aa3377", straw="#f3e3ad", soil="#d9c7b2",
    ),
    Theme.DARK: Paint(
        ground="#12161b", ink="#f2f4f6", faint="#aeb6bf", rule="#3a424b", night="#1e2733", outside="#8f98a3",
        bare="#e69f00", vented="#1fbf93", closed="#56b4e9", act="#e58bc0", straw="#4d4423", soil="#3f3227",
    ),
}  # fmt: skip

STATE_WORDS: Final = {CoverState.BARE: "bare", CoverState.VENTED: "open", CoverState.CLOSED: "shut"}
STROKES: Final[dict[CoverState, str]] = {CoverState.BARE: ":", CoverState.VENTED: "--", CoverState.CLOSED: "-"}
WIDTHS_PT: Final = {CoverState.BARE: 2.6, CoverState.VENTED: 2.2, CoverState.CLOSED: 2.6}


class Sheet:
    """A blank picture; places are pixels from its top left corner."""

    def __init__(self, theme: Theme, height_px: int = HEIGHT_PX) -> None:
        """A sheet of one theme.

        Raises
        ------
        ChartsMissing
            matplotlib is not installed.
        """
        try:
            from matplotlib.backends.backend_agg import FigureCanvasAgg
            from matplotlib.figure import Figure
        except ImportError as missing:
            raise ChartsMissing("pictures need: pip install 'bedstraw[charts]'") from missing
        self.paint, self.height_px = PAINTS[theme], height_px
        self.figure = Figure(figsize=(WIDTH_PX / DPI, height_px / DPI), dpi=DPI, facecolor=self.paint.ground)
        self.canvas = FigureCanvasAgg(self.figure)

    def axes(self, left_px: float, top_px: float, width_px: float, height_px: float, *, frame: bool = True) -> "Axes":
        """A plot in a place; without `frame` nothing but what is drawn."""
        low = self.height_px - top_px - height_px
        place = (left_px / WIDTH_PX, low / self.height_px, width_px / WIDTH_PX, height_px / self.height_px)
        axes = self.figure.add_axes(place, facecolor=self.paint.ground)
        axes.spines[:].set_visible(False)
        axes.tick_params(colors=self.paint.ink, labelsize=BODY_PT, labelfontfamily=FONT, length=0, pad=6)
        axes.set_axisbelow(True)
        if not frame:
            axes.set_axis_off()
        return axes

    @cached_property
    def marks(self) -> "Axes":
        """A plot over the whole sheet whose units are the sheet's pixels, for samples, boxes and sketches."""
        axes = self.axes(0, 0, WIDTH_PX, self.height_px, frame=False)
        axes.set_xlim(0, WIDTH_PX)
        axes.set_ylim(self.height_px, 0)
        return axes

    def write(
        self,
        text: str,
        left_px: float,
        middle_px: float,
        *,
        size_pt: float = BODY_PT,
        bold: bool = False,
        colour: str | None = None,
        align: Literal["left", "center", "right"] = "left",
        room_px: float | None = None,
    ) -> None:
        """One line about a height; where `room_px` is short it is set smaller, and at last cut with an ellipsis."""
        shown, size_pt = fitted(drawable(text), room_px, size_pt, bold) if room_px else (drawable(text), size_pt)
        self.figure.text(
            left_px / WIDTH_PX,
            1 - middle_px / self.height_px,
            shown,
            fontsize=size_pt,
            fontweight="bold" if bold else "normal",
            color=colour or self.paint.ink,
            ha=align,
            va="center_baseline",
            family=FONT,
            parse_math=False,
        )

    def badge(self, number: int, middle_left_px: float, middle_px: float) -> None:
        """A number in a box, as it stands at its mark in the plot."""
        self.figure.text(
            middle_left_px / WIDTH_PX,
            1 - middle_px / self.height_px,
            f"{number}",
            fontsize=SMALL_PT,
            fontweight="bold",
            color=self.paint.ground,
            ha="center",
            va="center_baseline",
            family=FONT,
            bbox={"boxstyle": "round,pad=0.25", "facecolor": self.paint.act, "edgecolor": "none"},
        )

    def flag(self, axes: "Axes", at: float, beside: float, number: int) -> None:
        """A dotted line through a plot and its number in a box above, at `beside` where two would touch."""
        axes.axvline(at, color=self.paint.act, linewidth=1.5, linestyle=(0, (1, 2)), zorder=3)
        axes.annotate(
            f"{number}",
            (beside, 1),
            xycoords=("data", "axes fraction"),
            xytext=(0, 5),
            textcoords="offset points",
            fontsize=SMALL_PT,
            fontweight="bold",
            color=self.paint.ground,
            ha="center",
            va="bottom",
            family=FONT,
            annotation_clip=False,
            bbox={"boxstyle": "round,pad=0.25", "facecolor": self.paint.act, "edgecolor": "none"},
        )

    def head(self, title: str, lines: Sequence[str]) -> float:
        """Title and the sentences below it; the height where the rest may begin."""
        room = WIDTH_PX - 2 * EDGE_PX
        self.write(title, EDGE_PX, 58, size_pt=TITLE_PT, bold=True, room_px=room)
        return self.paragraph(lines, 116)

    def paragraph(self, lines: Sequence[str], top_px: float, *, size_pt: float = BODY_PT, faint: bool = False) -> float:
        """Sentences broken to the width of the sheet; the height below them."""
        colour, step = self.paint.faint if faint else self.paint.ink, size_pt * PX_PER_PT * 1.36
        for line in (row for text in lines for row in broken(drawable(text), WIDTH_PX - 2 * EDGE_PX, size_pt)):
            self.write(line, EDGE_PX, top_px, size_pt=size_pt, colour=colour)
            top_px += step
        return top_px

    def foot(self, text: str) -> None:
        """The credit at the bottom."""
        if text:
            self.write(
                text,
                EDGE_PX,
                self.height_px - 30,
                size_pt=SMALL_PT,
                colour=self.paint.faint,
                room_px=WIDTH_PX - 2 * EDGE_PX,
            )

    def png(self) -> bytes:
        """The sheet as a PNG."""
        buffer = io.BytesIO()
        self.figure.savefig(buffer, format="png", dpi=DPI, bbox_inches=None, facecolor=self.paint.ground)
        return buffer.getvalue()

    def svg(self, salt: str) -> str:
        """The sheet as an SVG with letters as letters; `salt` keeps its inner names apart from other pictures'."""
        from matplotlib import rc_context

        buffer = io.StringIO()
        nothing = dict.fromkeys(("Creator", "Date", "Format", "Type"))
        with rc_context({"svg.fonttype": "none", "svg.hashsalt": salt}):
            self.figure.savefig(buffer, format="svg", bbox_inches=None, facecolor=self.paint.ground, metadata=nothing)
        return buffer.getvalue()


@dataclass(frozen=True, kw_only=True, eq=False)
class Picture:
    """A drawn sheet and the one line that says the same in words, to be sent as its caption."""

    sheet: Sheet
    text: str

    def __post_init__(self) -> None:
        object.__setattr__(self, "text", " ".join(self.text.split()))  # one line, whatever a name holds

    @cached_property
    def png(self) -> bytes:
        """The picture for a phone."""
        return self.sheet.png()

    def save(self, path: Path) -> Path:
        """Write the PNG; the path, for printing."""
        path.write_bytes(self.png)
        return path
