"""What a nudge asks for: the ask first, since a phone shows the first line; then the reason; then how sure."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from bot.nudges import Ask, Stage
from bot.wording.covers.words import covers_of, do_words, done_alone, has_top, stands_words, words_of
from bot.wording.formats import Style, chance, counted, five_minutes, minutes, names, sentence, too_cold
from rules.garden.cover import CoverState
from rules.garden.records import DeedKind
from rules.garden.species import Organ
from rules.garden.tree import Tending
from rules.outlook.garden_outlook import Outlook
from rules.outlook.triage import AFTER_SUNRISE, calm_work
from rules.plan.garden_plan import Act, Reason
from rules.plan.slots import NO_FILM_GUST_M_S
from rules.wood.hardiness import Hardiness
from rules.wood.margins import Night, TreeMargins

# how a cover stands before the deed that is asked for
BEFORE = {
    DeedKind.WRAPPED: CoverState.BARE, DeedKind.CLOSED: CoverState.VENTED, DeedKind.BLANKETED: CoverState.BARE,
}  # fmt: skip
TIP_MATTERS_C = 0.75  # below this the tip is not worth a word
NEAR_DUSK = timedelta(minutes=45)
LONG_JOB_MIN = 30.0  # from here on it matters when to begin; no source
UNLIKELY = 0.1  # chance below which it is told why it is asked for all the same; no source
STILL_TOLD = 0.2  # chance left after an act that is worth a word; no source
MOST_REASONS = 3  # lines of reasons in one message; "why" tells the rest. No source
PLAIN_REASONS = {
    Reason.ROT: "Shut in, green leaves rot.",
    Reason.BUDS: "Buds break, and shoots in the dark grow pale. No night of the forecast is too cold for the wood. "
    "Cap first, on a calm grey day; keep the cover at hand: a late frost takes green shoots.",
    Reason.RISK_OVER: "No night in the forecast is too cold for swollen buds. Keep the cover at hand.",
    Reason.YOUR_WAY: "Your own way asks for it, as you chose.",
}
# what each way goes by, as the plan follows it
WAY_REASONS = {
    (Tending.EARLY, DeedKind.VENTED): "Tended early: opened from mid-March on, once all nights told are mild "
    "enough to leave it open.",
    (Tending.EARLY, DeedKind.STRIPPED): "Tended early: off about when buds break, and no night told is too cold for "
    "swollen buds.",
    (Tending.AS_TAUGHT, DeedKind.VENTED): "As you were taught: opened in a warm spell, once four nights ahead are mild "
    "enough.",
    (
        Tending.AS_TAUGHT,
        DeedKind.STRIPPED,
    ): "As you were taught: off in June, and no night told is too cold for swollen buds.",
}


def ask_text(stage: Stage, ask: Ask, outlook: Outlook, style: Style) -> str:
    """What is asked, until when, why, and of a blanket why no cover."""
    lines = [_opening(stage, ask, outlook, style), *_before_that(ask, outlook), *_reasons(ask, outlook, style)]
    return "\n".join([*lines, *_worth_it(ask, outlook), *_stopgap(ask)])


def _opening(stage: Stage, ask: Ask, outlook: Outlook, style: Style) -> str:
    what = do_words(ask.verb, ask.trees, covers_of(outlook))
    when = _by(ask, outlook, style)
    time = _work(ask, outlook, style)
    if stage == Stage.HEADS_UP:
        return f"Heads-up: {what} {when}. {time}"
    if stage == Stage.WAKE:
        return f"You asked to be woken: {what} now. {minutes(ask.minutes)}; no ladder in the dark."
    if stage == Stage.LAST_CALL:
        return f"Last call: {what} {when}. {time}"
    return f"{sentence(f'{what} {when}')} {time}"


def _before_that(ask: Ask, outlook: Outlook) -> list[str]:
    """That a night before the work may be too cold already: the later one that is told of would mislead."""
    told: dict[str, float] = {}
    for act in ask.acts:
        one = outlook.tree(act.tree)
        first, day = one.nights[0], min(act.night, ask.day)
        risk = first.tissue[one.state_assumed].chance
        if act.reason is Reason.COLD and first.evening < day and risk >= STILL_TOLD:
            told[act.tree] = risk
    if not told:
        return []
    worst = names([f"{tree} ({chance(risk)})" for tree, risk in sorted(told.items(), key=lambda one: -one[1])])
    return [f'Tonight may be too cold already for {worst}: "what first" tells what still helps.']


def _tops(ask: Ask, outlook: Outlook) -> str:
    """How the tops are to be left after a wrap: what is asked for is what an answer is taken for."""
    topped = [act for act in ask.acts if has_top(outlook.tree(act.tree).cover)]
    if ask.verb != DeedKind.WRAPPED or not topped:
        return ""
    vented = [act.tree for act in topped if act.state == CoverState.VENTED]
    top = words_of(outlook.tree(topped[0].tree).cover).top if len(ask.acts) == 1 else "tops"
    if not vented or len(vented) == len(topped):
        return f" Leave the {top} {'open' if vented else 'shut'}."
    return f" Leave the tops shut, but open on {names(vented)}."


def _by(ask: Ask, outlook: Outlook, style: Style) -> str:
    """Until when, with what ends the time for it: dusk, or the wind."""
    now, done = outlook.now, ask.done_by_utc + timedelta(minutes=sum(act.minutes for act in _besides(ask, outlook)))
    day = style.day(done, now)
    if ask.verb in (DeedKind.VENTED, DeedKind.STRIPPED):
        return f"{day} from {style.clock(ask.from_utc)}" if now < ask.from_utc else f"{day}, any time before dusk"
    dusk = outlook.tree(ask.trees[0]).night_of(ask.day).sunset_utc
    before = ", before dusk" if dusk and dusk - done < NEAR_DUSK else ""
    by = f"by {style.clock(five_minutes(done))}{before}"
    return by if day == "today" else f"{day} {by}"


def _work(ask: Ask, outlook: Outlook, style: Style) -> str:
    """How long it takes, and when to begin where that is not just before."""
    besides = _besides(ask, outlook)
    if ask.minutes < LONG_JOB_MIN or ask.verb not in BEFORE:
        return f"{minutes(ask.minutes)}.{_wind(ask, outlook, style)}{_tops(ask, outlook)}"
    if wind := _wind(ask, outlook, style):
        return f"{minutes(ask.minutes)}.{wind}{_tops(ask, outlook)}"
    all_of_them = "both" if len(ask.acts) == 2 else f"all {len(ask.acts)}"
    fit = f", so that {all_of_them} fit in" if len(ask.acts) > 1 else ""
    if besides:
        others = sum(act.minutes for act in besides)
        fit += f", with the {minutes(others)} for {names([act.tree for act in besides])}"
    begin = style.clock(five_minutes(ask.by_utc))
    return f"{minutes(ask.minutes)}: begin by {begin}{fit}.{_tops(ask, outlook)}"


def _besides(ask: Ask, outlook: Outlook) -> list[Act]:
    """What another message asks for in the same visit: both are begun by the same hour, and not done one by one."""
    shuts = ask.verb in BEFORE
    same = [act for act in outlook.acts if shuts and act.kind in BEFORE and act.by_utc == ask.by_utc]
    return [act for act in same if act.tree not in ask.trees]


def _wind(ask: Ask, outlook: Outlook, style: Style) -> str:
    """When to begin where gusts forbid the work until then: the wind is named."""
    night = outlook.tree(ask.trees[0]).night_of(ask.day)
    calm = calm_work(night, outlook.now)
    sheltered = all(cover is not None and cover.is_shelter for cover in map(covers_of(outlook).get, ask.trees))
    if sheltered or not calm or night.gust_m_s < NO_FILM_GUST_M_S or not _waits(night, calm[0][0], outlook.now):
        return ""
    drops = style.clock(five_minutes(calm[0][0]))
    return f" Gusts of {style.speed(night.gust_m_s)} before: the wind drops at {drops}; begin then."


def _waits(night: Night, begins: datetime, now: datetime) -> bool:
    """Whether it is the wind that work waits for, not daylight."""
    light = night.sunrise_utc + AFTER_SUNRISE if night.sunrise_utc else now
    return begins > max(now, light)


def _reasons(ask: Ask, outlook: Outlook, style: Style) -> list[str]:
    """One line for each set of trees with the same reason, the likeliest harm first; of many the rest in one line."""
    if len(ask.acts) == 1:
        return [reason(ask.acts[0], outlook, style)]
    said: dict[str, list[Act]] = {}
    for act in sorted(ask.acts, key=lambda act: -act.chance):
        said.setdefault(reason(act, outlook, style), []).append(act)
    lines = [f"{names([act.tree for act in acts])}: {words}" for words, acts in said.items()]
    if len(lines) <= MOST_REASONS:
        return lines
    rest = [act for acts in list(said.values())[MOST_REASONS - 1 :] for act in acts]
    return [*lines[: MOST_REASONS - 1], _in_short(rest)]


def _in_short(acts: Sequence[Act]) -> str:
    """Trees with no room for a line of their own: each with its chance, the same chance once."""
    if any(act.reason != Reason.COLD for act in acts):
        return f"{names([act.tree for act in acts])} likewise."
    by_chance: dict[str, list[str]] = {}
    for act in acts:
        by_chance.setdefault(chance(act.chance), []).append(act.tree)
    told = [f"{names(trees)} ({odds})" for odds, trees in by_chance.items()]
    return f"It may get too cold for {names(told)} as well."


def _worth_it(ask: Ask, outlook: Outlook) -> list[str]:
    """Why a short act against cold that is unlikely is asked for all the same: it is cheap for what it guards."""
    if ask.minutes > LONG_JOB_MIN or any(act.reason != Reason.COLD or act.chance >= UNLIKELY for act in ask.acts):
        return []
    worth = sum(outlook.tree(act.tree).tree.worth_trips for act in ask.acts)
    return [f"Unlikely, but it takes {minutes(ask.minutes)} and the wood is worth {counted(worth, 'trip')} to you."]


def _stopgap(ask: Ask) -> list[str]:
    """Why a blanket is asked for and no cover, where it is to be gone again by day."""
    if ask.verb is not DeedKind.BLANKETED:
        return []
    return ["For one night a blanket is the better way: down to the ground, tied, off again in the morning. Packed in "
            "for longer, leaves rot."]  # fmt: skip


def reason(act: Act, outlook: Outlook, style: Style) -> str:
    """Why one act is asked for, in one line with its chance.

    Raises
    ------
    KeyError
        If the outlook does not know the tree.
    """
    one = outlook.tree(act.tree)
    night = one.night_of(act.night)
    if act.reason == Reason.COLD:
        done = sentence(done_alone(act.kind, one.cover)).rstrip(".")
        still = f" {done}, still {too_cold(act.chance_after)}." if act.chance_after >= STILL_TOLD else ""
        ahead = act.own_way and act.kind is DeedKind.CLOSED and act.night > act.by_utc.astimezone(style.zone).date()
        sooner = " The way you chose shuts the evening before such a night." if ahead else ""
        return f"{cold_reason(one, night, BEFORE[act.kind], act.chance, style, outlook.now)}{still}{sooner}"
    safe_to = style.degrees(one.hardiness.lt10_c)
    if act.reason == Reason.HOT:
        inside = style.degrees(night.tissue[CoverState.CLOSED].warmest_c)
        return f"In the sun it would reach {inside} inside if it stays shut."
    if act.reason == Reason.SOFTEN:
        high = style.degrees(night.day_high_c)
        return f"Up to {high} outside; shut in, it would start to wake. It is safe to {safe_to}."
    if act.reason == Reason.HARDEN:
        return f"Shut in, it cannot harden. The nights ahead are milder than it can take ({safe_to})."
    plain = PLAIN_REASONS[act.reason]
    chose = one.tree.tending if act.reason == Reason.YOUR_WAY else None
    return plain if chose is None else WAY_REASONS.get((chose, act.kind), plain)


def cold_reason(one: TreeMargins, night: Night, state: CoverState, harm: float, style: Style, now: datetime) -> str:
    """The cold that threatens one tree in one night with its cover so: outside, felt, safe to, how likely."""
    tissue = night.tissue[state]
    when = sentence(style.night(night.evening, now)).rstrip(".")
    outside = f"{when} {style.degrees(night.air_c)} near {style.round_clock(night.lowest_utc)}."
    inside = f"{_as(one, state)} the wood would feel {style.degrees(tissue.wood_c)}"
    if tissue.wood_c > one.hardiness.lt10_c >= tissue.low_c:
        inside += f", maybe {style.degrees(tissue.low_c)}"  # else the chance that follows seems to contradict it
    if state is not CoverState.BARE and one.outside and one.cover and one.cover.tree_height_m:
        out_m, bare = one.cover.tree_height_m - one.cover.height_m, night.tissue[CoverState.BARE]
        inside += f", the top {style.size(out_m)} that stands out of it {style.degrees(bare.wood_c)}"
    elif tissue.top_c < tissue.wood_c - TIP_MATTERS_C:
        inside += f", its tip {style.degrees(tissue.top_c)}"
    return f"{outside} {inside}; {safe_in_bud(one.hardiness, style)}. {sentence(too_cold(harm))}"


def _as(one: TreeMargins, state: CoverState) -> str:
    """How it would stand: "With the cap open", "Bare"."""
    stands, top = stands_words(one.cover, state), words_of(one.cover).top
    return f"With the {stands}" if top and stands.startswith(top) else sentence(stands).rstrip(".") + ","


def safe_in_bud(wood: Hardiness, style: Style) -> str:
    """What a tree is safe to; of flower buds whose stage is known, what the cold takes of them at it."""
    if wood.stage is None or wood.watched is not Organ.BUDS:
        return f"it is safe to {style.degrees(wood.lt10_c)}"
    known = "" if wood.stage.seen else " by my estimate"
    return f"at {wood.stage.row.stage}{known}, {style.degrees(wood.lt10_c)} takes one bud in ten"
