"""The Telegram door: updates in, messages out. No rules and no SQL here; the token never leaves this room."""

from bot.telegram_chat.reading import read_update
from bot.telegram_chat.sending import TelegramSender, outcome_of
from bot.telegram_chat.serving import Conversation, serve

__all__ = ["Conversation", "TelegramSender", "outcome_of", "read_update", "serve"]
