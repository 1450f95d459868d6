"""Rounds: gather, decide, write; and take a reply."""

from bot.rounds.gathering import Inputs, Setting, gather, past_of_files, refresh_forecast
from bot.rounds.grounds import ground_of, style_of
from bot.rounds.watch import Watch

__all__ = ["Inputs", "Setting", "Watch", "gather", "ground_of", "past_of_files", "refresh_forecast", "style_of"]
