"""The commands: what each is called, what it takes, and which file runs it, imported only when it is run."""

import logging
import sys
from argparse import SUPPRESS, Action, ArgumentParser, Namespace
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from bot.commands import options


class Command(NamedTuple):
    """One command: its name, its line of help, its options, and what it does; `run` gives the exit status."""

    name: str
    help: str
    options: Callable[[ArgumentParser], object]
    run: Callable[[Namespace], int]


def parser() -> ArgumentParser:
    """The parser of the whole command line; what it parses has the `run` of its command."""
    whole = ArgumentParser(
        prog="bedstraw",
        description="Tells you, tree by tree and night by night, when to cover and uncover half-hardy fruit trees.",
    )
    _environment(whole, None)
    whole.add_argument("--version", action=_Version, nargs=0, help="say which version this is")
    commands = whole.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for command in COMMANDS:
        own = commands.add_parser(command.name, help=command.help)
        _environment(own, SUPPRESS)  # before or behind the name of the command, it is the same
        command.options(own)
        own.set_defaults(run=command.run)
    return whole


class _Version(Action):
    """Read only when asked for: it takes longer to find than all else here."""

    def __call__(self, parser: ArgumentParser, *_: object) -> None:
        from importlib.metadata import version

        _say(f"bedstraw {version('bedstraw')}")
        parser.exit()


def _environment(own: ArgumentParser, default: str | None) -> None:
    words = "read the environment from this file, as the service does, and from nowhere else"
    own.add_argument("--env", type=Path, metavar="FILE", default=default, help=words)


def _say(words: str) -> int:
    sys.stdout.write(f"{words}\n")
    return 0


def _demo(asked: Namespace) -> int:
    logging.getLogger("bot").setLevel(logging.WARNING)  # the story is enough
    if asked.year:
        from bot.demo.year import run_year

        return run_year(sys.stdout)
    from bot.demo.freeze_week import run_demo

    return run_demo(sys.stdout, sys.stdin if sys.stdin.isatty() else None)


def _check(asked: Namespace) -> int:
    from bot.commands.check import check

    return _say(check(asked.garden))


def _chat(asked: Namespace) -> int:
    if asked.new:
        from bot.commands.serving.new_garden import begin_chat

        return begin_chat(asked.garden)
    from bot.commands.serving.one_garden import chat

    return chat(asked.garden)


def _serve(asked: Namespace) -> int:
    from bot.commands.serving.one_garden import serve
    from bot.upkeep.memory import give_back_memory

    give_back_memory()
    if asked.new:
        from bot.commands.serving.new_garden import begin_serving

        if not begin_serving(asked.garden):
            return 0
    return serve(asked.garden)


def _let_in(asked: Namespace) -> int:
    from bot.commands.serving.one_garden import let_in
    from bot.settings import wants_plain_text

    seen = sys.stdout.isatty() and not wants_plain_text()
    return _say(let_in(asked.garden, owner=asked.owner, in_letters=seen, picture=asked.picture))


def _invite(asked: Namespace) -> int:
    from bot.commands.serving.invite import invitations, invite, revoke
    from bot.settings import wants_plain_text

    if asked.list:
        return _say(invitations())
    if asked.revoke is not None:
        return _say(revoke(asked.revoke))
    seen = sys.stdout.isatty() and not wants_plain_text()
    return _say(invite(asked.gardens, asked.days, in_letters=seen, picture=asked.picture))


def _try_alarm(asked: Namespace) -> int:
    from bot.commands.serving.second_way import try_alarm

    words, status = try_alarm(asked.garden, asked.person)
    _say(words)
    return status


def _doctor(asked: Namespace) -> int:
    from bot.commands.doctor import doctor

    words, status = doctor(asked.garden)
    _say(words)
    return status


def _outlook(asked: Namespace) -> int:
    from bot.commands.outlook import look

    return _say(look(asked.garden, asked.forecast, asked.now, as_json=asked.json))


def _page(asked: Namespace) -> int:
    from bot.commands.page import write

    return _say(write(asked.garden, asked.out, asked.forecast, asked.now))


def _calendar(asked: Namespace) -> int:
    from bot.commands.page import write_calendar

    return _say(write_calendar(asked.garden, asked.out, asked.forecast, asked.now))


def _unit(asked: Namespace) -> int:
    from bot.commands.install.units import unit

    return _say(unit(many=asked.many))


def _completion(asked: Namespace) -> int:
    import shtab

    return _say(shtab.complete(parser(), asked.shell).rstrip("\n"))


def _serve_many(asked: Namespace) -> int:
    from bot.commands.serving.many_gardens import serve_many
    from bot.upkeep.memory import give_back_memory

    give_back_memory()
    return serve_many(asked.folder, rounds_only=asked.rounds_only)


def _backup(asked: Namespace) -> int:
    from bot.commands.logbook.back_up import back_up

    return _say(back_up(asked.garden, asked.copy))


def _move(asked: Namespace) -> int:
    from bot.commands.logbook.move import move

    return _say(move(asked.source, asked.target))


def _export(asked: Namespace) -> int:
    from bot.commands.logbook.season import export

    export(asked.garden, asked.to)
    return 0


def _readings(asked: Namespace) -> int:
    from bot.commands.logbook.readings import readings

    return _say(readings(asked.garden, asked.table))


def _season(asked: Namespace) -> int:
    from bot.commands.logbook.season import season

    return _say(season(asked.garden, asked.csv, asked.folder))


def _chart(asked: Namespace) -> int:
    from bot.commands.chart import draw

    return _say(draw(asked.garden, asked.picture, asked.tree, asked.out, asked.now, dark=asked.dark))


def _replay(asked: Namespace) -> int:
    from bot.commands.replay import replay_winters

    return _say(replay_winters(asked.garden, asked.winters, asked.seed, asked.shift, asked.picture))


COMMANDS = (
    Command(
        "demo", "an invented freeze week on a simulated clock; needs no network and no account", options.demo, _demo
    ),
    Command("check", "say what was understood of a garden file, or every mistake in it", options.garden, _check),
    Command("chat", "talk to bedstraw in this terminal", options.talking, _chat),
    Command("serve", "run the Telegram bot of a garden", options.talking, _serve),
    Command("invite", "an invitation to begin a garden, where one bot serves many", options.invite, _invite),
    Command("let-in", "show a one-time code that lets a phone in", options.let_in, _let_in),
    Command("doctor", "say what is wrong with the bot of a garden, and what to do", options.garden, _doctor),
    Command("try-alarm", "send a test to who is reached by e-mail, text or push too", options.try_alarm, _try_alarm),
    Command("outlook", "tonight and the week, tree by tree, with all numbers", options.outlook, _outlook),
    Command(
        "serve-many",
        "run the Telegram bot of many gardens that share a PostgreSQL logbook",
        options.serve_many,
        _serve_many,
    ),
    Command("backup", "copy a garden's logbook while the bot runs, and say how to restore it", options.backup, _backup),
    Command("move", "carry a logbook to another place: a file, or a database server's address", options.move, _move),
    Command("export", "give the garden file back as it stands", options.export, _export),
    Command("readings", "bring a table of thermometer readings into the logbook", options.readings, _readings),
    Command("season", "the season so far: a page, a table, or all of it in a folder", options.season, _season),
    Command("chart", "save a picture: the week, the season, the cover in section, freeze dates", options.chart, _chart),
    Command("page", "write all of the garden as one page for a browser", options.page, _page),
    Command("calendar", "write the jobs and visits ahead as a calendar file (iCalendar)", options.page, _calendar),
    Command("unit", "print the systemd unit, to be kept where systemd looks", options.unit, _unit),
    Command("completion", "print what makes your shell complete our commands", options.completion, _completion),
    Command("replay", "past winters replayed: our plan against simpler rules; takes minutes", options.replay, _replay),
)
