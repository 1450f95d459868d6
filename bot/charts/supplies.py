"""What the covers need, what the shed holds and what is to buy, one bar for each thing."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from bot.charts.lettering import PX_PER_PT, broken, drawable, text_width_px
from bot.charts.theme import BODY_PT, EDGE_PX, SHORT_PX, SMALL_PT, WIDTH_PX, Picture, Sheet, Theme

ROW_PX: Final = 148
LINE_PX: Final = BODY_PT * PX_PER_PT * 1.36  # of the sentences at the head
ROOM_PX: Final = WIDTH_PX - 2 * EDGE_PX
MOST: Final = 10


@dataclass(frozen=True, kw_only=True)
class SupplyBar:
    """One thing: how much is needed, in the shed, to buy, all in `unit` ("bales", "m", ""); `one` names it singly."""

    label: str
    need: float
    have: float
    buy: float
    unit: str
    one: str = ""


def draw_supplies(bars: Sequence[SupplyBar], theme: Theme = Theme.LIGHT) -> Picture:
    """The supplies as bars: filled what there is, hatched what to buy, a tick at the need.

    Raises
    ------
    ValueError
        More than ten things, or a quantity below 0.
    ChartsMissing
        matplotlib is not installed.
    """
    if len(bars) > MOST:
        raise ValueError(f"{len(bars)} supplies do not fit a picture, at most {MOST} do")
    for bar in bars:
        if min(bar.need, bar.have, bar.buy) < 0:
            raise ValueError(
                f"{bar.label} has a quantity of {min(bar.need, bar.have, bar.buy):g}, it must be 0 or more"
            )
    sheet = Sheet(theme, height_px=SHORT_PX)
    if bars:
        sheet = Sheet(theme, height_px=_height_px(bars))
    top_px = sheet.head("Supplies", _lines(bars)) + 10
    if bars:
        _key(sheet, top_px)
    for place, bar in enumerate(bars):
        _row(sheet, bar, top_px + 62 + ROW_PX * place)
    return Picture(sheet=sheet, text=supplies_text(bars))


def _height_px(bars: Sequence[SupplyBar]) -> int:
    said = sum(1 for line in _lines(bars) for _ in broken(drawable(line), ROOM_PX, BODY_PT))
    return round(240 + LINE_PX * said) + ROW_PX * len(bars)


def supplies_text(bars: Sequence[SupplyBar]) -> str:
    """The supplies in one line of words."""
    said = "; ".join(f"{bar.label}: {_facts(bar)}" for bar in bars)
    return f"Supplies. {' '.join(_lines(bars))} {said}".strip() + ("." if said else "")


def _lines(bars: Sequence[SupplyBar]) -> list[str]:
    if not bars:
        return ["No cover needs anything."]
    wanting = [_wanting(bar) for bar in bars if bar.buy > 0]
    return [f"To buy: {', '.join(wanting)}." if wanting else "Nothing to buy: all is there."]


def _wanting(bar: SupplyBar) -> str:
    if bar.unit:
        return f"{_amount(bar.buy, bar.unit)} of {bar.label}"
    return f"{bar.buy:g} {bar.one if bar.buy == 1 and bar.one else bar.label}"


def _amount(value: float, unit: str) -> str:
    return f"{value:.3g} {unit}".rstrip()


def _facts(bar: SupplyBar) -> str:
    buy = f"buy {bar.buy:.3g}" if bar.buy > 0 else "enough"
    have = f"have {_amount(bar.have, bar.unit)}, " if bar.have > 0 else ""
    return f"need {bar.need:.3g}, {have}{buy}"


def _key(sheet: Sheet, y: float) -> None:
    marks, paint = sheet.marks, sheet.paint
    marks.fill_between([EDGE_PX, EDGE_PX + 44], y - 14, y + 14, facecolor=paint.closed, edgecolor=paint.ink)
    sheet.write("have", EDGE_PX + 58, y, size_pt=SMALL_PT)
    marks.fill_between(
        [EDGE_PX + 230, EDGE_PX + 274], y - 14, y + 14, facecolor="none", edgecolor=paint.ink, hatch="///"
    )
    sheet.write("buy", EDGE_PX + 288, y, size_pt=SMALL_PT)
    marks.plot([EDGE_PX + 430] * 2, [y - 20, y + 20], color=paint.ink, linewidth=4)
    sheet.write("need", EDGE_PX + 448, y, size_pt=SMALL_PT)


def _row(sheet: Sheet, bar: SupplyBar, top_px: float) -> None:
    marks, paint = sheet.marks, sheet.paint
    whole = max(bar.need, bar.have + bar.buy)
    per = ROOM_PX * 0.98 / whole if whole else 0.0
    low, high = top_px + 96, top_px + 56
    have, end = EDGE_PX + bar.have * per, EDGE_PX + (bar.have + bar.buy) * per
    marks.fill_between([EDGE_PX, have], low, high, facecolor=paint.closed, edgecolor=paint.ink)
    if bar.buy > 0:
        marks.fill_between([have, end], low, high, facecolor="none", edgecolor=paint.ink, hatch="///")
    marks.plot([EDGE_PX + bar.need * per] * 2, [low + 8, high - 8], color=paint.ink, linewidth=4)
    facts = _facts(bar)
    room_px = ROOM_PX - text_width_px(drawable(facts), SMALL_PT) - 30
    sheet.write(bar.label, EDGE_PX, top_px + 16, bold=True, room_px=room_px)
    sheet.write(facts, WIDTH_PX - EDGE_PX, top_px + 16, size_pt=SMALL_PT, align="right", room_px=ROOM_PX * 0.62)
