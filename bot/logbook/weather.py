"""The weather as it was told to us: forecasts, raw answers that may be used again, and the hours already past."""

import hashlib
import math
import zlib
from collections.abc import Collection, Sequence
from dataclasses import dataclass, fields
from datetime import UTC, date, datetime, time, timedelta
from typing import Any, Final
from weakref import WeakValueDictionary

import numpy as np
import numpy.typing as npt
import sqlalchemy as sa

from bot.logbook.database.tables import forecasts, insert_into, kept_answers, past_days
from rules.weather.hourly import FALLEN, HourlyWeather

# In the order in which a row packs them: new ones go to the end, older rows end before them.
SERIES = ("air_c", "dew_point_c", "wind_m_s", "gust_m_s", "cloud_fraction", "sun_w_m2", *FALLEN)
HOURS = 24
STAMPED_EVERY_S = 86400.0  # how old the mark of an hour's telling may be; it only ranks tellings of one hour. Assumed
Packed = npt.NDArray[np.float64]  # (SERIES and the time each hour was fetched, hours of one UTC day)


@dataclass(frozen=True, kw_only=True)
class KeptForecast:
    """One forecast as it was used; `body` is the JSON it was noted with."""

    forecast_id: int
    garden: str
    service: str
    issued_utc: datetime | None
    fetched_utc: datetime
    body: str


@dataclass(frozen=True, kw_only=True)
class AnswerRow:
    """One raw answer of a weather service, with what is needed to ask again politely; named as bot/forecasts does."""

    service: str
    body: str
    fetched_utc: datetime
    last_modified: str = ""
    expires_utc: datetime | None = None
    etag: str = ""
    address: str = ""


ANSWER_FIELDS = tuple(field.name for field in fields(AnswerRow))


def note_forecast(
    c: sa.Connection, garden: str, body: str, service: str, issued_utc: datetime | None, fetched_utc: datetime
) -> int:
    """The id of a forecast just kept; an identical one that came last from the service is not kept twice."""
    digest = hashlib.sha256(body.encode()).hexdigest()
    of_service = sa.and_(forecasts.c.garden == garden, forecasts.c.service == service)
    last = c.execute(sa.select(forecasts).where(of_service).order_by(forecasts.c.id.desc()).limit(1)).first()
    if last is not None and last.digest == digest:
        c.execute(sa.update(forecasts).where(forecasts.c.id == last.id).values(seen_utc=fetched_utc))
        return int(last.id)
    row = sa.insert(forecasts).values(
        garden=garden,
        service=service,
        issued_utc=issued_utc,
        fetched_utc=fetched_utc,
        seen_utc=fetched_utc,
        digest=digest,
        body=zlib.compress(body.encode()),
    )
    return int(c.execute(row.returning(forecasts.c.id)).scalar_one())


def no_forecast_is_from_the_future(c: sa.Connection, garden: str, now: datetime) -> None:
    """Bring back what a clock that ran ahead has dated: else it would be the newest until that day comes."""
    ahead = sa.and_(forecasts.c.garden == garden, forecasts.c.seen_utc > now)
    c.execute(sa.update(forecasts).where(ahead).values(seen_utc=now))


_LATEST: Final = (
    sa.select(forecasts)
    .where(forecasts.c.garden == sa.bindparam("garden"))
    .order_by(forecasts.c.seen_utc.desc(), forecasts.c.id.desc())
    .limit(1)
)


def latest_forecast(c: sa.Connection, garden: str) -> KeptForecast | None:
    """The forecast seen last, from whichever service."""
    row = c.execute(_LATEST, {"garden": garden}).first()
    return _forecast(row) if row is not None else None


def forecasts_of_half_days(c: sa.Connection, garden: str, service: str, days: Collection[date]) -> list[KeptForecast]:
    """The first forecast of one service in each half of some days of UTC, oldest first: to look back, two a day do."""
    if not days:
        return []
    first, until = (datetime.combine(day, time(), UTC) for day in (min(days), max(days) + timedelta(days=1)))
    of_service = forecasts.c.garden == garden, forecasts.c.service == service
    within = forecasts.c.fetched_utc >= first, forecasts.c.fetched_utc < until
    listed = sa.select(forecasts.c.id, forecasts.c.fetched_utc).where(*of_service, *within)
    found: dict[tuple[date, bool], int] = {}
    for row in c.execute(listed.order_by(forecasts.c.fetched_utc, forecasts.c.id)):
        at = row.fetched_utc.astimezone(UTC)
        if at.date() in days:
            found.setdefault((at.date(), at.hour >= HOURS // 2), row.id)
    chosen = sa.select(forecasts).where(forecasts.c.id.in_(found.values()))
    return [_forecast(row) for row in c.execute(chosen.order_by(forecasts.c.fetched_utc, forecasts.c.id))]


def _forecast(row: sa.Row[tuple[object, ...]]) -> KeptForecast:
    return KeptForecast(
        forecast_id=row.id,
        garden=row.garden,
        service=row.service,
        issued_utc=row.issued_utc,
        fetched_utc=row.fetched_utc,
        body=zlib.decompress(row.body).decode(),
    )


def note_kept_answer(c: sa.Connection, cell: str, answer: AnswerRow) -> None:
    """Keep a raw answer in place of the one kept before for the same cell (a garden, or many that share one)."""
    columns = {name: getattr(answer, name) for name in ANSWER_FIELDS} | {"body": zlib.compress(answer.body.encode())}
    row = insert_into(c, kept_answers).values(cell=cell, **columns)
    c.execute(row.on_conflict_do_update(index_elements=["cell", "service"], set_=columns))


def read_kept_answers(c: sa.Connection, cell: str) -> list[AnswerRow]:
    """The raw answers kept for a cell, one per service and part."""
    asked = sa.select(kept_answers).where(kept_answers.c.cell == cell).order_by(kept_answers.c.service)
    return [_answer(row) for row in c.execute(asked).mappings()]


def forget_kept_answers(c: sa.Connection, cell: str, services: Collection[str]) -> None:
    """Let some of the answers kept for a cell go."""
    c.execute(sa.delete(kept_answers).where(kept_answers.c.cell == cell, kept_answers.c.service.in_(services)))


def kept_answer_times(c: sa.Connection, cell: str) -> dict[str, datetime]:
    """When each answer kept for a cell was fetched, by service; the answers themselves stay packed."""
    asked = sa.select(kept_answers.c.service, kept_answers.c.fetched_utc).where(kept_answers.c.cell == cell)
    return {row.service: row.fetched_utc for row in c.execute(asked)}


def _answer(row: sa.RowMapping) -> AnswerRow:
    columns = {name: row[name] for name in ANSWER_FIELDS} | {"body": zlib.decompress(row["body"]).decode()}
    return AnswerRow(**columns)


def note_past_hours(
    c: sa.Connection, garden: str, weather: HourlyWeather, fetched_utc: datetime, until_utc: datetime
) -> None:
    """Keep the hours up to `until_utc`: of two tellings of one hour the later fetched stands, gaps never overwrite.

    A day told again as it was told today already is not written again: it would be, every hour, for weeks of days.

    Raises
    ------
    ValueError
        The hour marks do not fall on full hours of UTC.
    """
    start = weather.start_utc.astimezone(UTC)
    if start != start.replace(minute=0, second=0, microsecond=0):
        raise ValueError(f"hour marks must fall on full hours of UTC, got {start:%H:%M:%S}")
    values = np.array([getattr(weather, name) for name in SERIES])
    past = max(0, min(weather.hours, weather.index_of(until_utc) + 1))
    days = {(start + timedelta(hours=first + 1)).date(): first for first in range(-start.hour, past, HOURS)}
    kept = _kept_days(c, garden, list(days))
    rows = []
    for day, first in days.items():
        here = slice(max(first, 0), min(first + HOURS, past))
        before = _unpacked(kept.get(day))
        packed = _told_again(before, here.start - first, values[:, here], fetched_utc.timestamp())
        if not _says_the_same(before, packed):
            rows.append({"garden": garden, "day": day, "hours": zlib.compress(packed.astype("<f8").tobytes())})
    if rows:
        row = insert_into(c, past_days)
        c.execute(row.on_conflict_do_update(index_elements=["garden", "day"], set_={"hours": row.excluded.hours}), rows)


def _kept_days(c: sa.Connection, garden: str, days: list[date]) -> dict[date, bytes]:
    asked = sa.select(past_days.c.day, past_days.c.hours).where(past_days.c.garden == garden, past_days.c.day.in_(days))
    return {row.day: row.hours for row in c.execute(asked.order_by(past_days.c.day).with_for_update())}


def _told_again(before: Packed, hour: int, values: Packed, fetched_s: float) -> Packed:
    """One day's hours with what was told of some of them from `hour` on, fetched then."""
    packed = before.copy()
    here = slice(hour, hour + values.shape[1])
    newer = ~(packed[-1, here] > fetched_s)  # an hour never told has NaN there
    packed[:-1, here] = np.where(newer & ~np.isnan(values), values, packed[:-1, here])
    empty = np.isnan(packed[:-1, here])
    packed[:-1, here] = np.where(empty, values, packed[:-1, here])
    packed[-1, here] = np.where(newer, fetched_s, packed[-1, here])
    return packed


def _says_the_same(before: Packed, now: Packed) -> bool:
    """Whether nothing is new but that it was told again, within a day."""
    same = np.array_equal(before[:-1], now[:-1], equal_nan=True)
    return same and bool((now[-1] - before[-1] <= STAMPED_EVERY_S).all())


def _unpacked(body: bytes | None) -> Packed:
    shape = (len(SERIES) + 1, HOURS)
    if body is None:
        return np.full(shape, np.nan)
    kept = _kept(body)
    return np.concatenate([kept[:-1], np.full((shape[0] - len(kept), HOURS), np.nan), kept[-1:]])


def _kept(body: bytes) -> Packed:
    """What a row holds; of one from before rain and snow were told fewer series."""
    return np.frombuffer(zlib.decompress(body), dtype="<f8").reshape(-1, HOURS)


_HELD: Final[WeakValueDictionary[tuple[object, ...], HourlyWeather]] = WeakValueDictionary()


def past_weather(c: sa.Connection, garden: str, since_utc: datetime) -> HourlyWeather | None:
    """The hours kept since `since_utc`, from the first to the last one told, NaN where nothing is known.

    One object for the same days as long as somebody holds it: each tick asks for them, and seldom is one of them new.
    """
    since = since_utc.astimezone(UTC)
    kept = sa.select(past_days).where(past_days.c.garden == garden, past_days.c.day >= since.date())
    days = c.execute(kept.order_by(past_days.c.day)).all()
    if not days:
        return None
    key = hashlib.blake2b(b"".join(row.hours for row in days)).digest(), days[0].day, days[-1].day, len(days), since
    found = _HELD.get(key) or _past_of(days, since)
    if found is not None:
        _HELD[key] = found
    return found


def _past_of(days: Sequence[sa.Row[Any]], since: datetime) -> HourlyWeather | None:
    first_day = days[0].day
    hours = np.full((len(SERIES), ((days[-1].day - first_day).days + 1) * HOURS), np.nan)
    for row in days:
        at, told = (row.day - first_day).days * HOURS, _kept(row.hours)[:-1]
        hours[: len(told), at : at + HOURS] = told
    return _trimmed(datetime(first_day.year, first_day.month, first_day.day, tzinfo=UTC), hours, since)


def _trimmed(start: datetime, hours: Packed, since: datetime) -> HourlyWeather | None:
    skipped = max(0, math.ceil((since - start) / timedelta(hours=1)))
    told = np.flatnonzero(~np.isnan(hours[:, skipped:]).all(axis=0)) + skipped
    if not told.size:
        return None
    kept = hours[:, told[0] : told[-1] + 1]
    return HourlyWeather(start_utc=start + timedelta(hours=int(told[0])), **dict(zip(SERIES, kept, strict=True)))
