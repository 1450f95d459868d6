"""The Telegram door: updates in, messages out. No rules and no SQL here; the token never leaves this room."""

from bot.telegram_chat.reading import read_update
from bot.telegram_chat.sending import TelegramSender, outcome_of
from bot.telegram_chat.serving import serve
from bot.telegram_chat.transport import Pauses, TokenError
from bot.telegram_chat.webhook import Webhook

__all__ = ["Pauses", "TelegramSender", "TokenError", "Webhook", "outcome_of", "read_update", "serve"]
