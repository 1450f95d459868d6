"""A garden file sent to us: read as `bedstraw check` reads it, asked about, then put in the old one's place.

The old file is kept beside the photos, so that one tap brings it back. A file that cannot be used changes nothing.
"""

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from functools import partial
from pathlib import Path
from typing import Final

from bot.answers.dialogues import Chat, Dialogue, DialogueAnswer, confirm, is_yes
from bot.answers.exchange import Answer, Exchange
from bot.answers.garden_file.wanted_files import note_wanted
from bot.answers.rights import is_owner, owners_only
from bot.logbook import TERMINAL_CHAT, NudgeState, open_nudges, settle_nudge
from bot.messages import LARGEST_FILE_BYTES
from bot.replies import Meaning
from bot.rounds.garden_on_disk import Home
from bot.settings import Garden, GardenError, Problem, doubtful, read_garden
from bot.settings.reading import PLACES
from bot.settings.writing import put_garden, write_garden
from bot.wording.people import garden_import as say
from bot.wording.people.garden import no_file, not_in_a_group

IMPORT, PUT_BACK = "import garden", "put back garden"
KEPT: Final = "garden_before_"  # begins the names of the old files
ENDINGS: Final = (".toml", ".txt")  # some phones know no .toml
MOST_KEPT: Final = 10  # as many as deeds can be undone


@dataclass(frozen=True, kw_only=True)
class Offer:
    """A garden file offered in one chat: its name and its bytes. It is looked through before any transaction."""

    name: str
    data: bytes
    chat_id: int


@dataclass(frozen=True, kw_only=True)
class LookedThrough:
    """What was found in an offered file: why it can't be used, or its text and the question whether to use it."""

    refusal: str = ""
    text: str = ""
    question: str = ""


def file_came(exchange: Exchange) -> list[Answer]:
    """What to say to a file: an owner's is read, at once or as soon as it is fetched."""
    refusal = _refused(exchange)
    came = exchange.incoming
    if refusal or exchange.home is None:
        return refusal or []
    if not came.file_name.casefold().endswith(ENDINGS) or (came.file_text is None and not came.file_id):
        return [Answer(text=say.no_garden_file())]
    if came.file_text is None:
        note_wanted(exchange.c, exchange.garden.name, came)
        return [Answer(text=say.reading(came.file_name))]
    data = came.file_text.encode("utf-8", "surrogateescape")
    offer = Offer(name=came.file_name, data=data, chat_id=came.chat_id)
    look = partial(look_through, exchange.home, exchange.garden, offer, exchange.today)
    return [offered(exchange.chat, exchange.made("file looked through", look))]


def wished(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """How a file is brought in, for somebody who wrote "import" and sent none."""
    how = say.how_at_terminal(meaning.text) if exchange.incoming.chat_id == TERMINAL_CHAT else say.how_by_phone()
    return _refused(exchange) or [Answer(text=how)]


def _refused(exchange: Exchange) -> list[Answer] | None:
    if not is_owner(exchange):
        return owners_only(exchange)
    if exchange.incoming.is_group:
        return [Answer(text=not_in_a_group())]
    return [Answer(text=no_file())] if exchange.home is None else None


def look_through(home: Home, garden: Garden, offer: Offer, today: date) -> LookedThrough:
    """What a file holds; it needs no logbook, and may take a while."""
    try:
        text, new = _read(home, garden, offer, today)
    except GardenError as error:
        return LookedThrough(refusal=say.unusable(offer.name, without_folder(error, home.garden_file.parent)))
    if offer.data == _old(home.garden_file):
        return LookedThrough(refusal=say.the_same(offer.name))
    return LookedThrough(text=text, question=say.ask_import(offer.name, garden, new, doubtful(new)))


def offered(chat: Chat, found: LookedThrough) -> Answer:
    """What a file would change, with the question whether it shall; or one sentence why it can't be used."""
    if found.refusal:
        return Answer(text=found.refusal)
    buttons = confirm(chat, IMPORT, "Use this file", "Keep mine", {"text": found.text})
    return Answer(text=found.question, buttons=buttons)


def _read(home: Home, garden: Garden, offer: Offer, today: date) -> tuple[str, Garden]:
    """The text of a file and the garden it describes, both fit to take the old one's place."""
    text = decoded(offer.data)
    new = write_garden(home.garden_file, text, today, keep=False)
    if new.name != garden.name:
        raise _because(f'is the file of a garden called "{new.name}"; this one is "{garden.name}"')
    if offer.chat_id != TERMINAL_CHAT:
        refuse_other_places(garden, new)
    refuse_too_many(new, home.bounds.most_trees)
    return text, new


def decoded(data: bytes) -> str:
    """The text of a file that somebody sent; GardenError for what is none."""
    if not data.strip() or len(data) > LARGEST_FILE_BYTES:
        size = f"has {len(data):,} bytes, a garden file at most {LARGEST_FILE_BYTES:,}"
        raise _because(size if data.strip() else "is empty")
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        raise _because("is not text in UTF-8, so it is no garden file") from None


def refuse_too_many(new: Garden, most_trees: int) -> None:
    """Who runs many gardens bounds what one may cost; raises GardenError."""
    if len(new.trees) > most_trees:
        raise _because(f"has {len(new.trees)} trees; here a garden may have {most_trees}")


def refuse_other_places(garden: Garden | None, new: Garden) -> None:
    """A phone cannot make us read other files of the machine than we read already; raises GardenError."""
    for key in PLACES:
        place = getattr(new, key)
        if place is not None and place != getattr(garden, key, None):
            raise _because(f"names another {key} than mine; that line can only be changed on the machine I run on")


def _because(sentence: str) -> GardenError:
    return GardenError([Problem(key="", sentence=sentence)])


def without_folder(error: GardenError, folder: Path) -> list[Problem]:
    """The mistakes without the place on our disk."""
    return [replace(one, sentence=one.sentence.replace(f"{folder}/", "")) for one in error.problems]


def import_answered(exchange: Exchange, dialogue: Dialogue, said: DialogueAnswer) -> list[Answer] | None:
    """The offered file in place of the old one, or not."""
    if said.choice is None:
        return None
    if refusal := _refused(exchange):
        return refusal
    if not is_yes(exchange.chat, said):
        return [Answer(text=say.kept())]
    return [_replaced(exchange, str(dialogue.draft["text"]))]


def _replaced(exchange: Exchange, text: str) -> Answer:
    """The file written, the old one kept, and the way back offered."""
    if exchange.home is None:
        return Answer(text=no_file())
    mine = exchange.home.garden_file
    try:
        garden = exchange.made("file read", partial(write_garden, mine, text, exchange.today, keep=False))
        kept = _keep(exchange.home.folder, _old(mine), exchange.heard_utc)
        put_garden(mine, text)
    except GardenError as error:
        return Answer(text=say.unusable(mine.name, without_folder(error, mine.parent)))
    _stand_down_gone(exchange, garden)
    buttons = confirm(exchange.chat, PUT_BACK, say.PUT_BACK, "Leave it so", {"file": kept.name})
    return Answer(text=say.imported(exchange.garden, garden, kept.name), buttons=buttons)


def _old(garden_file: Path) -> bytes:
    """The file there is; nothing where somebody took it away, and then the new one simply takes its place."""
    try:
        return garden_file.read_bytes()
    except FileNotFoundError:
        return b""


def _keep(folder: Path, data: bytes, at: datetime) -> Path:
    """The old file in the garden's own folder, under the time it was replaced; the oldest give way."""
    folder.mkdir(mode=0o700, exist_ok=True)
    kept = folder / f"{KEPT}{at.astimezone(UTC):%Y-%m-%d_%H%M%S}.toml"
    kept.touch(mode=0o600)
    kept.write_bytes(data)
    for old in sorted(folder.glob(f"{KEPT}*.toml"))[:-MOST_KEPT]:
        old.unlink(missing_ok=True)
    return kept


def _stand_down_gone(exchange: Exchange, garden: Garden) -> None:
    """Nothing more is asked for trees the new file does not have."""
    gone = {tree.name for tree in exchange.garden.trees} - {tree.name for tree in garden.trees}
    for nudge in open_nudges(exchange.c, exchange.garden.name):
        if gone & set(nudge.trees):
            settle_nudge(exchange.c, nudge.key, NudgeState.STOOD_DOWN, None, exchange.now, exchange.incoming.update_id)


def put_back_answered(exchange: Exchange, dialogue: Dialogue, said: DialogueAnswer) -> list[Answer] | None:
    """The file from before the last import, back in its place."""
    if said.choice is None:
        return None
    if refusal := _refused(exchange):
        return refusal
    if not is_yes(exchange.chat, said) or exchange.home is None:
        return [Answer(text=say.left())]
    kept = exchange.home.folder / Path(str(dialogue.draft["file"])).name
    if not kept.is_file():
        return [Answer(text=say.no_longer_kept())]
    return [_replaced(exchange, kept.read_bytes().decode("utf-8"))]


def garden_now(home: Home) -> Garden:
    """The garden as its file has it at this moment."""
    return read_garden(home.garden_file)
