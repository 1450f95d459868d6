"""The command line. Each command imports what it needs, so that `bedstraw --help` answers at once."""

import sys
from collections.abc import Sequence

from bot.command_line import parser

MISTAKE = 2  # exit status for what the person can mend


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; the exit status is 0, or 2 after a sentence about what is wrong."""
    asked = parser().parse_args(arguments)
    try:
        from bot.upkeep.logs import quiet_logs

        quiet_logs()
        if asked.env is not None:
            from bot.settings import use_environment_file

            use_environment_file(asked.env)
        return int(asked.run(asked))
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


def _sentence(error: Exception) -> str | None:
    """The sentence for a mistake a person can mend; None for a fault of ours."""
    from bot.commands.mistakes import MistakeError
    from bot.forecasts import WeatherServiceError
    from bot.logbook import LogbookError
    from bot.settings import GardenError, SecretsError, problems_in_words

    if isinstance(error, GardenError):
        return problems_in_words(error)
    if isinstance(error, SecretsError | LogbookError | WeatherServiceError | MistakeError):
        return str(error)
    if isinstance(error, OSError) and error.filename:
        return f"{error.filename}: {(error.strerror or 'cannot be used').lower()}."
    return None


if __name__ == "__main__":
    sys.exit(main())
