"""Rounds: gather, decide, write."""

from bot.rounds.gathering import RoundInputs, Setting, gather, past_of_files, refresh_forecast
from bot.rounds.inputs import inputs_of, style_of

__all__ = ["RoundInputs", "Setting", "gather", "inputs_of", "past_of_files", "refresh_forecast", "style_of"]
