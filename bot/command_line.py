"""The commands: what each is called, what it takes, and which file runs it, imported only when it is run."""

import logging
import sys
from argparse import SUPPRESS, Action, ArgumentParser, ArgumentTypeError, Namespace
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple


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


def _garden(own: ArgumentParser) -> None:
    own.add_argument("garden", type=Path, metavar="GARDEN", help="the garden file, such as my_garden.toml")


def _its_garden(own: ArgumentParser) -> None:
    own.add_argument("garden", type=Path, metavar="GARDEN", help="the garden file")


def _demo_options(own: ArgumentParser) -> None:
    own.add_argument("--year", action="store_true", help="a whole invented year instead; takes minutes")


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


def _talking_options(own: ArgumentParser) -> None:
    _garden(own)
    own.add_argument("--new", action="store_true", help="begin a garden that has no file yet")


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


def _let_in_options(own: ArgumentParser) -> None:
    _garden(own)
    own.add_argument("--owner", action="store_true", help="the phone of one more owner")
    own.add_argument("--picture", type=Path, metavar="FILE", help="save the link as a QR code (png, svg or pdf)")


def _let_in(asked: Namespace) -> int:
    from bot.commands.serving.one_garden import let_in
    from bot.settings import wants_plain_text

    seen = sys.stdout.isatty() and not wants_plain_text()
    return _say(let_in(asked.garden, owner=asked.owner, in_letters=seen, picture=asked.picture))


def _invite_options(own: ArgumentParser) -> None:
    own.add_argument("--gardens", type=_count, default=1, metavar="N", help="how many may begin with it (1)")
    own.add_argument("--days", type=_count, default=14, metavar="N", help="how long it lasts (14)")
    own.add_argument("--picture", type=Path, metavar="FILE", help="save the link as a QR code (png, svg or pdf)")
    own.add_argument("--list", action="store_true", help="the invitations there are")
    own.add_argument("--revoke", type=int, metavar="NUMBER", help="take one back")


def _count(text: str) -> int:
    """A whole number of 1 to 1000."""
    if not text.isdecimal() or not 1 <= int(text) <= 1000:
        raise ArgumentTypeError(f"is {text}, it must be a whole number of 1 to 1000")
    return int(text)


def _invite(asked: Namespace) -> int:
    from bot.commands.serving.invite import invitations, invite, revoke
    from bot.settings import wants_plain_text

    if asked.list:
        return _say(invitations())
    if asked.revoke is not None:
        return _say(revoke(asked.revoke))
    seen = sys.stdout.isatty() and not wants_plain_text()
    return _say(invite(asked.gardens, asked.days, in_letters=seen, picture=asked.picture))


def _try_alarm_options(own: ArgumentParser) -> None:
    _garden(own)
    own.add_argument("--person", metavar="NAME", help="only this person's addresses")


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


def _outlook_options(own: ArgumentParser) -> None:
    _garden(own)
    own.add_argument("--forecast", type=Path, metavar="FILE", help="a saved forecast instead of the services")
    own.add_argument("--now", metavar="TIME", help="pretend it is this time, such as 2026-01-14T16:00")
    own.add_argument("--json", action="store_true", help="print the documented JSON instead of a table")


def _outlook(asked: Namespace) -> int:
    from bot.commands.outlook import look

    return _say(look(asked.garden, asked.forecast, asked.now, as_json=asked.json))


def _page_options(own: ArgumentParser) -> None:
    _its_garden(own)
    own.add_argument("--out", type=Path, metavar="FILE", help="where to write it; beside the garden file if left out")
    own.add_argument("--forecast", type=Path, metavar="FILE", help="a saved forecast instead of the services")
    own.add_argument("--now", metavar="TIME", help="pretend it is this time, such as 2026-01-14T16:00")


def _page(asked: Namespace) -> int:
    from bot.commands.page import write

    return _say(write(asked.garden, asked.out, asked.forecast, asked.now))


def _calendar(asked: Namespace) -> int:
    from bot.commands.page import write_calendar

    return _say(write_calendar(asked.garden, asked.out, asked.forecast, asked.now))


def _unit_options(own: ArgumentParser) -> None:
    own.add_argument("--many", action="store_true", help="for serve-many, to be kept as bedstraw@.service")


def _unit(asked: Namespace) -> int:
    from bot.commands.install.units import unit

    return _say(unit(many=asked.many))


def _completion_options(own: ArgumentParser) -> None:
    own.add_argument("shell", choices=("bash", "zsh", "tcsh"), help="which shell")


def _completion(asked: Namespace) -> int:
    import shtab

    return _say(shtab.complete(parser(), asked.shell).rstrip("\n"))


def _serve_many_options(own: ArgumentParser) -> None:
    own.add_argument("folder", type=Path, metavar="FOLDER", help="the folder of the garden files (*.toml)")
    own.add_argument("--rounds-only", action="store_true", help="help with rounds and answers, never ask the messenger")


def _serve_many(asked: Namespace) -> int:
    from bot.commands.serving.many_gardens import serve_many
    from bot.upkeep.memory import give_back_memory

    give_back_memory()
    return serve_many(asked.folder, rounds_only=asked.rounds_only)


def _backup_options(own: ArgumentParser) -> None:
    _its_garden(own)
    own.add_argument("copy", type=Path, metavar="COPY", help="where the copy shall lie")


def _backup(asked: Namespace) -> int:
    from bot.commands.logbook.back_up import back_up

    return _say(back_up(asked.garden, asked.copy))


def _move_options(own: ArgumentParser) -> None:
    own.add_argument("source", metavar="FROM", help="a garden file (its logbook), a logbook file, or an address")
    own.add_argument("target", metavar="TO", help="a new file, or the address of an empty database")


def _move(asked: Namespace) -> int:
    from bot.commands.logbook.move import move

    return _say(move(asked.source, asked.target))


def _export_options(own: ArgumentParser) -> None:
    _its_garden(own)
    own.add_argument("--to", type=Path, metavar="FILE", help="where to write it; else it is printed")


def _export(asked: Namespace) -> int:
    from bot.commands.logbook.season import export

    export(asked.garden, asked.to)
    return 0


def _readings_options(own: ArgumentParser) -> None:
    _its_garden(own)
    own.add_argument("table", type=Path, metavar="FILE", help="a CSV file: time, tree, air_c or air_f, place, low")


def _readings(asked: Namespace) -> int:
    from bot.commands.logbook.readings import readings

    return _say(readings(asked.garden, asked.table))


def _season_options(own: ArgumentParser) -> None:
    _its_garden(own)
    own.add_argument("--csv", type=Path, metavar="FILE", help="write all records as a table")
    own.add_argument("--folder", type=Path, metavar="DIR", help="write table, garden file and photos into a folder")


def _season(asked: Namespace) -> int:
    from bot.commands.logbook.season import season

    return _say(season(asked.garden, asked.csv, asked.folder))


def _chart_options(own: ArgumentParser) -> None:
    _its_garden(own)
    own.add_argument("picture", choices=("week", "season", "section", "freezes", "supplies", "twins"))
    own.add_argument("--tree", metavar="NAME", help="whose week, season or cover; the first tree if left out")
    own.add_argument("--out", type=Path, metavar="FILE", help="where to save it; beside the garden file if left out")
    own.add_argument("--now", metavar="TIME", help="pretend it is this time")
    own.add_argument("--dark", action="store_true", help="light lines on dark")


def _chart(asked: Namespace) -> int:
    from bot.commands.chart import draw

    return _say(draw(asked.garden, asked.picture, asked.tree, asked.out, asked.now, dark=asked.dark))


def _replay_options(own: ArgumentParser) -> None:
    _its_garden(own)
    own.add_argument("--winters", type=Path, metavar="FILE", help="daily minima and maxima: date,min_c,max_c")
    own.add_argument("--seed", type=int, default=1, help="which draw of errors and doubts (default 1)")
    own.add_argument("--shift", type=float, default=0.0, metavar="C", help="make the climate milder by so many °C")
    own.add_argument("--picture", type=Path, metavar="FILE", help="also save the comparison as a picture")


def _replay(asked: Namespace) -> int:
    from bot.commands.replay import replay_winters

    return _say(replay_winters(asked.garden, asked.winters, asked.seed, asked.shift, asked.picture))


COMMANDS = (
    Command(
        "demo", "an invented freeze week on a simulated clock; needs no network and no account", _demo_options, _demo
    ),
    Command("check", "say what was understood of a garden file, or every mistake in it", _garden, _check),
    Command("chat", "talk to bedstraw in this terminal", _talking_options, _chat),
    Command("serve", "run the Telegram bot of a garden", _talking_options, _serve),
    Command("invite", "an invitation to begin a garden, where one bot serves many", _invite_options, _invite),
    Command("let-in", "show a one-time code that lets a phone in", _let_in_options, _let_in),
    Command("doctor", "say what is wrong with the bot of a garden, and what to do", _garden, _doctor),
    Command("try-alarm", "send a test to who is reached by e-mail, text or push too", _try_alarm_options, _try_alarm),
    Command("outlook", "tonight and the week, tree by tree, with all numbers", _outlook_options, _outlook),
    Command(
        "serve-many",
        "run the Telegram bot of many gardens that share a PostgreSQL logbook",
        _serve_many_options,
        _serve_many,
    ),
    Command(
        "backup", "copy a garden's logbook while the bot runs, and say how to restore it", _backup_options, _backup
    ),
    Command("move", "carry a logbook to another place: a file, or a database server's address", _move_options, _move),
    Command("export", "give the garden file back as it stands", _export_options, _export),
    Command("readings", "bring a table of thermometer readings into the logbook", _readings_options, _readings),
    Command("season", "the season so far: a page, a table, or all of it in a folder", _season_options, _season),
    Command(
        "chart", "save a picture: the week, the season, the cover in section, freeze dates", _chart_options, _chart
    ),
    Command("page", "write all of the garden as one page for a browser", _page_options, _page),
    Command("calendar", "write the jobs and visits ahead as a calendar file (iCalendar)", _page_options, _calendar),
    Command("unit", "print the systemd unit, to be kept where systemd looks", _unit_options, _unit),
    Command("completion", "print what makes your shell complete our commands", _completion_options, _completion),
    Command("replay", "past winters replayed: our plan against simpler rules; takes minutes", _replay_options, _replay),
)
