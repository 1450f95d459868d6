"""What the year's jobs are reckoned from: the last outlook, the logbook, past winters; nothing is looked at anew."""

from datetime import date, datetime, timedelta
from typing import Final

from bot.logbook import Connection, read_job_marks
from bot.settings import Garden
from rules.garden.records import Records
from rules.garden.tree import Standing
from rules.jobs import DayWeather, GardenFacts, days_of, garden_facts
from rules.outlook.garden_outlook import Outlook
from rules.outlook.inputs import OutlookInputs
from rules.site.microclimate import PRIORS, SiteOffset
from rules.weather.gaps import filled
from rules.weather.hourly import HourlyWeather
from rules.weather.timeline import joined_weather, sliced

WARM_OFFSET_COUNTED: Final = 0.5  # some freeze nights are windy, and then a wall gives nothing; assumed, no source
MARKS_READ: Final = timedelta(days=400)  # an answer is about the season it lies nearest to
WEATHER_REMEMBERED_H: Final = 32 * 24  # thirty days of rain, the first of them whole


def job_facts(
    c: Connection, garden: Garden, outlook: Outlook, inputs: OutlookInputs, records: Records, now: datetime
) -> GardenFacts:
    """The facts of one garden today; `inputs` is what the outlook stood on, `records` those of the last year."""
    return garden_facts(
        garden.site,
        outlook.trees,
        now.astimezone(garden.site.zone).date(),
        acts=outlook.acts,
        uncovered=outlook.plan.uncovered,
        records=records,
        marks=read_job_marks(c, garden.name, now - MARKS_READ),
        past=inputs.climate,
        offsets_c={tree.name: night_offset_c(tree.standing, inputs.offsets.get(tree.name)) for tree in garden.trees},
        days=_days(inputs, now),
        shed=garden.shed,
        settings=garden.jobs,
    )


def night_offset_c(standing: Standing, learned: SiteOffset | None = None) -> float:
    """How much warmer a freeze night is taken to be at a tree than in the open [°C]; a hollow's cold counts in full."""
    offset = learned or PRIORS[standing]
    return offset.mixed_c + offset.radiation_c * (WARM_OFFSET_COUNTED if offset.radiation_c > 0 else 1.0)


def _days(inputs: OutlookInputs, now: datetime) -> dict[date, DayWeather]:
    """The weather of the days ahead and of the last month."""
    known = [weather for weather in (inputs.forecast and inputs.forecast.weather, _lately(inputs.past, now)) if weather]
    if not known:
        return {}
    whole, _ = filled(joined_weather(known[0], known[-1]))  # else a day of coarse steps would be unknown
    return days_of(whole, inputs.site)


def _lately(past: HourlyWeather | None, now: datetime) -> HourlyWeather | None:
    if past is None or past.start_utc >= now:
        return None
    stop = min(past.index_of(now) + 1, past.hours)
    return sliced(past, max(0, stop - WEATHER_REMEMBERED_H), stop)
