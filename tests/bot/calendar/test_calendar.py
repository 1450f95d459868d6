"""The calendar as another library than ours reads it, and that what moves keeps its id."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import requests
import vobject

from bot.__main__ import main
from bot.calendar import calendar_of
from bot.commands.serving.calendar import calendar_feed
from bot.nudges import asks
from bot.replies import Context, Understood, Verb, parse_reply
from bot.rounds.job_facts import job_facts
from bot.settings import SecretsError, read_secrets
from bot.wording.formats import Style
from rules.jobs import Job, jobs_due
from rules.outlook.garden_outlook import Outlook, outlook
from tests.bot.household_phones import demo_garden
from tests.bot.phone import Phone, inputs, larkmoor

NOW = datetime(2025, 11, 28, 19, tzinfo=UTC)


@pytest.fixture(scope="module")
def phone() -> Iterator[Phone]:
    phone = Phone(larkmoor("Porch fig", "Kaki"), NOW)
    phone.tick()
    yield phone
    phone.close()


@pytest.fixture(scope="module")
def ahead(phone: Phone) -> tuple[list[Job], Outlook]:
    known = inputs(phone)
    seen = outlook(known, phone.now)
    with phone.logbook.begin() as c:
        facts = job_facts(c, phone.garden, seen, known, known.records, phone.now)
    return jobs_due(facts, facts.today, facts.today + timedelta(days=60)), seen


def _read(phone: Phone, jobs: list[Job], seen: Outlook) -> dict[str, Any]:
    """The events by id, as vobject reads them."""
    made = calendar_of(phone.garden.name, phone.garden.site, jobs, seen, phone.style).decode()
    events = vobject.readOne(made).contents["vevent"]
    assert len({event.uid.value for event in events}) == len(events)
    return {event.uid.value: event for event in events}


def test_every_job_and_every_visit_is_an_event(phone: Phone, ahead: tuple[list[Job], Outlook]) -> None:
    jobs, seen = ahead
    events = _read(phone, jobs, seen).values()
    visits = asks((act for job in jobs for act in job.acts), phone.style.zone)
    assert visits, "nothing is planned in the freeze week of the demo"
    assert len(events) == len([job for job in jobs if not job.acts]) + len(visits)
    assert all(event.summary.value and event.description.value for event in events)


def test_a_visit_stands_at_its_hours_and_a_job_on_its_days(phone: Phone, ahead: tuple[list[Job], Outlook]) -> None:
    jobs, seen = ahead
    events = _read(phone, jobs, seen).values()
    ask = asks((act for job in jobs for act in job.acts), phone.style.zone)[0]
    visit = next(event for event in events if isinstance(event.dtstart.value, datetime))
    assert visit.dtstart.value == ask.by_utc.replace(second=0, microsecond=0)
    assert visit.dtend.value <= ask.done_by_utc + timedelta(minutes=5)
    job = next(job for job in jobs if not job.acts)
    days = {(e.dtstart.value, e.dtend.value) for e in events if not isinstance(e.dtstart.value, datetime)}
    assert (job.from_day, job.by_day + timedelta(days=1)) in days  # RFC 5545, 3.6.1: DTEND is not part of the event
    assert all(type(first) is date for first, _ in days)


def test_what_moves_keeps_its_id_and_is_newer(phone: Phone, ahead: tuple[list[Job], Outlook]) -> None:
    jobs, seen = ahead
    before = _read(phone, jobs, seen)
    later = [
        replace(job, from_day=job.from_day + timedelta(days=2), by_day=job.by_day + timedelta(days=2)) for job in jobs
    ]
    after = _read(phone, later, replace(seen, now=seen.now + timedelta(hours=1)))
    assert set(after) == set(before)
    days = [uid for uid, event in before.items() if not isinstance(event.dtstart.value, datetime)]
    assert days
    for uid in days:
        assert after[uid].dtstart.value == before[uid].dtstart.value + timedelta(days=2)
        assert int(after[uid].sequence.value) > int(before[uid].sequence.value)


def test_two_gardens_and_two_years_share_no_id(phone: Phone, ahead: tuple[list[Job], Outlook]) -> None:
    jobs, seen = ahead
    other = calendar_of("Elsewhere", phone.garden.site, jobs, seen, phone.style).decode()
    next_year = [
        replace(job, from_day=job.from_day + timedelta(days=365), by_day=job.by_day + timedelta(days=365))
        for job in jobs
        if not job.acts
    ]
    elsewhere = {event.uid.value for event in vobject.readOne(other).contents["vevent"]}
    assert not set(_read(phone, jobs, seen)) & (elsewhere | set(_read(phone, next_year, seen)))


def test_a_name_with_line_ends_and_commas_breaks_no_event(ahead: tuple[list[Job], Outlook], phone: Phone) -> None:
    jobs, seen = ahead
    odd = "Fig; the\r\nBEGIN:VEVENT, 🌳 " + "x" * 100
    renamed = [replace(job, trees=(odd, *job.trees[1:])) for job in jobs if not job.acts]
    made = calendar_of("A\nB", phone.garden.site, renamed, seen, Style(zone=phone.style.zone))
    assert max(len(line) for line in made.split(b"\r\n")) <= 75  # RFC 5545, 3.1, in octets
    events = vobject.readOne(made.decode()).contents["vevent"]
    assert len(events) == len(renamed)


def test_the_chat_hands_the_file_over(phone: Phone) -> None:
    (sent,) = phone.send(text="calendar")
    assert sent.picture is not None
    assert sent.picture.endswith(".ics")
    assert vobject.readOne(Path(sent.picture).read_text(encoding="utf-8")).contents["vevent"]


@pytest.mark.parametrize("text", ["calendar", "my calendar please", "/calendar", "send me the calendar file"])
def test_a_wish_for_the_calendar_is_understood(text: str) -> None:
    reply = parse_reply(text, Context(trees=(), now=NOW, zone=larkmoor().site.zone))
    assert isinstance(reply, Understood)
    assert [meaning.verb for meaning in reply.meanings] == [Verb.CALENDAR]


def test_the_command_writes_it_beside_the_garden_file(tmp_path: Path) -> None:
    garden = demo_garden(tmp_path, "Porch fig")
    assert main(["calendar", str(garden), "--now", "2025-11-28T12:00"]) == 0
    assert vobject.readOne(garden.with_suffix(".ics").read_text(encoding="utf-8")).contents["vevent"]


def test_the_feed_is_found_only_under_its_secret(phone: Phone) -> None:
    secret = "a-word-of-more-than-20-letters"  # noqa: S105 - of this test
    feed = calendar_feed(phone.watch.calendar, secret, 0, lambda: phone.now)
    feed.start()
    address = f"http://127.0.0.1:{feed.port}"
    try:
        found = requests.get(f"{address}/{secret}.ics", timeout=20)
        assert found.status_code == 200
        assert found.headers["Content-Type"].startswith("text/calendar")  # RFC 5545, 8.1
        assert vobject.readOne(found.text).contents["vevent"]
        for other in ("/", "/.ics", f"/{secret}", f"/{secret}x.ics", "/../../etc/passwd"):
            assert requests.get(f"{address}{other}", timeout=20).status_code == 404
    finally:
        feed.stop()


def test_there_is_no_feed_without_a_long_secret_of_its_own(tmp_path: Path) -> None:
    file = tmp_path / "secret"
    file.write_text("short")
    file.chmod(0o600)
    with pytest.raises(SecretsError, match="belong together"):
        read_secrets({"BEDSTRAW_CALENDAR_PORT": "8010"})
    with pytest.raises(SecretsError, match="at least 20"):
        read_secrets({"BEDSTRAW_CALENDAR_PORT": "8010", "BEDSTRAW_CALENDAR_SECRET_FILE": str(file)})
