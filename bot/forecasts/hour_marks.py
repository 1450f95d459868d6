"""From a service's layers in its own units to hourly weather in ours, with what had to be refused."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import lru_cache
from typing import Final

import numpy as np

from bot.forecasts.kept_answers import WeatherServiceError, one_line
from rules.garden.doubt import Doubt, DoubtKind
from rules.garden.tree import Site
from rules.garden.units import ABSOLUTE_ZERO_C, CM_PER_INCH, M_S_PER_KM_H, M_S_PER_KNOT, M_S_PER_MPH
from rules.weather.hourly import BELIEVABLE, HourlyWeather, Hours, screened

HOUR: Final = timedelta(hours=1)
LONGEST_SERIES_H: Final = 400 * 24  # a winter of saved hours fits; a service's slip of a century does not
OTHER_PLACE_DEG: Final = 0.5  # the coarsest grid we ask for is 0.25 degrees, so an honest cell lies nearer

_PLAIN = (1.0, 0.0)
_TO_C = {
    **dict.fromkeys(("degC", "°C", "celsius"), _PLAIN),
    **dict.fromkeys(("degF", "°F", "fahrenheit"), (1 / 1.8, -32 / 1.8)),
    **dict.fromkeys(("K", "kelvin"), (1.0, ABSOLUTE_ZERO_C)),
}
_TO_M_S = {
    **dict.fromkeys(("m_s-1", "m/s"), _PLAIN),
    **dict.fromkeys(("km_h-1", "km/h"), (M_S_PER_KM_H, 0.0)),
    "mp/h": (M_S_PER_MPH, 0.0),
    "kn": (M_S_PER_KNOT, 0.0),
}
# Ours = foreign x scale + shift, by field and by the unit as the services spell it.
UNITS: Final[dict[str, dict[str, tuple[float, float]]]] = {
    "air_c": _TO_C,
    "dew_point_c": _TO_C,
    "wind_m_s": _TO_M_S,
    "gust_m_s": _TO_M_S,
    "cloud_fraction": {"1": _PLAIN, "percent": (0.01, 0.0), "%": (0.01, 0.0)},
    "sun_w_m2": {"W/m²": _PLAIN},
    "precipitation_mm": {"mm": _PLAIN, "kg/m²": _PLAIN, "inch": (10 * CM_PER_INCH, 0.0)},
    "new_snow_m": {"m": _PLAIN, "cm": (0.01, 0.0), "mm": (0.001, 0.0), "inch": (CM_PER_INCH / 100, 0.0)},
}


@dataclass(frozen=True, kw_only=True)
class Layer:
    """One quantity as a service gives it: our field, its unit, its value at UTC hour marks (None is missing)."""

    field: str
    unit: str
    values: Mapping[datetime, object]


def weather_of(layers: Iterable[Layer], service: str) -> tuple[HourlyWeather, tuple[Doubt, ...]]:
    """Hourly weather on the marks of the air's layer, and what was refused in it.

    A single value beyond belief becomes a missing hour and is counted. Where most of a layer is beyond belief (Kelvin
    called Celsius), or its unit is unknown, the whole layer is missing; for the air that is an error.
    """
    by_field = {layer.field: layer for layer in layers}
    air = by_field.get("air_c")
    if air is None or not air.values:
        raise WeatherServiceError("The answer of {title} holds no temperatures.", service=service)
    start_utc, hours = _span(air, service)
    series: dict[str, Hours] = {}
    doubts: list[Doubt] = []
    for name in BELIEVABLE:
        layer = by_field.get(name, Layer(field=name, unit="", values={}))
        series[name], refused = on_marks(layer, start_utc, hours, service)
        if refused:
            doubts.append(Doubt(kind=DoubtKind.VALUE_REFUSED, subject=name, amount=refused))
    if not np.isfinite(series["air_c"]).any():
        raise WeatherServiceError("The answer of {title} holds no temperatures.", service=service)
    return HourlyWeather(start_utc=start_utc, **series), tuple(doubts)


def shared_out(sums: Iterable[tuple[datetime, datetime, object]]) -> dict[datetime, float]:
    """What fell in each hour, at the mark that ends it, from sums over periods: evenly over the hours of each.

    A period without a value, or without length, tells nothing.

    Parameters
    ----------
    sums
        Start, end and sum of each period; periods do not overlap.
    """
    fallen: dict[datetime, float] = {}
    for start_utc, end_utc, stated in sums:
        if stated is not None and end_utc > start_utc:
            for mark, share in _shares(start_utc, end_utc):
                fallen[mark] = fallen.get(mark, 0.0) + share * number(stated)
    return fallen


def _shares(start_utc: datetime, end_utc: datetime) -> Iterator[tuple[datetime, float]]:
    """The marks that end the hours of a period, each with its hour's share of the period."""
    mark = start_utc.replace(minute=0, second=0, microsecond=0) + HOUR
    while mark - HOUR < end_utc:
        within = min(mark, end_utc) - max(mark - HOUR, start_utc)
        yield mark, within / (end_utc - start_utc)
        mark += HOUR


@lru_cache(maxsize=1)
def marks_from(start_utc: datetime, hours: int) -> tuple[datetime, ...]:
    """So many hour marks, made once for all layers of an answer."""
    return tuple(start_utc + hour * HOUR for hour in range(hours))


def on_marks(layer: Layer, start_utc: datetime, hours: int, service: str) -> tuple[Hours, int]:
    """A layer's values in our unit at `hours` marks from `start_utc`, and how many of them were refused."""
    told = map(layer.values.get, marks_from(start_utc, hours))
    stated = np.array([one if type(one) is float else number(one) for one in told])  # most are, of thousands
    factors = UNITS[layer.field].get(layer.unit)
    if factors is None:
        return _nothing(layer, stated, service, f"in '{one_line(layer.unit)}', a unit we do not know")
    ours = stated * factors[0] + factors[1]
    clean, doubts = screened({layer.field: ours})
    refused = int(sum(doubt.amount or 0 for doubt in doubts))
    if refused * 2 > (~np.isnan(ours)).sum():
        silly = ours[~np.isnan(ours) & np.isnan(clean[layer.field])]
        first = f"{silly[0]:g} {BELIEVABLE[layer.field][2]}".strip()
        return _nothing(layer, stated, service, f"like {first}, beyond belief (wrong unit, Kelvin perhaps)")
    return clean[layer.field], refused


def believed_c(stated: Iterable[object], unit: str) -> Hours:
    """Temperatures in °C; NaN where none is stated, where it is beyond belief, or where the unit is unknown."""
    scale, shift = _TO_C.get(unit, (float("nan"), 0.0))
    ours = np.array([number(value) for value in stated], dtype=np.float64) * scale + shift
    return screened({"air_c": ours})[0]["air_c"]


def _nothing(layer: Layer, stated: Hours, service: str, why: str) -> tuple[Hours, int]:
    """A whole layer refused: an error for the air, missing hours for the rest."""
    refused = int((~np.isnan(stated)).sum())
    if layer.field == "air_c" and refused:
        raise WeatherServiceError(f"{{title}} gives temperatures {why}.", service=service)
    return np.full(len(stated), np.nan), refused


def _span(air: Layer, service: str) -> tuple[datetime, int]:
    first, last = min(air.values), max(air.values)
    hours = (last - first) // HOUR + 1
    if hours > LONGEST_SERIES_H:
        raise WeatherServiceError(
            f"The answer of {{title}} spans {hours} hours, more than we believe.", service=service
        )
    off = next((t for t in air.values if t.minute or t.second or t.microsecond), None)
    if off is not None:
        raise WeatherServiceError(f"{{title}} gives a time off the hour, {off:%Y-%m-%d %H:%M} UTC.", service=service)
    return first, hours


def number(raw: object) -> float:
    """A stated value: NaN where it is null, infinite (and so refused) where it is no number."""
    if raw is None:
        return float("nan")
    if isinstance(raw, bool) or not isinstance(raw, int | float):
        return float("inf")
    try:
        return float(raw)
    except OverflowError:  # an integer of 400 digits
        return float("inf")


def refuse_other_place(place_deg: tuple[float, float] | None, site: Site, service: str) -> None:
    """Refusal of an answer about another place: more than half a degree of latitude or longitude away."""
    if place_deg is None:
        return
    north = abs(place_deg[0] - site.latitude_deg)
    east = abs((place_deg[1] - site.longitude_deg + 180) % 360 - 180)
    if not (north <= OTHER_PLACE_DEG and east <= OTHER_PLACE_DEG):
        raise WeatherServiceError(
            f"The answer of {{title}} is for {place_deg[0]:.2f}, {place_deg[1]:.2f}, not for the garden's "
            f"{site.latitude_deg:.2f}, {site.longitude_deg:.2f}.",
            service=service,
        )


def place_of(latitude: object, longitude: object) -> tuple[float, float] | None:
    """Latitude and longitude [degrees] as stated, None where they are no numbers."""
    pair = (number(latitude), number(longitude))
    return pair if np.isfinite(pair).all() else None
