"""Rounds: gather, decide, write."""

from bot.rounds.gathering import RoundInputs, gather
from bot.rounds.inputs import inputs_of, style_of
from bot.rounds.setting import Setting
from bot.rounds.weather.asking import refresh_forecast
from bot.rounds.weather.past_files import past_of_files

__all__ = ["RoundInputs", "Setting", "gather", "inputs_of", "past_of_files", "refresh_forecast", "style_of"]
