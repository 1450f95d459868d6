"""`bedstraw outlook`: tonight and the week, tree by tree, with the numbers of each stage."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from bot.commands.mistakes import MistakeError
from bot.commands.opening import logbook_place, open_garden, transport_of
from bot.forecasts import Gathered, fetch_first_good, fetch_together, parse_saved
from bot.logbook import open_logbook
from bot.rounds import RoundInputs, gather, inputs_of, past_of_files, style_of
from bot.settings import Garden, Secrets
from bot.wording.document import outlook_document
from bot.wording.doubts import doubts_in_words
from bot.wording.table import outlook_table
from rules.garden.doubt import Doubt, DoubtKind
from rules.garden.records import Records
from rules.learning import blended
from rules.outlook.garden_outlook import outlook
from rules.weather.hourly import Forecast


def look(path: Path, forecast_file: Path | None, moment: str | None, *, as_json: bool) -> str:
    """The outlook as a table or as a JSON document.

    Reads the logbook's records and past weather where there is a logbook, and writes nothing.

    Raises
    ------
    MistakeError
        `moment` is no time; the sentence says how to write one.
    """
    garden, secrets = open_garden(path)
    now = parse_moment(moment, garden)
    round_inputs = read_inputs(garden, secrets, forecast_file, now)
    seen = outlook(inputs_of(garden, round_inputs), now)
    if as_json:
        return outlook_document(seen).model_dump_json(indent=1)
    return outlook_table(seen, style_of(garden), doubts_in_words(seen.doubts, style_of(garden)))


def parse_moment(text: str | None, garden: Garden) -> datetime:
    """A time as typed, on the garden's clock unless it says otherwise; now where nothing is typed."""
    if text is None:
        return datetime.now(UTC)
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise MistakeError(f'--now must be a time like 2026-01-14T16:00, got "{text}"') from None
    return moment if moment.tzinfo else moment.replace(tzinfo=garden.site.zone)


def read_inputs(garden: Garden, secrets: Secrets, forecast_file: Path | None, now: datetime) -> RoundInputs:
    """What an outlook rests on, from the logbook where there is one, the garden file and the services."""
    kept = _from_logbook(garden, secrets, now)
    past = kept.past if kept.past is not None else past_of_files(garden, now)
    found = _forecast(garden, secrets, forecast_file, now)
    if found.forecast is None:
        return replace(kept, forecast=None, past=past, doubts=found.doubts)
    blend = blended((found.forecast, *found.beside), kept.services, garden.site, now)
    told = (*found.doubts, *blend.doubts)
    return replace(kept, forecast=blend.forecast, service=blend.error, shares=blend.shares, past=past, doubts=told)


def _from_logbook(garden: Garden, secrets: Secrets, now: datetime) -> RoundInputs:
    place = logbook_place(secrets)
    if isinstance(place, Path) and not place.exists():
        return RoundInputs(forecast=None, forecast_id=None, past=None, records=Records(), doubts=())
    logbook = open_logbook(place)
    try:
        with logbook.begin() as c:
            return gather(c, garden, now)
    finally:
        logbook.close()


def _forecast(garden: Garden, secrets: Secrets, forecast_file: Path | None, now: datetime) -> Gathered:
    if forecast_file is None:
        fetch = fetch_together if garden.services_together else fetch_first_good
        return fetch(garden.services, garden.site, transport_of(garden, secrets), now, {})
    return _judged(parse_saved(forecast_file.read_text(encoding="utf-8"), now), now)


def _judged(forecast: Forecast, now: datetime) -> Gathered:
    age = now - forecast.known_since_utc
    stale = Doubt(kind=DoubtKind.STALE_FORECAST, subject=forecast.service, amount=age / timedelta(hours=1))
    return Gathered(forecast=forecast, doubts=(stale,) if age > timedelta(hours=12) else ())
