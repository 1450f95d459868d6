"""The sentences about the last and the first freeze, and about when a cover may come off for good."""

from collections.abc import Sequence
from dataclasses import dataclass

from bot.wording.doubts import doubts_in_words
from bot.wording.formats import Style, chance, names, sentence
from bot.wording.nudges.asks import reason
from rules.garden.doubt import DoubtKind
from rules.outlook.garden_outlook import Outlook
from rules.plan.garden_plan import Act
from rules.weather.freeze_dates import FreezeDates
from rules.weather.freeze_seasons import WhichFreeze

NO_WINTERS = (
    "I know no past winters here, so I cannot say. Name a file of daily minima in the garden file "
    "(past_winters), or let me ask open-meteo."
)
UNREADABLE = "Your file of past winters could not be read. Until it is mended I cannot say."
FETCHING = "I am still fetching the past winters of this place. Please ask again later today."


@dataclass(frozen=True, kw_only=True)
class FreezeAsked:
    """One threshold at one place: its dates, what the threshold is, and the chance that such a night still comes.

    `what` is empty where the threshold says all; `still` is for spring alone.
    """

    dates: FreezeDates
    where: str
    what: str = ""
    still: float | None = None


def freezes(asked: Sequence[FreezeAsked], style: Style, origin: str, shift_c: float = 0.0) -> str:
    """One line a threshold, then what it rests on; `shift_c` is how much warmer the nights are taken at the tree."""
    lines = [freeze_line(one, style) for one in asked]
    winters = max(one.dates.winters for one in asked)
    few = any(doubt.kind is DoubtKind.FEW_PAST_WINTERS for one in asked for doubt in one.dates.doubts)
    rests = f"From {winters} winters{' only' if few else ''}, {origin}."
    if abs(shift_c) >= 0.05:
        how = "warmer" if shift_c > 0 else "colder"
        rests += f" The nights there are taken as {style.step(shift_c)} {how} than in the open."
    others = [d for one in asked for d in one.dates.doubts if d.kind is not DoubtKind.FEW_PAST_WINTERS]
    doubts = doubts_in_words(others, style)[:1]
    return "\n".join([*lines, rests, *doubts])


def freeze_line(one: FreezeAsked, style: Style) -> str:
    """When the last or first such night comes.

    "Last −2 °C at Porch fig: half of years by 26 April, one in ten after 11 May."
    """
    dates, last = one.dates, one.dates.which is WhichFreeze.LAST_IN_SPRING
    what = f" ({one.what})" if one.what else ""
    head = f"{'Last' if last else 'First'} {style.degrees(dates.threshold_c)} {one.where}{what}"
    if dates.share is None:
        return f"{head}: not known."
    if dates.safe is None:
        return f"{head}: fewer than one year in ten has one at all."
    tail = f"one in ten {'after' if last else 'before'} {style.long_date(dates.safe)}"
    half = f"half of years by {style.long_date(dates.half)}" if dates.half else "half of years have none"
    said = f"{head}: {half}, {tail}." if last else f"{head}: {tail}, {half}."
    if one.still is not None and 0.02 <= one.still <= 0.98:
        said += f" {sentence(f'{chance(one.still)} that one still comes')}"
    return said


@dataclass(frozen=True, kw_only=True)
class StripAsked:
    """Trees as hardy as each other in leaf at alike warm places, their last such night, the plan's own act if any.

    `as_taught` where their grower's own way takes covers off in June.
    """

    trees: Sequence[str]
    dates: FreezeDates
    act: Act | None
    as_taught: bool = False


def strip_when(asked: Sequence[StripAsked], outlook: Outlook | None, style: Style, origin: str) -> str:
    """When covers may come off for good: by the plan where it asks for it, else by past winters."""
    lines = [_planned(one.act, outlook, style) for one in asked if one.act and outlook]
    by_date = [one for one in asked if one.act is None]
    lines += [_strip_line(one, style) for one in by_date]
    if any(one.dates.half for one in by_date):
        winters = max(one.dates.winters for one in by_date)
        lines.append(
            "Half of years have their last such night by the first date, one in ten after the second "
            f"({winters} winters, {origin})."
        )
        lines += _when_asked(by_date)
    return "\n".join(lines)


def _when_asked(by_date: Sequence[StripAsked]) -> list[str]:
    """When it will be asked for: by the plan, or in June where that is the way that was chosen."""
    taught = [name for one in by_date if one.as_taught for name in one.trees]
    ours = [name for one in by_date if not one.as_taught for name in one.trees]
    whose = f" for {names(ours)}" if taught else ""
    lines = [f"I ask you{whose} when the time comes."] if ours else []
    if taught:
        whose = names(taught)
        lines.append(f'As you were taught, I ask for {whose} in June. Off sooner, if you like: say "stripped {whose}".')
    return lines


def _planned(act: Act, outlook: Outlook, style: Style) -> str:
    day = style.day(act.from_utc, outlook.now)
    return f"Strip {act.tree} {day} from {style.clock(act.from_utc)}. {reason(act, outlook, style)}"


def _strip_line(one: StripAsked, style: Style) -> str:
    dates, safe_to = one.dates, style.degrees(one.dates.threshold_c)
    in_leaf = f"{'is' if len(one.trees) == 1 else 'are'} safe to {safe_to} in leaf"
    if dates.half is None or dates.safe is None:
        return f"{names(one.trees)}: {in_leaf}. " + freeze_line(FreezeAsked(dates=dates, where="there"), style)
    by, until = style.long_date(dates.half), style.long_date(dates.safe)
    strip = "by past frosts the cover could be off from about" if one.as_taught else "strip about"
    return f"{names(one.trees)}: {strip} {by}, cover at hand until {until} ({in_leaf})."
