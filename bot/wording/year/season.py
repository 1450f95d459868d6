"""The sentences of the season record: what was noted, the page of the season, twins side by side."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from bot.wording.formats import Style, counted, names
from bot.wording.year.jobs import mark_in_words
from rules.garden.cultivars import Repeated
from rules.garden.records import Deed, Dieback
from rules.garden.season_records import Cuttings, Gift, Harvest, Photo, Pruning, SeasonEntry
from rules.jobs import JobMark

LONGEST_PAGE = 12  # lines; more is not read on a phone. Assumed, no source
Entries = Sequence[object]


@dataclass(frozen=True, kw_only=True)
class TreePage:
    """What the page says of one tree: the cold its wood felt, against what it was safe to, and what was told of it."""

    name: str
    low_c: float | None = None
    lt10_c: float | None = None
    too_cold_days: int = 0
    entries: Entries = ()


def noted(entry: SeasonEntry, entries: Entries, twin: str | None, style: Style) -> list[str]:
    """What was just noted, in words; fruit with the season's sum, dieback with its twin's."""
    text = f"Noted: {_sentence_of(entry, style)}"
    if isinstance(entry, Harvest):
        total = _picked(entries, entry.tree)
        return [f"{text} {total} of this year's crop." if total != entry.count else text]
    if isinstance(entry, Dieback) and twin is not None:
        other = _last_dieback(entries, twin)
        return [f"{text} Its twin {twin} {lost(other, style)}." if other else f"{text} How is its twin, {twin}?"]
    return [text]


def _sentence_of(entry: SeasonEntry, style: Style) -> str:
    match entry:
        case Dieback():
            return f"{entry.tree} {lost(entry, style)}."
        case Harvest():
            return f"{entry.count} picked from {entry.tree}."
        case Pruning():
            return f"{entry.tree} pruned{f' {entry.text}' if entry.text else ''}."
        case Cuttings():
            whom = f" {entry.text}" if entry.text else ""
            return f"{counted(entry.count, 'cutting')} from {entry.tree}{whom}."
        case Gift():
            return f"{entry.tree} goes to {entry.to}."
        case Photo():
            return f"a photo of {entry.tree or 'the garden'}."


def entry_in_words(entry: SeasonEntry | JobMark, style: Style) -> str:
    """One record of the season, as undo and the page of one tree say it."""
    if isinstance(entry, JobMark):
        return mark_in_words(entry)
    return _sentence_of(entry, style).rstrip(".")


def lost(dieback: Dieback, style: Style) -> str:
    """How much of a tree died.

    >>> from zoneinfo import ZoneInfo
    >>> from datetime import UTC
    >>> lost(Dieback(tree="Porch", at_utc=datetime(2026, 4, 1, tzinfo=UTC), length_m=0.3, whole_m=1.5),
    ...      Style(zone=ZoneInfo("UTC")))
    'died back 30 cm of 150 cm, a fifth'
    """
    if dieback.share == 0:
        return "came through whole"
    if dieback.share == 1:
        return "died to the ground"
    if dieback.length_m is None:
        return f"lost {_share(dieback.share or 0.0)} of its wood"
    whole = f" of {style.size(dieback.whole_m)}, {_share(dieback.lost or 0.0)}" if dieback.whole_m else ""
    return f"died back {style.size(dieback.length_m)}{whole}"


def _share(share: float) -> str:
    plain = {1 / 2: "half", 1 / 3: "a third", 2 / 3: "two thirds", 1 / 4: "a quarter", 3 / 4: "three quarters"}
    plain |= {1 / 5: "a fifth", 1 / 10: "a tenth"}
    return next((words for part, words in plain.items() if abs(part - share) < 0.005), f"{share:.0%}")


def page(
    since: datetime,
    trees: Sequence[TreePage],
    twins: Sequence[str],
    repeated: Sequence[Repeated],
    done_by: Sequence[tuple[str, int]],
    style: Style,
) -> str:
    """The season on one page, at most twelve short lines."""
    local = since.astimezone(style.zone)
    tail = [*twins, *_repeats(repeated, trees), *_done_by(done_by)][: LONGEST_PAGE - 3]
    room = LONGEST_PAGE - 1 - len(tail)
    shown = list(trees) if len(trees) <= room else list(trees[: room - 1])
    rest = [f'And {len(trees) - len(shown)} more: say for example "season {trees[-1].name}".'] if trees[room:] else []
    lines = [f"{one.name}: {facts_of(one, style)}." for one in shown]
    return "\n".join([f"The season since {style.short_date(local)}.", *lines, *rest, *tail])


def facts_of(one: TreePage, style: Style) -> str:
    """What is known of one tree's season, in half a sentence."""
    facts = []
    if one.low_c is not None and one.lt10_c is not None:
        facts.append(f"coldest {style.degrees(one.low_c)}, safe to {style.degrees(one.lt10_c)} now")
    if one.too_cold_days:
        facts.append(f"too cold on {counted(one.too_cold_days, 'day')}")
    dieback = _last_dieback(one.entries, one.name)
    facts += [lost(dieback, style)] if dieback else []
    facts += _counted(one)
    return "; ".join(facts) or "nothing told yet"


def _counted(one: TreePage) -> list[str]:
    picked = _picked(one.entries, one.name)
    cut = sum(e.count for e in one.entries if isinstance(e, Cuttings))
    prunings = sum(isinstance(e, Pruning) for e in one.entries)
    photos = sum(isinstance(e, Photo) for e in one.entries)
    gifts = [f"goes to {e.to}" for e in one.entries if isinstance(e, Gift)][-1:]
    return [
        *([f"{picked} picked"] if picked else []),
        *(["pruned"] if prunings else []),
        *([counted(cut, "cutting")] if cut else []),
        *([counted(photos, "photo")] if photos else []),
        *gifts,
    ]


def twins_line(covered: str, bare: str, entries: Entries, style: Style) -> str | None:
    """Covered and bare side by side; None while nothing was told of either."""
    told = [(name, _last_dieback(entries, name)) for name in (covered, bare)]
    if not any(dieback for _, dieback in told):
        return None
    words = [lost(dieback, style) if dieback else "not told yet" for _, dieback in told]
    return f"Twins: {covered} (covered) {words[0]}; {bare} (bare) {words[1]}."


def _repeats(repeated: Sequence[Repeated], trees: Sequence[TreePage]) -> list[str]:
    gifts = {e.tree: e.to for one in trees for e in one.entries if isinstance(e, Gift)}
    return [_repeat(one, gifts) for one in repeated]


def _repeat(one: Repeated, gifts: Mapping[str, str]) -> str:
    twice = f"{names(one.trees)} are the same cultivar, {one.cultivar}."
    if not one.spare:
        return twice
    whom = gifts.get(one.spare[0])
    return f"{twice} {names(one.spare)} is the spare, {f'for {whom}' if whom else 'to give away: to whom?'}"


def _done_by(done_by: Sequence[tuple[str, int]]) -> list[str]:
    counts = ", ".join(f"{name} {count}" for name, count in done_by)
    return [f"Done at the covers: {counts}."] if counts else []


def done_by(deeds: Sequence[tuple[int | None, str, object]]) -> list[tuple[str, int]]:
    """How many deeds each person did, busiest first; people are their ids, two of one name are two."""
    done = [(name if who is None else who, name) for who, name, entry in deeds if isinstance(entry, Deed)]
    called = dict(done)  # by the name they bore last
    return [(called[who], count) for who, count in Counter(who for who, _ in done).most_common()]


def tree_page(name: str, lines: Sequence[tuple[datetime, str, str]], style: Style, now: datetime) -> str:
    """What was told of one tree this season: day, what, who; the last eleven."""
    if not lines:
        return f"{name}: nothing told this season."
    shown = lines[-(LONGEST_PAGE - 1) :]
    return "\n".join([f"{name} this season:", *(_told_line(at, what, who, style, now) for at, what, who in shown)])


def _told_line(at: datetime, what: str, who: str, style: Style, now: datetime) -> str:
    local = at.astimezone(style.zone)
    day = style.day(at, now) if 0 <= (now - at).days < 2 else style.short_date(local)
    return f"{day}: {what} ({who})"


def _picked(entries: Entries, tree: str) -> int:
    return sum(e.count for e in entries if isinstance(e, Harvest) and e.tree == tree)


def _last_dieback(entries: Entries, tree: str) -> Dieback | None:
    found = [e for e in entries if isinstance(e, Dieback) and e.tree == tree]
    return found[-1] if found else None
