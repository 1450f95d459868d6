"""The parts of the page that look ahead: tonight, the week of each tree, the jobs."""

from typing import Final

from bot.page.contents import Contents
from bot.page.drawn import drawn
from bot.page.markup import Html, joined, listed, paragraph, part, table, tagged, text
from bot.wording.doubts import doubts_in_words
from bot.wording.formats import Style, chance, minutes, sentence
from bot.wording.hardiness import stands
from bot.wording.nights import source_lines
from bot.wording.year.due import due_lines
from bot.wording.year.jobs import job_days, job_reason, job_words
from rules.garden.cover import CoverState
from rules.wood.margins import Night, TreeMargins

STATES: Final = {CoverState.BARE: "bare", CoverState.VENTED: "cap open", CoverState.CLOSED: "cap shut"}
WORTH_A_MARK: Final = 0.05  # chance, as in the words for tonight
NO_FORECAST: Final = "I have no forecast. Please look yourself; if in doubt, close."


def tonight(of: Contents) -> Html:
    """The coming night: what each tree feels as it stands, what is to be done, whose forecast it is."""
    seen, style = of.outlook, of.style
    nights = [(one, one.night_of(style.evening(seen.now))) for one in seen.trees if one.nights]
    if not nights:
        return part("tonight", "Tonight", [paragraph(NO_FORECAST)])
    first = nights[0][1]
    head = f"{style.degrees(first.field_c)} in the open near {style.round_clock(first.lowest_utc)}."
    unit = "°F" if style.fahrenheit else "°C"
    columns = ("Tree", "Feels", "Safe to", "Too cold for it")
    rows = [_tonight(one, night, style) for one, night in nights]
    now_due = [job for job in of.jobs if any(act.night == first.evening for act in job.acts)]
    asked = [line for job in now_due for line in due_lines(job, seen, style)]
    shown = table(f"Tonight, each tree as it stands, in {unit}", columns, rows)
    said = [paragraph(line) for line in _credits(of)]
    return part("tonight", "Tonight", [paragraph(head), listed(asked), shown, *said])


def _tonight(one: TreeMargins, night: Night, style: Style) -> list[str]:
    tissue = night.tissue[one.state_assumed]
    safe = f"{style.degrees(one.hardiness.lt10_c, unit=False)} ± {style.step(one.hardiness.sd_c).split()[0]}"
    return [f"{one.tree.name} ({stands(one)})", style.degrees(tissue.wood_c, unit=False), safe, _odds(tissue.chance)]


def _odds(share: float) -> str:
    return "no" if share < WORTH_A_MARK else chance(share)


def _credits(of: Contents) -> list[str]:
    """The doubts, and the service's own line."""
    said = source_lines(of.outlook, of.style)
    doubts = doubts_in_words(of.outlook.doubts, of.style)
    return [*doubts, *(line for line in said if line not in doubts)]


def week(of: Contents) -> Html:
    """The nights ahead of each tree, in each state its cover can take."""
    known = [one for one in of.outlook.trees if one.nights]
    if not known:
        return part("week", "The week", [paragraph(NO_FORECAST)])
    return part("week", "The week", [_week(one, of) for one in known])


def _week(one: TreeMargins, of: Contents) -> Html:
    style, unit = of.style, "°F" if of.style.fahrenheit else "°C"
    states = [state for state in CoverState if state in one.nights[0].tissue]
    named = [f"{STATES[state]}{' (as now)' if state == one.state else ''}" for state in states]
    rows = [_night(night, states, one, of) for night in one.nights]
    safe = f"safe to {style.degrees(one.hardiness.lt10_c)}"
    caption = f"{one.tree.name}: lowest air at the tree, and what its wood feels, in {unit}; {safe}"
    shown = table(caption, ["Night of", "Air", *named], rows)
    return joined([tagged("h3", text(one.tree.name)), drawn(of, "week", one.tree.name), shown])


def _night(night: Night, states: list[CoverState], one: TreeMargins, of: Contents) -> list[str]:
    style = of.style
    cells = []
    for state in states:
        felt = night.tissue[state]
        cold = " too cold" if felt.wood_c < one.hardiness.lt10_c else ""
        cells.append(f"{style.degrees(felt.wood_c, unit=False)}{cold}")
    day = f"{night.evening:%a} {style.short_date(night.evening)}" + ("" if night.complete else ", in part")
    return [day, style.degrees(night.air_c, unit=False), *cells]


def jobs(of: Contents) -> Html:
    """What the weeks ahead ask for, by when and why, with what to beware of."""
    if not of.jobs:
        return part("jobs", "Jobs", [paragraph("Nothing is due.")])
    style, now = of.style, of.outlook.now
    rows = [
        [
            f"{sentence(job_words(job)).rstrip('.')} ({minutes(job.minutes)})",
            job_days(job, style, now),
            job_reason(job, style),
        ]
        for job in of.jobs
    ]
    shown = table("Jobs of the weeks ahead", ("What", "When", "Why"), rows)
    return part("jobs", "Jobs", [shown, listed(of.cautions)])
