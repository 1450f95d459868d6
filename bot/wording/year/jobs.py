"""The words of the year's jobs: what, when, why, what to beware of; each caution once."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime
from typing import Final

from bot.wording.formats import Style, chance, minutes, names, sentence
from rules.garden.units import CM_PER_INCH
from rules.jobs import Basis, Caution, Job, JobKind, JobMark, JobReason, MarkState
from rules.plan.garden_plan import Reason

LONGEST: Final = 300  # letters in one message
LONGEST_NAMES: Final = 80  # letters of tree names in one line
HEAT_LAMP_C: Final = 204.4  # 400 °F, of 250 W (a barn safety text)
STRONG_GUST_M_S: Final = 10.0  # assumed, no source: no film or ladder work

# of each job what is asked for, before the names of the trees, and what it is called
_SAID: Final[Mapping[JobKind, tuple[str, str]]] = {
    JobKind.TAPER: ("stop feeding, water less", "feeding and watering less"),
    JobKind.CHECK_SUPPLIES: ("check the shed and buy what is missing for", "supplies"),
    JobKind.LOCATE_LINES: ("have buried lines marked for the stakes of", "marking buried lines"),
    JobKind.COUNT_FRUIT: ("count the ripe fruit of", "counting ripe fruit"),
    JobKind.LAST_PICK: ("pick all ripe fruit of", "last pick"),
    JobKind.TAKE_CUTTINGS: ("take cuttings of", "cuttings"),
    JobKind.TIE_BRANCHES: ("tie in the branches of", "tying in"),
    JobKind.PRUNE_TO_FIT: ("prune only what will not fit:", "pruning to fit"),
    JobKind.WRAP: ("wrap", "wrapping"),
    JobKind.FILL: ("top up the fill of", "topping up the fill"),
    JobKind.CLOSE: ("close", "closing"),
    JobKind.OPEN: ("open", "opening"),
    JobKind.CHECK_STRAPS: ("check straps and seams of", "checking straps"),
    JobKind.SNOW: ("knock the snow off", "snow"),
    JobKind.WATER: ("water", "winter water"),
    JobKind.LOOK_FOR_VOLES: ("look for voles at", "looking for voles"),
    JobKind.VENT: ("open for the warm spell:", "venting"),
    JobKind.WAKE_EARLY: ("open to the sun by day, shut by night:", "waking early"),
    JobKind.CLOSE_FOR_FROST: ("close for late frost:", "closing for late frost"),
    JobKind.STRIP: ("uncover", "uncovering"),
    JobKind.DRY_AND_STORE: ("dry and store the cover of", "drying and storing"),
    JobKind.MULCH: ("mulch with the straw, clear of the bark:", "mulching"),
    JobKind.SCRATCH_TEST: ("scratch the bark to see what lives:", "scratch test"),
    JobKind.MEASURE_DIEBACK: ("measure the dieback of", "measuring dieback"),
    JobKind.REVIEW_WINTER: ("look back on the winter of", "looking back on the winter"),
}
WORDS: Final = {kind: asked for kind, (asked, _) in _SAID.items()}
GUARDING: Final = "guard against voles:"
DOING: Final = {kind: called for kind, (_, called) in _SAID.items()}

REASONS: Final = {
    JobReason.PLAN: "the plan asks for it",
    JobReason.SOFT_WOOD: "fed and watered late, wood stays soft and freezes",
    JobReason.BEFORE_THE_RUSH: "shops still have straw now",
    JobReason.STAKES: "marking takes days, and the stakes must be in before the cold",
    JobReason.KILLING_FREEZE: "the killing freeze ends the crop",
    JobReason.FIT_THE_CAGE: "so that it fits its cover",
    JobReason.OUT_OF_REACH: "once the cover is on, nobody reaches it",
    JobReason.WIND_COMING: "wind is coming",
    JobReason.WIND_PAST: "the wind will have pulled at it",
    JobReason.WIND_UNTOLD: "my weather service does not report gusts: look after each storm",
    JobReason.SNOW_FELL: "snow presses on top and warms below",
    JobReason.WET_SNOW: "wet snow is heavy: it presses lids in and breaks branches",
    JobReason.DRY_WINTER: "dry winters worsen injury",
    JobReason.MAY_BE_DRY: "if no rain or snow fell for a month",
    JobReason.RAIN_UNTOLD: "my weather service does not report rain: water if none fell for a month",
    JobReason.CROP_ENDS: "what ripened tells what the saved wood is worth",
    JobReason.FREEZE_DUE: "the first killing freeze is due",
    JobReason.INSURANCE: "a cutting outlives a dead tree",
    JobReason.COLD_DUE: "nights colder than half-hardened wood can take are due",
    JobReason.SETTLED: "loose fill sinks in its first weeks and bares the tips",
    JobReason.SNOW_MAY_FALL: "after each heavy snow: it presses on top and warms below",
    JobReason.SNOW_UNTOLD: "my weather service does not report snow: do it after each heavy fall",
    JobReason.GNAWING: "they eat bark under straw",
    JobReason.EARLIER_CROP: "warmed early, it may crop earlier",
    JobReason.RISK_FADES: "while it is still cold, top first, on a calm grey day; warm covers wake trees too soon",
    JobReason.COVER_OFF: "put away damp, it rots",
    JobReason.STRAW_LEFT: "the straw is there and keeps the ground moist",
    JobReason.HELD_DEAD: "cold probably killed it above ground; from the tip down, green bark lives, brown is dead",
    JobReason.WHAT_LIVED: "green under the bark lives; cut nothing before you know",
    JobReason.HOW_MUCH_LIVED: "the buds now show how far it died back; I learn from it",
    JobReason.LESSONS: "what it cost and what it saved, while you remember",
}

SIZES: Final[Mapping[JobReason, Callable[[float, Style], str]]] = {
    JobReason.KILLING_FREEZE: lambda odds, _: f"{chance(odds)} that it comes",
    JobReason.FIT_THE_CAGE: lambda wide_m, style: f"{style.size(wide_m)} wide",
    JobReason.WIND_COMING: lambda gust_m_s, style: f"gusts of {style.speed(gust_m_s)}",
    JobReason.WIND_PAST: lambda gust_m_s, style: f"gusts of {style.speed(gust_m_s)}",
    JobReason.SNOW_FELL: lambda deep_m, style: f"{style.size(deep_m)} of it",
    JobReason.WET_SNOW: lambda deep_m, style: f"{style.size(deep_m)} of it",
    JobReason.DRY_WINTER: lambda fallen_mm, style: f"{_fallen(fallen_mm, style)} in 30 days",
}


def _fallen(fallen_mm: float, style: Style) -> str:
    """What fell as rain and snow, in words: a trace is none."""
    inches, mm = f"{fallen_mm / (10 * CM_PER_INCH):.1f}", f"{fallen_mm:.0f}"
    if float(inches if style.length == "in" else mm) == 0:
        return "no rain or snow"
    return f"only {f'{style.number(inches)} in' if style.length == 'in' else f'{mm} mm'} of rain and snow"


ACT_REASONS: Final = {
    Reason.COLD: "it would get colder than it can take",
    Reason.HARDEN: "shut in, it cannot harden",
    Reason.SOFTEN: "shut in, it would start to wake",
    Reason.HOT: "in the sun it would overheat",
    Reason.ROT: "shut in, green leaves rot",
    Reason.BUDS: "its buds break and want light; cap first, on a calm grey day, the cover at hand for a late frost",
    Reason.RISK_OVER: "no night ahead is too cold for swollen buds",
    Reason.YOUR_WAY: "your own way asks for it",
}

RESTS_ON: Final = {
    Basis.FORECAST: "",
    Basis.RECORD: "",
    Basis.PAST_WINTERS: " (by past winters)",
    Basis.CALENDAR: " (by the calendar)",
}


def job_words(job: Job) -> str:
    """What to do at which trees; of many, only the first are named."""
    asked = GUARDING if (job.kind, job.reason) == (JobKind.LOOK_FOR_VOLES, JobReason.GUARD) else WORDS[job.kind]
    return f"{asked}{':' if job.kind is JobKind.TAPER else ''} {short_names(job.trees)}"


def short_names(trees: Sequence[str]) -> str:
    """The names of trees, cut to a line.

    >>> short_names(["Porch", "Wall", "Kaki"])
    'Porch, Wall and Kaki'
    """
    shown = list(trees)
    while len(shown) > 1 and len(", ".join(shown)) > LONGEST_NAMES:
        shown.pop()
    left = len(trees) - len(shown)
    return f"{', '.join(shown)} and {left} more" if left else names(shown)


def job_reason(job: Job, style: Style) -> str:
    """Why a job is asked for, in one sentence, and what its days rest on where that is no forecast."""
    return sentence(f"{_reason(job, style)}{RESTS_ON[job.basis]}")


def _reason(job: Job, style: Style) -> str:
    """Why, with its number; for winter water also how much of it."""
    return f"{_why(job, style)}; {_water(style)}" if job.kind is JobKind.WATER else _why(job, style)


def _mesh(style: Style) -> str:
    """The guard against voles of the University of Wisconsin Extension (2017)."""
    if style.length == "in":
        return "quarter-inch mesh round the trunk, 2 in into the soil, 18 in high"
    return "6 mm mesh round the trunk, 5 cm into the soil, 45 cm high"


def _guard(style: Style) -> str:
    return f"{_mesh(style)}, before the straw hides it: mice eat bark there"


def before_wrap(jobs: Sequence[Job], style: Style) -> list[str]:
    """What comes before a wrap, as a line of its ask; trees are named where it is not for all of them."""
    asked = {
        JobKind.LAST_PICK: "pick all ripe fruit",
        JobKind.TIE_BRANCHES: "tie in the branches",
        JobKind.PRUNE_TO_FIT: "prune only what will not fit",
        JobKind.LOOK_FOR_VOLES: f"put {_mesh(style)}, against mice",
    }
    everywhere = {tree for job in jobs for tree in job.trees}
    said = [
        f"{asked[job.kind]}{'' if everywhere <= set(job.trees) else f' ({short_names(job.trees)})'}" for job in jobs
    ]
    return [f"First {'; '.join(said)}."] if said else []


def _water(style: Style) -> str:
    """Ten gallons to an inch of trunk (Colorado State Forest Service)."""
    amount = "10 gallons per inch of trunk" if style.length == "in" else "15 litres per cm of trunk"
    return f"{amount}, at noon, ground not frozen, no snow"


def _why(job: Job, style: Style) -> str:
    if job.acts:
        worst = max(job.acts, key=lambda act: act.chance)
        odds = f"{chance(worst.chance)} that " if worst.reason is Reason.COLD else ""
        return f"{odds}{ACT_REASONS[worst.reason]}"
    plain = _guard(style) if job.reason is JobReason.GUARD else REASONS[job.reason]
    if job.amount is None or job.reason not in SIZES:
        return plain
    return f"{plain}; {SIZES[job.reason](job.amount, style)}"


def job_line(job: Job, style: Style, now: datetime) -> str:
    """One job in one line: days, what, minutes, why."""
    return f"{job_days(job, style, now)}: {job_words(job)} ({minutes(job.minutes)}). {job_reason(job, style)}"


def job_days(job: Job, style: Style, now: datetime) -> str:
    """The days of a job as people say them."""
    today = now.astimezone(style.zone).date()
    first = sentence(style.day(max(job.from_day, today), now)).rstrip(".")
    if job.by_day <= max(job.from_day, today):
        return first
    return f"{first} to {style.day(job.by_day, now)}"


def short_days(job: Job, style: Style) -> str:
    """The days of a job in short.

    The year is left out: no job is asked for a year ahead.
    """
    first, last = style.short_date(job.from_day), style.short_date(job.by_day)
    return first if first == last else f"{first} to {last}"


def caution_words(caution: Caution, style: Style) -> str:
    """One caution; it is no treatment and no law."""
    return {
        Caution.BURIED_LINES: "Call the utility locating service (811 in the USA) at least two business days before "
        "you drive stakes or dig. Your own pipes and cables it does not mark. Follow local codes.",
        Caution.STRAW_DUST: "Mouldy straw dust harms lungs: dry clean straw, N95 mask with two straps, wet the dust "
        "down, work upwind. See a clinician if breath stays short.",
        Caution.FIG_SAP: "Fig sap burns skin in the sun: gloves, long sleeves, eye protection. Wash at once and keep "
        "that skin out of the sun for days. See a clinician if it blisters.",
        Caution.LADDER_WIND: f"No ladder or film work at gusts of {style.speed(STRONG_GUST_M_S)} or more, on ice or in "
        "the dark. Nobody on the three top rungs; keep well away from power lines.",
        Caution.NO_HEAT: "No lamp, heater or flame in straw or leaves: a heat lamp passes "
        f"{style.degrees(HEAT_LAMP_C)}.",
        Caution.STAKE_ENDS: "Guard the tops of rebar and stakes with steel-reinforced caps or a board, fold in wire "
        "ends; gloves and eye protection.",
        Caution.HERBICIDE: "Ask what the straw was sprayed with and grow a bean in it first: cupped, twisted leaves "
        "mean herbicide. Never put doubtful straw on beds.",
        Caution.DAMP_STRAW: "Keep straw dry and away from walls, vents and stoves: damp tight bales can heat by "
        "themselves. Follow local codes.",
        Caution.TWO_PEOPLE: "Two people to bend a tree down.",
        Caution.LATE_FROST: "What wakes early freezes early: keep the cover at hand until the last frost.",
    }[caution]


def noted_mark(mark: JobMark, style: Style, now: datetime, trees: Sequence[str] = ()) -> str:
    """What was noted of a job: done, put off to a day, or not wanted; `trees` where it is the same at several."""
    what = DOING[mark.kind]
    where = f" ({short_names(trees)})" if len(trees) > 1 else f" ({mark.tree})" if mark.tree else ""
    if mark.state is MarkState.PUT_OFF and mark.until is not None:
        return f"Put off: {what}{where}. I ask again {style.day(mark.until, now)}."
    if mark.state is MarkState.REFUSED:
        return f"Left out this season: {what}{where}."
    return f"Noted as done: {what}{where}."


BECAME: Final = {MarkState.DONE: "done", MarkState.PUT_OFF: "put off", MarkState.REFUSED: "left out"}


def mark_in_words(mark: JobMark) -> str:
    """One answer to a job, as undo and the season say it."""
    return f"{DOING[mark.kind]}{f' at {mark.tree}' if mark.tree else ''} {BECAME[mark.state]}"


def packed(lines: Iterable[str], longest: int = LONGEST) -> list[str]:
    """Lines put together into as few messages as hold them, none longer than asked; no line is cut.

    >>> packed(["one", "two", "three"], longest=8)
    ['one\\ntwo', 'three']
    """
    messages: list[str] = []
    for line in lines:
        if messages and len(messages[-1]) + 1 + len(line) <= longest:
            messages[-1] += f"\n{line}"
        else:
            messages.append(line)
    return messages
