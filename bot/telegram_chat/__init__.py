"""The Telegram door: updates in, messages out. No rules and no SQL here; the token never leaves this room."""

from bot.telegram_chat.reading import read_update
from bot.telegram_chat.sending import TelegramSender, outcome_of
from bot.telegram_chat.serving import Conversation, TokenError, serve
from bot.telegram_chat.transport import Pauses

__all__ = ["Conversation", "Pauses", "TelegramSender", "TokenError", "outcome_of", "read_update", "serve"]
