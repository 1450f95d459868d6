"""Why a tree is, or is not, asked about: in the heat model's own terms, in at most five short lines."""

from collections.abc import Sequence
from typing import Final

from bot.wording.covers.words import covers_of, do_words, stands_words, words_of
from bot.wording.dead_wood import why_no_cover
from bot.wording.doubts import doubts_in_words
from bot.wording.formats import Style, chance, minutes, sentence, too_cold
from bot.wording.nudges.asks import TIP_MATTERS_C
from bot.wording.overheating import hot_lines, stewing
from rules.garden.cover import Cover, CoverState
from rules.garden.doubt import Doubt, DoubtKind
from rules.garden.materials import Fill
from rules.garden.records import DeedKind
from rules.garden.species import Organ
from rules.heat.terms import HeatTerms
from rules.outlook.garden_outlook import Outlook
from rules.outlook.nights import POT_L
from rules.outlook.triage import HELPS, THREATENED
from rules.plan.garden_plan import Act, SecondBest, WouldChange
from rules.wood.hardiness import Hardiness, HardinessSource
from rules.wood.margins import Night, Tissue, TreeMargins

SOURCE = {
    HardinessSource.YOUR_NUMBER: "your own number",
    HardinessSource.YOUR_WINTERS: "model, moved by your own winters as you accepted",
    HardinessSource.MODEL: "model of its own season",
    HardinessSource.MODEL_AND_USUAL: "model of its own season, half way to the usual one here",
    HardinessSource.TABLE: "estimate of a table",
}
DEED_TO: Final = {
    CoverState.BARE: DeedKind.STRIPPED, CoverState.VENTED: DeedKind.VENTED, CoverState.CLOSED: DeedKind.CLOSED,
}  # fmt: skip
LEAST_W = 0.5  # a flow below this is not worth a word
TOLD_BY_THE_LINES = (DoubtKind.HARDINESS_GUESSED, DoubtKind.COVER_GUESSED)  # their ± stands beside the number
TOLD = 0.05  # of the wood gone already, from which on it is told apart; no source
ROOTS_NEAR_C = 3.0  # above what they bear, from where on roots in a pot are told; no source
LITTLE = 0.04  # shares of the wood below it are not told apart; no source
WORSE = (  # what the next best costs more, in trips to the garden, and how that is said; no source
    (0.3, "about as good"), (1.5, "a little worse"), (5.0, "clearly worse"), (float("inf"), "much worse"),
)  # fmt: skip
ORDINALS = {2: "Second", 3: "Third", 4: "Fourth", 5: "Fifth", 6: "Sixth", 7: "Seventh"}


def why(one: TreeMargins, outlook: Outlook, style: Style, terms: HeatTerms | None = None, offer: str = "") -> str:
    """The cold and what is safe, each state, the heat of the cover, worth and what would change it, first doubts.

    `offer` is what can still be done for it where nothing is asked.
    """
    night = night_asked(one, outlook)
    if night is None:
        return f"I have no forecast for {one.tree.name}."
    lines = [_cold(one, night, outlook, style), _tissue_c(one, night, style)]
    if terms is not None and one.cover is not None:
        lines.append(heat_line(terms, one.cover, state_explained(one), style))
    lines.append(_advice(one, outlook, style, offer))
    doubts = [doubt for doubt in (*outlook.doubts, *_own_doubts(one)) if doubt.kind not in TOLD_BY_THE_LINES]
    lines.append(" ".join(doubts_in_words(doubts, style)[:2]))
    return "\n".join(line for line in lines if line)


def night_asked(one: TreeMargins, outlook: Outlook) -> Night | None:
    """The night the next act is for, else the first that threatens it as it stands, else the next; None without any."""
    if not one.nights:
        return None
    if act := _act(one, outlook):
        return one.night_of(act.night)
    cold = [] if one.tree.left_bare else [night for night in one.nights if _harm(one, night) >= THREATENED]
    return next(iter(cold), one.nights[0])


def _harm(one: TreeMargins, night: Night) -> float:
    return night.tissue[one.state_assumed].chance


def state_explained(one: TreeMargins) -> CoverState:
    """The state whose heat is told: as the cover stands, shut where it is not on."""
    return CoverState.CLOSED if one.state_assumed == CoverState.BARE else one.state_assumed


def short_why(one: TreeMargins, outlook: Outlook, style: Style) -> str:
    """The same in one line, for the other trees of one ask."""
    night = night_asked(one, outlook)
    if night is None:
        return f"{one.tree.name}: no forecast."
    tissue = night.tissue[one.state_assumed]
    feels, wood = style.degrees(tissue.wood_c), style.degrees(one.hardiness.lt10_c)
    stands = stands_words(one.cover, one.state_assumed)
    return f"{one.tree.name}, {stands}: would feel {feels}, safe to {wood}, {too_cold(tissue.chance)}."


def safe_in_words(wood: Hardiness, style: Style) -> str:
    """What a tree can take, its phase, and where the number comes from.

    "−6 °C (hardening; model of its own season, ± 1.7 °C)"
    """
    return f"{style.degrees(wood.lt10_c)} ({wood.phase}; {SOURCE[wood.source]}, ± {style.step(wood.sd_c)})"


def _cold(one: TreeMargins, night: Night, outlook: Outlook, style: Style) -> str:
    when = sentence(style.night(night.evening, outlook.now)).rstrip(".")
    outside = f"{when} {style.degrees(night.air_c)} at {one.tree.name} near {style.round_clock(night.lowest_utc)}."
    return f"{outside} It is safe to {safe_in_words(one.hardiness, style)}."


def _tissue_c(one: TreeMargins, night: Night, style: Style) -> str:
    """What the wood would feel in each state, and how sure it is as it stands."""
    state = one.state_assumed
    states = _by_state(one, night, style)
    now = night.tissue[state]
    tip = f" (its tip {style.degrees(now.top_c)})" if now.top_c < now.wood_c - TIP_MATTERS_C else ""
    stands = f"As it stands, {stands_words(one.cover, state)}{tip}" if len(states) > 1 else f"So{tip}"
    felt = f"Its wood would feel: {', '.join(states)}. {stands}: {too_cold(now.chance)}."
    return " ".join([felt, *_roots(one, now, style)])


def _roots(one: TreeMargins, now: Tissue, style: Style) -> list[str]:
    """What the roots in a pot would feel, where that is near what kills them."""
    if now.roots_c is None:
        return []
    safe_c = one.hardiness.organs[Organ.ROOTS].lt10_c
    if now.roots_c > safe_c + ROOTS_NEAR_C:
        return []
    pot = "10 gallons" if style.length == "in" else f"{POT_L:.0f} litres"
    return [f"Its roots, in a pot of {pot}: {style.degrees(now.roots_c)}, safe to {style.degrees(safe_c)} (a guess)."]


def _by_state(one: TreeMargins, night: Night, style: Style) -> list[str]:
    """What it would feel in each way it can stand; ways that people call the same are told once."""
    felt: dict[str, Tissue] = {}
    for state, tissue in night.tissue.items():
        stands = words_of(one.cover).stands[state]
        if state is not CoverState.VENTED or stands not in felt:
            felt[stands] = tissue
    return [f"{stands} {style.degrees(tissue.wood_c)}" for stands, tissue in felt.items()]


def heat_line(terms: HeatTerms, cover: Cover, state: CoverState, style: Style) -> str:
    """Where the heat in a cover comes from and goes to in the twelve hours up to the lowest one.

    A flow that runs the other way is told on the other side.
    """
    fill = "cover" if cover.fill is Fill.NONE else str(cover.fill)
    top = words_of(cover).top or "top"
    leak = f"open {top}" if state == CoverState.VENTED else "leaks"
    into = [("ground", terms.ground_w), (f"cooling {fill}", terms.fill_w), ("cooling wood", terms.wood_w)]
    over = top if terms.tip_walls_c is None else "sky over it"
    out = [("side", terms.side_w), (over, terms.cap_w), (leak, terms.leaks_w)]
    out.append(("radiated through the film", terms.sky_w))
    gives = [(name, w) for name, w in into if w >= LEAST_W] + [(name, -w) for name, w in out if w <= -LEAST_W]
    takes = [(name, w) for name, w in out if w >= LEAST_W]
    takes += [(name.removeprefix("cooling "), -w) for name, w in into if w <= -LEAST_W]
    gain = f"{style.step(terms.gain_c)} {'above' if terms.gain_c >= 0 else 'below'} the air"
    parts = [f"{sentence(stands_words(cover, state)).rstrip('.')} the wood stays {gain}."]
    parts += [f"Heat in: {_flows(gives)}."] if gives else []
    parts += [f"Out: {_flows(takes)}."] if takes else []
    parts += [f"The last sun is worth {style.step(terms.sun_c)}."] if terms.sun_c >= 0.1 else []
    parts += _open_tip(terms, style)
    spell = ORDINALS.get(min(terms.nights, 7))
    parts += [f"{spell} cold night running: what was stored is going."] if spell else []
    return " ".join(parts)


def _open_tip(terms: HeatTerms, style: Style) -> list[str]:
    """What an open top does to the tip, where it is enough to be told."""
    if terms.tip_walls_c is None or terms.tip_still_air_c is None:
        return []
    walls, still = terms.tip_walls_c, terms.tip_still_air_c
    parts = [f"walls {style.step(abs(walls))} {'warmer' if walls > 0 else 'colder'}"] if abs(walls) >= 0.1 else []
    parts += [f"out of the wind {style.step(still)} colder"] if still >= 0.1 else []
    return [f"The tip beside one in the open: {', '.join(parts)}."] if parts else []


def _flows(flows: Sequence[tuple[str, float]]) -> str:
    return ", ".join(f"{name} {watts:.0f} W" for name, watts in sorted(flows, key=lambda flow: -flow[1]))


def _advice(one: TreeMargins, outlook: Outlook, style: Style, offer: str) -> str:
    """What the advice saves and costs, what would change it, the next best, and the heat of the day."""
    if one.tree.left_bare:
        return "Left bare on purpose: I watch it and ask nothing."
    act = _act(one, outlook)
    dead = why_no_cover(one, style, outlook.now)
    if dead and (not act or one.hardiness.lost.in_question):
        return " ".join([*([price_line(act, outlook)] if act else []), dead])
    parts = [price_line(act, outlook)] if act else [offer or _nothing_to_do(one, outlook, style)]
    thoughts = outlook.plan.second_thoughts()
    turn = next((turn for turn in thoughts.would_change if turn.tree == one.tree.name), None)
    parts += [turn_line(turn, one, outlook, style)] if turn else []
    parts += [second_line(thoughts.second_best, outlook)] if act and thoughts.second_best else []
    parts += hot_lines([hot for hot in stewing(outlook) if hot.tree == one.tree.name], style, outlook)
    return " ".join(parts)


def _nothing_to_do(one: TreeMargins, outlook: Outlook, style: Style) -> str:
    """That nothing is asked for here; or, of a cover that is not shut, when and how much shutting it would help."""
    if one.cover is None:
        return "It has no cover."
    night = night_asked(one, outlook)
    shut = night.tissue.get(CoverState.CLOSED) if night else None
    if night is None or shut is None or one.state_assumed is CoverState.CLOSED:
        return "Nothing to do here now."
    now = night.tissue[one.state_assumed]
    if now.chance < THREATENED or now.chance - shut.chance < HELPS:
        return "Nothing to do here now."
    deed = DeedKind.WRAPPED if one.state_assumed is CoverState.BARE else DeedKind.CLOSED
    act = sentence(do_words(deed, ["it"], {"it": one.cover})).rstrip(".")
    odds = f"{too_cold(now.chance)} as it is, {chance(shut.chance)} then"
    return f"{act} before {style.night(night.evening, outlook.now)}: {odds}."


def _act(one: TreeMargins, outlook: Outlook) -> Act | None:
    return next((act for act in outlook.acts if act.tree == one.tree.name), None)


def price_line(act: Act, outlook: Outlook) -> str:
    """What an act takes in time, and what would likely become of the wood with it and without."""
    verb = sentence(do_words(act.kind, ["it"], {"it": outlook.tree(act.tree).cover})).rstrip(".")
    takes = f"{verb}: {minutes(act.minutes)}."
    gone = outlook.tree(act.tree).hardiness.lost_share
    past = (
        f" {sentence(share_in_words(gone)).rstrip('.')} of its wood is probably gone already." if gone >= TOLD else ""
    )
    without, done = (share_in_words(max(lost - gone, 0.0)) for lost in (act.lost, act.lost_after))
    more = " more" if past else ""
    if without == done:
        return f"{takes}{past} By the end of the forecast it would likely lose {without}{more} of its wood either way."
    if act.kind is DeedKind.BLANKETED:
        takes = f"{takes} A cover put on for one night costs more time than that, and packed in its leaves would rot."
    left = f"Left as it is it would likely lose {without}{more} of its wood by the end of the forecast; done, {done}."
    return f"{takes}{past} {left}"


def share_in_words(share: float) -> str:
    """A share of the wood, to the nearest tenth; a forecast knows no finer.

    >>> [share_in_words(one) for one in (0.01, 0.08, 0.34, 0.97)]
    ['hardly any', 'about a tenth', 'about 3 tenths', 'nearly all']
    """
    tenths = round(10 * share)
    if share < LITTLE:
        return "hardly any"
    if share > 1.0 - LITTLE:
        return "nearly all"
    return "about a tenth" if tenths <= 1 else "about half" if tenths == 5 else f"about {min(tenths, 9)} tenths"


def turn_line(turn: WouldChange, one: TreeMargins, outlook: Outlook, style: Style) -> str:
    """Which change of the forecast would change the advice."""
    which = "warmer" if turn.change_c > 0 else "colder"
    night = style.night(turn.night, outlook.now)
    wraps = one.state_assumed == CoverState.BARE != turn.state
    deed = DeedKind.WRAPPED if wraps else DEED_TO[turn.state]
    act = do_words(deed, ["it today"], {"it today": one.cover})
    then = "leave it as it is" if turn.state == one.state_assumed else act
    return f"{sentence(f'{style.step(turn.change_c)} {which} {night}').rstrip('.')}, and I would say: {then}."


def second_line(other: SecondBest, outlook: Outlook) -> str:
    """The next best thing to do, and how much worse it is."""
    jobs = [do_words(kind, [act.tree for act in other.acts if act.kind == kind], covers_of(outlook))
            for kind in dict.fromkeys(act.kind for act in other.acts)]  # fmt: skip
    what = ", ".join(jobs) or "leave all as it is"
    worse = next(words for most, words in WORSE if other.dearer_trips < most)
    return f"Next best: {what}; {worse}."


def _own_doubts(one: TreeMargins) -> tuple[Doubt, ...]:
    """Without the doubt about the cover once somebody has told how it stands."""
    told = one.state is not None
    doubts = (*one.doubts, *one.hardiness.doubts)
    return tuple(doubt for doubt in doubts if not (told and doubt.kind is DoubtKind.STATE_UNKNOWN))
