"""The grower's own file of daily minima, read from text."""

import csv
from datetime import date

from rules.garden.units import c_from_f
from rules.weather.daily_minima import DailyMinima, daily_minima


def parse_daily_minima(text: str) -> DailyMinima:
    """Daily minima from a table of text: a heading with `date`, `min_c` or `min_f`, and perhaps `max_c` or `max_f`.

    Dates as 2024-12-31, cells apart by commas, an empty cell or NA for a missing value, lines that begin with # passed
    over. The rounding is read from the digits: 28 in °F means half a degree °F either way.

    Raises
    ------
    ValueError
        A heading without these names, a date or number that cannot be read: the sentence names line and value.

    >>> parse_daily_minima("date,min_f\\n2024-01-01,14").min_c.tolist()
    [-10.0]
    """
    lines = [(i, line) for i, line in enumerate(text.lstrip("\ufeff").splitlines(), 1) if _says_something(line)]
    if not lines:
        raise ValueError("the file of daily minima is empty: line 1 should read date,min_c or date,min_f")
    rows = list(csv.reader(line for _, line in lines))
    heading = [cell.strip().lower() for cell in rows[0]]
    low_name, high_name = _column(heading, "min", lines[0][0]), _column(heading, "max", lines[0][0])
    numbered = [
        (number, dict(zip(heading, row, strict=False))) for (number, _), row in zip(lines[1:], rows[1:], strict=True)
    ]
    dates = [_date(cells.get("date", ""), number) for number, cells in numbered]
    lows = [_number(cells, low_name, number) for number, cells in numbered]
    highs = [_number(cells, high_name, number) for number, cells in numbered] if high_name else None
    half_unit_c = _half_unit_c([cells.get(low_name, "") for _, cells in numbered], low_name)
    return daily_minima(dates, lows, highs, half_unit_c=half_unit_c)


def _says_something(line: str) -> bool:
    return bool(line.strip()) and not line.lstrip().startswith("#")


def _column(heading: list[str], which: str, line: int) -> str:
    """Name of the column of minima or maxima; empty where there are no maxima."""
    found = [name for name in heading if name in (f"{which}_c", f"{which}_f")]
    if "date" not in heading or len(found) > 1 or (which == "min" and not found):
        raise ValueError(f"line {line}: the heading is {','.join(heading)!r}, it needs date and one of min_c or min_f")
    return found[0] if found else ""


def _date(cell: str, line: int) -> date:
    try:
        return date.fromisoformat(cell.strip())
    except ValueError:
        raise ValueError(f"line {line}: {cell.strip()!r} is not a date like 2024-12-31") from None


def _number(cells: dict[str, str], name: str, line: int) -> float:
    cell = cells.get(name, "").strip()
    if cell.upper() in ("", "NA", "NAN"):
        return float("nan")
    try:
        value = float(cell)
    except ValueError:
        raise ValueError(f"line {line}: {name} {cell!r} is not a number") from None
    return c_from_f(value) if name.endswith("_f") else value


def _half_unit_c(cells: list[str], name: str) -> float:
    digits = max((len(cell.strip().partition(".")[2]) for cell in cells), default=0)
    return 0.5 * 10.0**-digits / (1.8 if name.endswith("_f") else 1.0)
