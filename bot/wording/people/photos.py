"""The sentences about photos."""


def noted(tree: str, day: str) -> str:
    """That a photo is kept with its tree and day."""
    return f"Kept: a photo of {tree or 'the garden'}, {day}."


def lost(tree: str) -> str:
    """That a photo could not be had after all."""
    return f"I could not get your photo of {tree or 'the garden'}, so it is not kept. Please send it once more."


def of_which_tree() -> str:
    """The question a photo without a word leaves."""
    return "A photo of which tree?"


def cannot_keep() -> str:
    """That there is no folder for photos here."""
    return "I can't keep photos for this garden; there is no folder for them."


def enough_today(most: int) -> str:
    """That somebody has sent as many as are kept in a day."""
    return f"Not kept: that makes more than {most} photos from you within a day. Send it again tomorrow."


def no_room(most_gb: float) -> str:
    """That the photos of this garden fill their place."""
    return f"Not kept: the photos of this garden take {most_gb:g} GB, all that I keep. Ask my owner to move some away."


def send_one() -> str:
    """How a photo is kept."""
    return "Send me a photo and write the tree's name under it; I keep it with the day."
