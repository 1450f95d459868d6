"""`calendar`: the jobs and visits of the weeks ahead as a file for the grower's own calendar."""

from typing import Final

from bot.answers.exchange import NO_LOOK, Answer, Exchange
from bot.answers.season.pictures import picture_folder
from bot.replies import Meaning
from bot.rounds.inputs import style_of
from bot.rounds.job_facts import job_facts
from bot.settings import Garden
from rules.jobs import GardenFacts, jobs_due
from rules.outlook.garden_outlook import Outlook

SENT: Final = "The next two months' jobs and visits, for your calendar. Opened again later, the file moves them."


def calendar(exchange: Exchange, _: Meaning) -> list[Answer]:
    """The calendar as a file, made anew."""
    seen = exchange.outlook()
    if seen is None:
        return [NO_LOOK]
    path = picture_folder(exchange) / "garden.ics"
    path.write_bytes(calendar_now(exchange, seen))
    return [Answer(text=SENT, picture=str(path))]


def calendar_now(exchange: Exchange, seen: Outlook) -> bytes:
    """The calendar of this garden as an outlook and its records have it."""
    facts = job_facts(exchange.c, exchange.garden, seen, exchange.inputs(), exchange.records, exchange.now)
    return calendar_of_facts(exchange.garden, facts, seen)


def calendar_of_facts(garden: Garden, facts: GardenFacts, seen: Outlook) -> bytes:
    """The calendar of a garden's jobs as they are reckoned from some facts."""
    from bot.calendar import AHEAD, calendar_of  # asked for now and then, and 3 MB

    jobs = jobs_due(facts, facts.today, facts.today + AHEAD)
    return calendar_of(garden.name, garden.site, jobs, seen, style_of(garden))
