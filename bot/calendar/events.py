"""Jobs as days on which they can be done, planned visits as hours; each under an id that stays when it moves."""

from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import date, datetime, timedelta
from typing import Final
from uuid import NAMESPACE_URL, UUID, uuid5

from icalendar import Calendar, Event, vText

from bot.nudges import asks
from bot.wording.covers.words import covers_of, do_words
from bot.wording.formats import Style, minutes, sentence
from bot.wording.nights import due_line
from bot.wording.year.jobs import caution_words, job_reason, job_words
from rules.garden.tree import Site
from rules.jobs import Job
from rules.outlook.garden_outlook import Outlook
from rules.wood.season import season_place

AHEAD: Final = timedelta(days=60)  # further ahead the days of most jobs rest on the calendar alone
ASK_AGAIN: Final = timedelta(hours=1)  # as often as the services are asked
MAKER: Final = "-//bedstraw//garden calendar//EN"


def calendar_of(garden: str, site: Site, jobs: Sequence[Job], outlook: Outlook, style: Style) -> bytes:
    """The jobs and visits of one garden as an iCalendar file.

    An event's id names the kind of job, its first tree, the season, and which of several it is, never the days: so a
    job that moves is the same event at another time.
    """
    calendar = Calendar()
    for name, value in (("prodid", MAKER), ("version", "2.0"), ("method", "PUBLISH")):
        calendar.add(name, value)
    for name in ("name", "x-wr-calname"):  # RFC 7986, and what was used before it
        calendar.add(name, vText(garden))
    calendar.add("refresh-interval", ASK_AGAIN, {"value": "DURATION"})
    for event in (*_of_jobs(garden, site, jobs, style), *_of_visits(garden, site, jobs, outlook, style)):
        event.add("dtstamp", outlook.now)
        event.add("sequence", int(outlook.now.timestamp() // 60))  # who imports the file again keeps the newer
        calendar.add_component(event)
    return bytes(calendar.to_ical())


def _of_jobs(garden: str, site: Site, jobs: Sequence[Job], style: Style) -> Iterator[Event]:
    """Whole days, the last of them too; a day is free all the same."""
    seen: Counter[tuple[str, str]] = Counter()
    for job in sorted((job for job in jobs if not job.acts), key=lambda job: job.from_day):
        what = (str(job.kind), job.trees[0] if job.trees else "")
        event = _event(_id(garden, site, what, job.from_day, seen[what]), sentence(job_words(job)).rstrip("."))
        seen[what] += 1
        event.add("dtstart", job.from_day)
        event.add("dtend", job.by_day + timedelta(days=1))  # RFC 5545, 3.6.1: the end is the first day after it
        event.add("transp", "TRANSPARENT")
        cautions = [caution_words(caution, style) for caution in job.cautions]
        event.add("description", "\n".join([f"{minutes(job.minutes)}. {job_reason(job, style)}", *cautions]))
        yield event


def _of_visits(garden: str, site: Site, jobs: Sequence[Job], outlook: Outlook, style: Style) -> Iterator[Event]:
    """Hours, from when to begin at the latest; an opening from when the day is warm enough."""
    seen: Counter[tuple[str, str]] = Counter()
    for ask in asks((act for job in jobs for act in job.acts), style.zone):
        what = (f"visit {ask.verb}", ask.trees[0])
        said = sentence(do_words(ask.verb, ask.trees, covers_of(outlook))).rstrip(".")
        event = _event(_id(garden, site, what, ask.day, seen[what]), said)
        seen[what] += 1
        begin = ask.by_utc if ask.by_utc >= outlook.now else ask.from_utc
        event.add("dtstart", _to_the_minute(begin))
        event.add("dtend", _to_the_minute(begin + timedelta(minutes=max(5.0, ask.minutes))))
        event.add("description", due_line(ask, outlook, style, outlook.now))
        yield event


def _event(uid: UUID, summary: str) -> Event:
    event = Event()
    event.add("uid", str(uid))
    event.add("summary", summary)
    return event


def _id(garden: str, site: Site, what: tuple[str, str], day: date, place: int) -> UUID:
    season = season_place(day, site.latitude_deg).start.year
    return uuid5(NAMESPACE_URL, "/".join(("bedstraw", garden, *what, str(season), str(place))))


def _to_the_minute(moment: datetime) -> datetime:
    return moment.replace(second=0, microsecond=0)
