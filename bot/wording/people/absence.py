"""The sentences about who is told what: silence, absence, coming back."""

from collections.abc import Sequence
from datetime import datetime

from bot.wording.formats import Style, names, sentence


def stopped(others: Sequence[str]) -> str:
    """That no nudges go to this chat any more, and who gets them."""
    rest = f"{names(others)} still get them." if others else "Nobody gets them now: the trees are yours to watch."
    return f'No more nudges to you. {_one(rest, others)} I still answer what you ask. To undo, say "start".'


def whom_to_silence(*, for_all: bool) -> str:
    """Whom a mere "stop" shall silence."""
    rest = "or is it only what I ask for tonight" if for_all else "or did you mean something else"
    return f"Shall I write to you no more, {rest}?"


def started() -> str:
    """That nudges come again."""
    return "I write to you again when something is due."


def gone(
    until_utc: datetime | None, others: Sequence[str], style: Style, now: datetime, from_utc: datetime | None = None,
    *, together: Sequence[str] = (),
) -> str:  # fmt: skip
    """That a person is away, and those who go too, from when where it is not yet, and who gets the nudges meanwhile."""
    who = names(["you", *together])
    begins = f"from {style.day(from_utc, now)} " if from_utc else ""
    end = begins + _end(until_utc, 'you say "back"', style, now)
    if others:
        return f"Noted: {who} are away {end}. What falls due meanwhile goes to {names(others)}."
    return (
        f"Noted: {who} are away {end}. Nobody else is here, so I still write to you: you may know someone to send. "
        "What today's light allows I ask for before you go."
    )


def wakes() -> str:
    """When somebody is woken from now on."""
    return (
        "I wake you in the quiet hours when a top stands open, the night turns so cold that its wood is likely to "
        'suffer, and shutting it helps; at most once a night. To undo, say "don\'t wake me".'
    )


def lets_sleep() -> str:
    """That the quiet hours hold again."""
    return "All right, I let you sleep: what would fall into the quiet hours comes before them."


def handed_over(keeper: str, until_utc: datetime | None, style: Style, now: datetime) -> str:
    """That another person has the watch."""
    end = _end(until_utc, 'you say "back"', style, now)
    return f"{keeper} takes over {end}; I have told them. Meanwhile I write to {keeper} alone."


def has_the_watch(by: str, garden: str, until_utc: datetime | None, style: Style, now: datetime) -> str:
    """What the person hears who is handed the watch."""
    end = _end(until_utc, "they are back", style, now)
    return f'{by} asks you to look after {garden} {end}. I write to you when something is due. You can\'t? Say "away".'


def cannot_take_over(keeper: str) -> str:
    """That the other person would not hear anything."""
    ask = f'Ask {keeper} to send me "back" or "start".'
    return f"{keeper} gets no messages just now, so I would be talking to nobody. {ask}"


def which_of_that_name(name: str, many: int) -> str:
    """The question to whom the watch goes, where several bear the name."""
    return f"{many} people here are called {name}. Which one?"


def over_already(until_utc: datetime, style: Style, now: datetime) -> str:
    """That an absence to a time gone by changes nothing."""
    end = f"{style.day(until_utc, now)} {style.clock(until_utc)}"
    return f"{sentence(f'{end} is over already')} Until when are you away?"


def returned(*, was_away: bool) -> str:
    """That a person is back."""
    return "Welcome back. What falls due comes to you again." if was_away else "Good. I write to you as before."


def _end(until_utc: datetime | None, otherwise: str, style: Style, now: datetime) -> str:
    when = f"{style.day(until_utc, now)} {style.clock(until_utc)}" if until_utc else otherwise
    return f"until {when}"


def _one(rest: str, others: Sequence[str]) -> str:
    return rest.replace(" get ", " gets ") if len(others) == 1 else rest
