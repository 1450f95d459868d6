"""What every file of a weather service holds as `CALLS`: how it is asked, and how its answers are read."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from importlib import import_module

from bot.forecasts.asking import Transport
from bot.forecasts.kept_answers import Fetched, KeptAnswer
from bot.weather_services import SERVICES, Service
from rules.garden.tree import Site
from rules.weather.hourly import Forecast


@dataclass(frozen=True, kw_only=True)
class Calls:
    """One service: `fetch` asks it, `parse` reads the forecast in its kept answers, `place_deg` where it is for."""

    fetch: Callable[[Site, Transport, datetime, Mapping[str, KeptAnswer]], Fetched]
    parse: Callable[[Mapping[str, KeptAnswer]], Forecast]
    place_deg: Callable[[str], tuple[float, float] | None]


def calls_of(service: str) -> Calls:
    """The calls of one service, from the file that the table names.

    Raises
    ------
    ValueError
        There is no such service.
    TypeError
        Its file holds no calls.
    """
    if service not in set(Service):
        raise ValueError(f"there is no weather service '{service}'; there are {', '.join(SERVICES)}")
    file = SERVICES[Service(service)].file
    calls = import_module(f"bot.forecasts.services.{file}").CALLS
    if not isinstance(calls, Calls):
        raise TypeError(f"CALLS of bot/forecasts/services/{file}.py must be Calls, got {type(calls).__name__}")
    return calls
