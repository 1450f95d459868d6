"""The sentences about who is let in, who is here, who is put out, and what delete-my-data takes along."""

from collections.abc import Sequence

from bot.wording.formats import names


def owners_only(owners: Sequence[str]) -> str:
    """That a word is an owner's."""
    whom = f" Ask {names(owners)}." if owners else " Whoever runs me can make one: bedstraw let-in GARDEN --owner."
    return f"Only an owner of this garden can do that.{whom}"


def code(one_time: str, hours: float, name: str, link: str = "") -> str:
    """A one-time code and what to do with it."""
    whom = name or "whom you want here"
    return (
        f"{one_time}\nGive this to {whom}: sent to me from their phone, it lets them in, once, within {hours:.0f} "
        "hours. They can then answer and ask; only owners change the garden."
        + (f"\nOr let them tap this link and press Start: {link}" if link else "")
    )


def not_in_a_group() -> str:
    """That a code is no matter for a group."""
    return "Not here: everyone in this group could use the code. Write to me alone."


def people(lines: Sequence[Sequence[str]]) -> str:
    """Everyone let in, one a line: the name, then what is to be said of them."""
    return "\n".join(["Here are:", *(f"{line[0]}: {', '.join(word for word in line[1:] if word)}" for line in lines)])


def nobody_called(name: str, others: Sequence[str]) -> str:
    """That no person has that name."""
    return f"Nobody here is called {name}. Here are {names(others)}." if others else f"Nobody here is called {name}."


def ask_put_out(name: str) -> str:
    """The question before somebody is put out."""
    return f"Remove {name}? They hear nothing more from this garden. What they noted stays."


def put_out(name: str) -> str:
    """That somebody is out."""
    return f"{name} is removed. A new code lets them in again."


def cannot_put_out_self() -> str:
    """That nobody puts out themselves by that word."""
    return 'That is you. To go, say "delete my data".'


def ask_delete_own(name: str) -> str:
    """The first question before a person's data go."""
    return (
        f"Delete your data, {name}? Your name, this conversation, your notes and photos go. "
        "What you noted of trees stays without your name. It can't be undone."
    )


def ask_delete_garden(garden: str, photos: int) -> str:
    """The first question before a garden goes."""
    shown = f", {photos} photos" if photos else ""
    return (
        f"Delete {garden}? The garden file, all records, the weather kept{shown} and everyone's conversations go, "
        'and I watch nothing any more. It can\'t be undone. Say "export everything" first to take it along.'
    )


def ask_again() -> str:
    """The second question."""
    return "Really? This is the last question."


def own_deleted(notes: int, garden: str, unknown: int) -> str:
    """What went with a person, and what remains; `unknown` older notes may be theirs or another's of that name."""
    old = f" {unknown} older notes under your name, which may be somebody else's;" if unknown else ""
    return (
        f"Done. Your name, this conversation and {notes} notes and photos are gone from {garden}. What remains: deeds "
        f"and readings without your name;{old} the messages on your phone, which I can't reach; and copies others made."
    )


def garden_deleted(garden: str, rows: int, photos: int) -> str:
    """What went with a garden, and what remains."""
    return (
        f"Done. {garden} is gone: {rows} records and messages, {photos} photos. What remains: the messages on your "
        "phones, and copies somebody made, such as a backup or an export."
    )


def kept() -> str:
    """That nothing was deleted or changed."""
    return "All right. Nothing was changed."
