"""What a person can mend in what was typed; no imports, so that the command line can name it at once."""


class MistakeError(ValueError):
    """An option or a file named on the command line cannot be used; the sentence says why."""
