"""What each of several services told of the lows to come, kept small: one word a night for each day of lead."""

import json
from collections.abc import Iterable
from datetime import date, datetime
from typing import Final
from zoneinfo import ZoneInfo

from bot.logbook import Connection, note_state, read_state
from bot.rounds.learning.recorded_weather import LOOKS_BACK
from rules.learning import ToldLow, told_lows
from rules.learning.forecast_error import LEAD_STEP_H
from rules.weather.hourly import Forecast

STATE: Final = "told lows"
LONGEST_LEAD_H: Final = 120.0  # as far as one service alone is looked back on
STEPS: Final = 2  # of half days of lead, each other one: five words a night are enough
Kept = dict[str, dict[str, list[list[float]]]]  # by service and evening: leads [h] and lows [°C]


def note_told_lows(
    c: Connection, weather_of: str, forecasts: Iterable[Forecast], zone: ZoneInfo, now: datetime
) -> None:
    """Keep the lows that these forecasts tell; what is older than two winters is let go."""
    kept = _read(c, weather_of)
    before = json.dumps(kept)
    for forecast in forecasts:
        own = kept.setdefault(forecast.service, {})
        for low in told_lows(forecast, zone):
            told = own.setdefault(low.evening.isoformat(), [])
            step = low.lead_h // LEAD_STEP_H
            known = any(lead_h // LEAD_STEP_H == step for lead_h, _ in told)
            if low.lead_h <= LONGEST_LEAD_H and step % STEPS == 0 and not known:
                told.append([round(low.lead_h, 1), round(low.told_c, 2)])
    oldest = (now - LOOKS_BACK).date().isoformat()
    kept = {name: {day: told for day, told in own.items() if day >= oldest and told} for name, own in kept.items()}
    if json.dumps(kept) != before:
        note_state(c, weather_of, STATE, json.dumps(kept))


def read_told_lows(c: Connection, weather_of: str) -> dict[str, list[ToldLow]]:
    """The lows each service told, by its name; those told first, first."""
    return {
        name: [
            ToldLow(evening=date.fromisoformat(day), lead_h=lead_h, told_c=told_c)
            for day, told in own.items()
            for lead_h, told_c in told
        ]
        for name, own in _read(c, weather_of).items()
    }


def _read(c: Connection, weather_of: str) -> Kept:
    kept: Kept = json.loads(read_state(c, weather_of, STATE) or "{}")
    return kept
