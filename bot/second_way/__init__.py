"""A second way to reach people, by e-mail, text message or push, for what can't wait."""

from bot.second_way.addresses import WayError, Ways, shown
from bot.second_way.telling import SecondWay

__all__ = ["SecondWay", "WayError", "Ways", "shown"]
