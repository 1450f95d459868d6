"""Rounds: gather, decide, write."""

from bot.rounds.gathering import Inputs, Setting, gather, past_of_files, refresh_forecast
from bot.rounds.inputs import ground_of, style_of

__all__ = ["Inputs", "Setting", "gather", "ground_of", "past_of_files", "refresh_forecast", "style_of"]
