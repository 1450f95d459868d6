"""`page`: all of a garden in one HTML file, to be looked at in any browser."""

import os
from collections.abc import Mapping, Sequence
from datetime import timedelta
from pathlib import Path
from typing import Final

from bot.answers.exchange import NO_LOOK, Answer, Exchange
from bot.answers.season.learned import learned
from bot.answers.season.pictures import picture_folder
from bot.answers.season.season_page import known_of_tree, told_of_tree
from bot.answers.season.season_record import season_told
from bot.charts import ChartsMissing, Picture, draw_season, draw_section, draw_week
from bot.page import Contents, SeasonOfTree, page_of_garden
from bot.replies import Meaning, Verb
from bot.rounds.job_facts import job_facts
from bot.wording.year.jobs import caution_words
from bot.wording.year.season import facts_of
from rules.jobs import Caution, Job, jobs_due
from rules.outlook.garden_outlook import Outlook
from rules.outlook.views.season_so_far import SeasonSoFar, seasons_so_far
from rules.outlook.views.section import CoverSection, cover_section
from rules.outlook.views.week import week_ahead

WEEKS_AHEAD: Final = timedelta(weeks=4)
# A tree's pictures take most of a second of a core, and while an answer is made nothing else is noted: so in the chat
# only those are drawn that are tended next. Both assumed, no source.
DRAWN_IN_THE_CHAT: Final = 2
MOST_DRAWN: Final = 12
OWNER_ONLY: Final = 0o600
SENT: Final = "Your garden on a page, as I see it now. Open it in a browser; it asks nothing of the network."


def page(exchange: Exchange, _: Meaning) -> list[Answer]:
    """The page as a file, made anew."""
    seen = exchange.outlook()
    if seen is None:
        return [NO_LOOK]
    folder = picture_folder(exchange)
    return [Answer(text=SENT, picture=str(write_page(folder / "page.html", exchange, seen, DRAWN_IN_THE_CHAT)))]


def write_page(path: Path, exchange: Exchange, seen: Outlook, drawn: int = MOST_DRAWN) -> Path:
    """The page written for its owner's eyes alone, with pictures of so many trees at most; where it now lies.

    A page half written is never found there.
    """
    part = path.with_name(path.name + ".part")
    part.unlink(missing_ok=True)
    with os.fdopen(os.open(part, os.O_CREAT | os.O_EXCL | os.O_WRONLY, OWNER_ONLY), "w", encoding="utf-8") as file:
        file.write(page_of_garden(contents(exchange, seen, drawn)))
    return part.replace(path)


def contents(exchange: Exchange, seen: Outlook, drawn: int) -> Contents:
    """All that stands on the page."""
    jobs = _jobs(exchange, seen)
    so_far = seasons_so_far(exchange.inputs(), [tree.name for tree in exchange.garden.trees], exchange.now)
    sections = _sections(exchange, seen)
    meant = {caution for job in jobs for caution in job.cautions}
    return Contents(
        garden=exchange.garden.name,
        outlook=seen,
        jobs=jobs,
        cautions=[caution_words(one, exchange.style) for one in Caution if one in meant],
        seasons=_seasons(exchange, so_far),
        sections=sections,
        learned=learned(exchange, Meaning(verb=Verb.LEARNED))[0].text.splitlines(),
        pictures=_pictures(exchange, seen, so_far, sections, _first(seen, drawn)),
        style=exchange.style,
    )


def _jobs(exchange: Exchange, seen: Outlook) -> list[Job]:
    facts = job_facts(exchange.c, exchange.garden, seen, exchange.inputs(), exchange.records, exchange.now)
    due = jobs_due(facts, facts.today, facts.today + WEEKS_AHEAD)
    return sorted(due, key=lambda job: (max(job.from_day, facts.today), job.by_day))


def _seasons(exchange: Exchange, so_far: Mapping[str, SeasonSoFar]) -> list[SeasonOfTree]:
    told = season_told(exchange)
    entries = [one.entry for one in told]
    return [
        SeasonOfTree(
            tree=tree.name,
            known=facts_of(known_of_tree(tree, so_far[tree.name], entries), exchange.style),
            told=told_of_tree(exchange, told, tree.name),
        )
        for tree in exchange.garden.trees
    ]


def _sections(exchange: Exchange, seen: Outlook) -> list[CoverSection]:
    covered = [one.tree.name for one in seen.trees if one.cover is not None and not one.tree.left_bare]
    cut = (_cut(exchange, seen, name) for name in covered[:MOST_DRAWN])
    return [section for section in cut if section is not None]


def _cut(exchange: Exchange, seen: Outlook, name: str) -> CoverSection | None:
    """None where the cover cannot be cut open: no hour ahead."""
    try:
        return cover_section(exchange.inputs(), seen, name)
    except ValueError:
        return None


def _first(seen: Outlook, most: int) -> list[str]:
    """The trees whose pictures matter most: those tended next, then in the garden's order."""
    tended = [act.tree for act in sorted(seen.acts, key=lambda act: act.by_utc)]
    return list(dict.fromkeys([*tended, *(one.tree.name for one in seen.trees)]))[:most]


def _pictures(
    exchange: Exchange,
    seen: Outlook,
    so_far: Mapping[str, SeasonSoFar],
    sections: Sequence[CoverSection],
    names: Sequence[str],
) -> dict[tuple[str, str], Picture]:
    style, inputs, now = exchange.style, exchange.inputs(), exchange.now
    cut = [one for one in sections if one.tree in names]
    try:
        return {
            **{("week", name): draw_week(week_ahead(inputs, seen, name), style) for name in names},
            **{("season", name): draw_season(so_far[name], style) for name in names},
            **{("section", one.tree): draw_section(one, style, now) for one in cut},
        }
    except ChartsMissing:
        return {}
