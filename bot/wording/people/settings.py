"""The sentences about what is set: for one person, and for the garden."""

from collections.abc import Sequence
from datetime import datetime, time

from bot.replies.phrases.setting_phrases import Setting
from bot.settings import Garden
from bot.weather_services import SERVICES
from bot.wording.formats import Style, names, time_of_day


def own(*, muted: bool, away_until_utc: datetime | None, wakes: bool, style: Style, now: datetime) -> list[str]:
    """What one person has set, each with the word that changes it."""
    nudges = 'Nudges to you: off. To change it, say "start".' if muted else 'Nudges to you: on. To end them: "stop".'
    night = 'on. To change it: "don\'t wake me".' if wakes else 'off. To change it: "wake me".'
    away = (
        [f'You are away until {style.day(away_until_utc, now)}. Say "back" when you are not.'] if away_until_utc else []
    )
    return [nudges, f"Waking you when the worst threatens: {night}", *away]


def shown(garden: Garden) -> str:
    """All settings that the chat may change, with an example of each."""
    lines = [
        f'Units: {_units(garden)}. Change: "use °F and inches".',
        f'Quiet hours: {_quiet(garden)}. Change: "quiet from {_between(garden, time(22), time(6))}".',
        f'Whose way: {garden.tending}. Change: "early", or for one tree "tend {garden.trees[0].name} early".',
        f'Worth: {_worths(garden)}. Change: "{garden.trees[0].name} is worth 60".',
        f'Weather from {_services(garden)}. Change: "weather from met-norway, then open-meteo".',
        f'{_page(garden)} Change: "{"no page" if garden.page_on_saturdays else "page"} on saturdays".',
    ]
    return "\n".join(lines)


def changed(before: Garden, after: Garden, wanted: Sequence[Setting]) -> str:
    """What was changed, as it now is."""
    keys = {one.key for one in wanted}
    told = []
    if any(one.table == "units" for one in wanted):
        told.append(f"Units: {_units(after)}")
    if "quiet_from" in keys:
        told.append(f"Quiet hours: {_quiet(after)}")
    for one in wanted:
        if one.key == "worth_trips":
            told.append(f"{one.tree} is worth {one.value} trips")
        if one.key == "page_on_saturdays":
            told.append(_page(after).rstrip("."))
        if one.key == "services":
            told.append(f"Weather from {_services(after)}")
    same = " It was so already." if before == after else ""
    return f"{'. '.join(told)}.{same}"


def _units(garden: Garden) -> str:
    units = garden.units
    comma = ", decimal comma" if units.decimal == "comma" else ""
    return f"{'°F' if units.fahrenheit else '°C'}, {units.length}, {units.wind}{comma}"


def _quiet(garden: Garden) -> str:
    return _between(garden, garden.quiet_from, garden.quiet_until)


def _between(garden: Garden, begins: time, ends: time) -> str:
    fahrenheit = garden.units.fahrenheit
    return f"{time_of_day(begins, fahrenheit=fahrenheit)} to {time_of_day(ends, fahrenheit=fahrenheit)}"


def _worths(garden: Garden) -> str:
    by_worth: dict[float, list[str]] = {}
    for tree in garden.trees:
        by_worth.setdefault(tree.worth_trips, []).append(tree.name)
    return "; ".join(f"{names(trees)} {worth:g} trips" for worth, trees in by_worth.items())


def _page(garden: Garden) -> str:
    return "The page comes on Saturdays." if garden.page_on_saturdays else "The page comes when you ask."


def _services(garden: Garden) -> str:
    return ", then ".join(SERVICES[one].title for one in garden.services)
