"""The command line. Each command imports what it needs, so that `bedstraw --help` answers at once."""

import argparse
import logging
import sys
from collections.abc import Sequence
from pathlib import Path

MISTAKE = 2  # exit status for what the person can mend


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; the exit status is 0, or 2 after a sentence about what is wrong."""
    asked = _parser().parse_args(arguments)
    try:
        return _run(asked)
    except KeyboardInterrupt:
        return 130
    except BrokenPipeError:  # the reader of our output has gone, for example `head`
        sys.stderr.close()
        return 0
    except Exception as error:  # sorted below: a mistake gets a sentence, a fault of ours its traceback
        sentence = _sentence(error)
        if sentence is None:
            raise
        print(sentence, file=sys.stderr)
        return MISTAKE


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="bedstraw",
        description="Tells you, tree by tree and night by night, when to cover and uncover half-hardy fruit trees.",
    )
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    demo = commands.add_parser(
        "demo", help="an invented freeze week on a simulated clock; needs no network and no account"
    )
    demo.add_argument("--year", action="store_true", help="a whole invented year instead; takes minutes")
    for name, words in (
        ("check", "say what was understood of a garden file, or every mistake in it"),
        ("chat", "talk to bedstraw in this terminal"),
        ("serve", "run the Telegram bot of a garden"),
        ("let-in", "show a one-time code that lets a phone in"),
        ("doctor", "say what is wrong with the bot of a garden, and what to do"),
        ("outlook", "tonight and the week, tree by tree, with all numbers"),
    ):
        command = commands.add_parser(name, help=words)
        command.add_argument("garden", type=Path, metavar="GARDEN", help="the garden file, such as my_garden.toml")
    many = commands.add_parser(
        "serve-many", help="run the Telegram bot of many gardens that share a PostgreSQL logbook"
    )
    many.add_argument("folder", type=Path, metavar="FOLDER", help="the folder of the garden files (*.toml)")
    many.add_argument(
        "--rounds-only", action="store_true", help="help with rounds and answers, never ask the messenger"
    )
    many.add_argument("--engine", action="store_true", help="let procrastinate hand out the rounds")
    backup = commands.add_parser("backup", help="copy a garden's logbook while the bot runs, and say how to restore it")
    backup.add_argument("garden", type=Path, metavar="GARDEN", help="the garden file")
    backup.add_argument("copy", type=Path, metavar="COPY", help="where the copy shall lie")
    move = commands.add_parser("move", help="carry a logbook to another place: a file, or a database server's address")
    move.add_argument("source", metavar="FROM", help="a garden file (its logbook), a logbook file, or an address")
    move.add_argument("target", metavar="TO", help="a new file, or the address of an empty database")
    for name in ("chat", "serve"):
        commands.choices[name].add_argument("--new", action="store_true", help="begin a garden that has no file yet")
    commands.choices["let-in"].add_argument("--owner", action="store_true", help="the phone of one more owner")
    export = commands.add_parser("export", help="give the garden file back as it stands")
    export.add_argument("garden", type=Path, metavar="GARDEN", help="the garden file")
    export.add_argument("--to", type=Path, metavar="FILE", help="where to write it; else it is printed")
    readings = commands.add_parser("readings", help="bring a table of thermometer readings into the logbook")
    readings.add_argument("garden", type=Path, metavar="GARDEN", help="the garden file")
    readings.add_argument("table", type=Path, metavar="FILE", help="a CSV file: time, tree, air_c or air_f, place, low")
    season = commands.add_parser("season", help="the season so far: a page, a table, or all of it in a folder")
    season.add_argument("garden", type=Path, metavar="GARDEN", help="the garden file")
    season.add_argument("--csv", type=Path, metavar="FILE", help="write all records as a table")
    season.add_argument("--folder", type=Path, metavar="DIR", help="write table, garden file and photos into a folder")
    outlook = commands.choices["outlook"]
    outlook.add_argument("--forecast", type=Path, metavar="FILE", help="a saved forecast instead of the services")
    outlook.add_argument("--now", metavar="TIME", help="pretend it is this time, such as 2026-01-14T16:00")
    outlook.add_argument("--json", action="store_true", help="print the documented JSON instead of a table")
    chart = commands.add_parser(
        "chart", help="save a picture: the week, the season, the cover in section, freeze dates"
    )
    chart.add_argument("garden", type=Path, metavar="GARDEN", help="the garden file")
    chart.add_argument("picture", choices=("week", "season", "section", "freezes", "supplies", "twins"))
    chart.add_argument("--tree", metavar="NAME", help="whose week, season or cover; the first tree if left out")
    chart.add_argument("--out", type=Path, metavar="FILE", help="where to save it; beside the garden file if left out")
    chart.add_argument("--now", metavar="TIME", help="pretend it is this time")
    chart.add_argument("--dark", action="store_true", help="light lines on dark")
    winters = commands.add_parser("replay", help="past winters replayed: our plan against simpler rules; takes minutes")
    winters.add_argument("garden", type=Path, metavar="GARDEN", help="the garden file")
    winters.add_argument("--winters", type=Path, metavar="FILE", help="daily minima and maxima: date,min_c,max_c")
    winters.add_argument("--seed", type=int, default=1, help="which draw of errors and doubts (default 1)")
    winters.add_argument("--shift", type=float, default=0.0, metavar="C", help="make the climate milder by so many °C")
    winters.add_argument("--picture", type=Path, metavar="FILE", help="also save the comparison as a picture")
    return parser


def _run(asked: argparse.Namespace) -> int:
    from bot.logs import quiet_logs

    quiet_logs()
    match asked.command:
        case "demo":
            logging.getLogger("bot").setLevel(logging.WARNING)  # the story is enough
            if asked.year:
                from bot.demo_year import run_year

                return run_year(sys.stdout)
            from bot.demo import run_demo

            return run_demo(sys.stdout, sys.stdin if sys.stdin.isatty() else None)
        case "check":
            from bot.commands.check import check

            print(check(asked.garden))
        case "outlook":
            from bot.commands.look import look

            print(look(asked.garden, asked.forecast, asked.now, as_json=asked.json))
        case "replay":
            from bot.commands.replaying import replay_winters

            print(replay_winters(asked.garden, asked.winters, asked.seed, asked.shift, asked.picture))
        case "chart":
            from bot.commands.draw import draw

            print(draw(asked.garden, asked.picture, asked.tree, asked.out, asked.now, dark=asked.dark))
        case "chat":
            if asked.new:
                from bot.commands.begin import begin_chat

                return begin_chat(asked.garden)
            from bot.commands.talk import chat

            return chat(asked.garden)
        case "serve":
            from bot.commands.talk import serve

            if asked.new:
                from bot.commands.begin import begin_serving

                if not begin_serving(asked.garden):
                    return 0
            return serve(asked.garden)
        case "serve-many":
            from bot.commands.many import serve_many

            return serve_many(asked.folder, rounds_only=asked.rounds_only, engine=asked.engine)
        case "doctor":
            from bot.commands.doctor import doctor

            words, status = doctor(asked.garden)
            print(words)
            return status
        case "backup":
            from bot.commands.back_up import back_up

            print(back_up(asked.garden, asked.copy))
        case "move":
            from bot.commands.move import move

            print(move(asked.source, asked.target))
        case "let-in":
            from bot.commands.talk import let_in

            print(let_in(asked.garden, owner=asked.owner))
        case "export":
            from bot.commands.season import export

            export(asked.garden, asked.to)
        case "readings":
            from bot.commands.readings import readings

            print(readings(asked.garden, asked.table))
        case "season":
            from bot.commands.season import season

            print(season(asked.garden, asked.csv, asked.folder))
    return 0


def _sentence(error: Exception) -> str | None:
    """The sentence for a mistake a person can mend; None for a fault of ours."""
    from bot.forecasts import ForecastError
    from bot.logbook import LogbookError
    from bot.settings import GardenError, SecretsError, problems_in_words

    if isinstance(error, GardenError):
        return problems_in_words(error)
    if isinstance(error, SecretsError | LogbookError | ForecastError):
        return str(error)
    if type(error).__name__ in ("TokenError", "TableError") or (
        isinstance(error, ValueError) and str(error).startswith("--")
    ):
        return str(error)
    if isinstance(error, OSError) and error.filename:
        return f"{error.filename}: {(error.strerror or 'cannot be used').lower()}."
    return None


if __name__ == "__main__":
    sys.exit(main())
