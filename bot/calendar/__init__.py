"""The garden's weeks ahead as a calendar (iCalendar, RFC 5545) for whatever keeps the grower's days."""

from bot.calendar.events import AHEAD, calendar_of

__all__ = ["AHEAD", "calendar_of"]
