"""The sentences about what is set: for one person, and for the garden."""

from collections.abc import Sequence
from datetime import datetime

from bot.settings import Garden
from bot.wording.formats import Style, names


def own(*, muted: bool, away_until_utc: datetime | None, wakes: bool, style: Style, now: datetime) -> list[str]:
    """What one person has set, each with the word that changes it."""
    nudges = 'Nudges to you: off. To change it, say "start".' if muted else 'Nudges to you: on. To end them: "stop".'
    night = 'on. To change it: "don\'t wake me".' if wakes else 'off. To change it: "wake me".'
    away = (
        [f'You are away until {style.day(away_until_utc, now)}. Say "back" when you are not.'] if away_until_utc else []
    )
    return [nudges, f"Waking you when the worst threatens: {night}", *away]


def of_garden(garden: Garden, people: Sequence[str], style: Style, *, is_owner: bool) -> list[str]:
    """What holds for the garden, and where an owner changes it."""
    scale = "°F" if style.fahrenheit else "°C"
    quiet = f"{garden.quiet_from:%H:%M} to {garden.quiet_until:%H:%M}"
    lines = [
        f"{garden.name}: {scale}, {style.wind}, {style.length}; times in {garden.site.time_zone}.",
        f"Quiet hours: {quiet}. Weather from {names([str(one) for one in garden.services])}.",
        f"Here are {names(people)}.",
    ]
    how = 'These stand in the garden file: say "export", change it, and send it back.'
    return [*lines, how if is_owner else "An owner can change these."]
