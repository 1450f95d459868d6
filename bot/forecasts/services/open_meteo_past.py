"""Open-Meteo's archive of past winters, and the height of a place above the sea.

Asked once when a garden is set up; the answer is kept. One reanalysis is pinned, because the service's own best choice
mixes models of several eras and so bends the record.
"""

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from typing import Any, Final

from bot.forecasts.asking import Question, Transport, coordinate
from bot.forecasts.fetching import fetch_answer
from bot.forecasts.hour_marks import Layer, marks_from, on_marks, refuse_other_place
from bot.forecasts.kept_answers import KeptAnswer, WeatherServiceError, document_of, inside
from bot.forecasts.services.open_meteo import HOPELESS, SERVICE, place_open_meteo, place_parameters
from rules.garden.tree import Site
from rules.weather.hourly import Hours

ARCHIVE: Final = "open-meteo/archive"
MODEL: Final = "era5_land"  # 0.1 degrees, from 1950
LATE_DAYS: Final = 7  # the reanalysis comes 5 days late; two more to be sure, no source
FIELDS: Final = ("temperature_2m_min", "temperature_2m_max", "temperature_2m_mean")
YEARS: Final = 30  # the length of a climatological normal
EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
NEVER_H: Final = 24.0 * 365 * 30  # the past does not change


@dataclass(frozen=True, kw_only=True, eq=False)
class PastDays:
    """Calendar days of past years in the garden's own zone.

    Parameters
    ----------
    dates
        The days, oldest first, without a gap.
    min_c, max_c, mean_c
        Lowest, highest and mean air at 2 m of each day [°C], shape (days,); NaN is a missing day. The lowest belongs
        to the calendar day, not to a night from noon to noon.
    """

    dates: tuple[date, ...]
    min_c: Hours
    max_c: Hours
    mean_c: Hours


def fetch_past_days(
    site: Site, transport: Transport, now: datetime, *, years: int = YEARS, last: KeptAnswer | None = None
) -> KeptAnswer:
    """The archive's daily temperatures of the last `years` years; `last` is used again as long as it is given."""
    if last is not None:
        return last
    end = now.astimezone(site.zone).date() - timedelta(days=LATE_DAYS)
    parameters = {
        **place_parameters(site),
        "start_date": date(end.year - years, 7, 1).isoformat(),
        "end_date": end.isoformat(),
        "daily": ",".join(FIELDS),
        "models": MODEL,
        "timezone": site.time_zone,
    }
    address = f"{transport.base(ARCHIVE)}/v1/archive"
    question = Question(name=ARCHIVE, address=address, parameters=parameters, keep_h=NEVER_H, hopeless=HOPELESS)
    answer = fetch_answer(question, transport, now)
    refuse_other_place(place_open_meteo(answer.body), site, SERVICE)
    parse_past_days(answer.body)
    return answer


def parse_past_days(body: str) -> PastDays:
    """The days in an archive's answer; values beyond belief are missing days."""
    document = document_of(body, SERVICE)
    dates = _dates(inside(document, "daily", "time"))
    lowest, highest, mean = (_daily(document, name, len(dates)) for name in FIELDS)
    return PastDays(dates=dates, min_c=lowest, max_c=highest, mean_c=mean)


def _dates(stated: object) -> tuple[date, ...]:
    try:
        dates = tuple(date.fromisoformat(text) for text in stated) if isinstance(stated, list) else ()
    except (TypeError, ValueError) as error:
        raise WeatherServiceError("The archive of {title} names days we cannot read.", service=SERVICE) from error
    if not dates or any(after - before != timedelta(days=1) for before, after in pairwise(dates)):
        raise WeatherServiceError("The archive of {title} does not give day after day.", service=SERVICE)
    return dates


def _daily(document: dict[str, Any], name: str, days: int) -> Hours:
    stated = inside(document, "daily", name)
    values = [None] * days if stated is None else stated
    if not isinstance(values, list) or len(values) != days:
        raise WeatherServiceError(
            f"The archive of {{title}} gives {name} for other days than it names.", service=SERVICE
        )
    unit = str(inside(document, "daily_units", name) or "°C")
    layer = Layer(field="air_c", unit=unit, values=dict(zip(marks_from(EPOCH, days), values, strict=True)))
    return on_marks(layer, EPOCH, days, SERVICE)[0]  # one mark per day: only unit and belief are looked at


def fetch_elevation_m(latitude_deg: float, longitude_deg: float, transport: Transport, now: datetime) -> float:
    """Height of the ground above the sea [m] from a 90 m terrain model (the address is from memory)."""
    question = Question(
        name=SERVICE,
        address=f"{transport.base(SERVICE)}/v1/elevation",
        parameters={"latitude": coordinate(latitude_deg), "longitude": coordinate(longitude_deg)},
        hopeless=HOPELESS,
    )
    stated = inside(document_of(fetch_answer(question, transport, now).body, SERVICE), "elevation")
    height_m = stated[0] if isinstance(stated, list) and stated else None
    if isinstance(height_m, bool) or not isinstance(height_m, int | float) or not -450 <= height_m <= 6000:
        raise WeatherServiceError("{title} does not know the height of this place.", service=SERVICE)
    return float(height_m)
