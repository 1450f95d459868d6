"""A curve of six lines of text, for the terminal door. It needs no drawing library."""

import math
from collections.abc import Callable, Sequence
from typing import Final

ROWS: Final = 5  # and a sixth line for what stands below
EIGHTHS: Final = " ▁▂▃▄▅▆▇█"
PLAIN: Final = " ....:::#"


def sparkline(
    values: Sequence[float],
    *,
    label: Callable[[float], str] = "{:.0f}".format,
    level: float | None = None,
    level_word: str = "",
    start: str = "",
    end: str = "",
    width: int = 60,
    plain: bool = False,
) -> str:
    """Values as bars of text: five rows and a line of words below.

    Parameters
    ----------
    values
        The series, oldest first; NaN is left blank. Longer than `width` it is thinned to the lowest value of each
        piece, so that no cold hour is lost.
    label
        How a value is written at the left edge.
    level, level_word
        A value to be marked across, as what the wood can take, and its word.
    start, end
        What stands below the first and the last value.
    width
        Columns of the curve.
    plain
        Letters every terminal knows instead of blocks.

    Raises
    ------
    ValueError
        A width below 8.

    >>> curve = sparkline([0, -4, -8, -2], width=8, level=-5, level_word="safe to", start="Thu", end="Sun", plain=True)
    >>> curve.splitlines()[3:]
    ['-5 ##-#---- safe to', '-8 ##.#', '   Thu  Sun']
    """
    if width < 8:
        raise ValueError(f"width is {width} columns, it must be at least 8")
    thinned = _thinned(values, width)
    known = [value for value in thinned if not math.isnan(value)]
    if not known:
        return "\n".join(["nothing to show", *[""] * ROWS])
    ends = [*known, level] if level is not None else known
    low, high = min(ends), max(ends)
    step = (high - low) / (ROWS - 0.5) or 1.0
    marked = None if level is None else min(ROWS - 1, int((level - low) / step))
    names = _names(low, high, level, marked, label)
    edge = max(map(len, names.values()))
    rows = []
    for row in reversed(range(ROWS)):
        cells = "".join(_cell(value, low, step, row, plain) for value in thinned).ljust(width)
        dash = "-" if plain else "┄"
        after = f" {level_word}".rstrip() if row == marked else ""
        rows.append(f"{names.get(row, ''):>{edge}} {cells.replace(' ', dash) if row == marked else cells}{after}")
    below = start + end.rjust(max(len(end) + 1, width - len(start)))
    return "\n".join(row.rstrip() for row in [*rows, f"{'':>{edge}} {below}"])


def _names(
    low: float, high: float, level: float | None, marked: int | None, label: Callable[[float], str]
) -> dict[int, str]:
    names = {ROWS - 1: label(high), 0: label(low)}
    if level is not None and marked is not None:
        names[marked] = label(level)
    return names


def _thinned(values: Sequence[float], width: int) -> list[float]:
    """At most `width` values, each the lowest of its piece."""
    if len(values) <= width:
        return list(values)
    pieces = [values[len(values) * i // width : len(values) * (i + 1) // width] for i in range(width)]
    return [min((value for value in piece if not math.isnan(value)), default=math.nan) for piece in pieces]


def _cell(value: float, low: float, step: float, row: int, plain: bool) -> str:
    """How much of one row a bar fills; the lowest value still shows a sliver."""
    if math.isnan(value):
        return " "
    filled = (value - low) / step + 0.25 - row
    eighths = min(8, max(0, round(filled * 8)))
    return (PLAIN if plain else EIGHTHS)[eighths]
