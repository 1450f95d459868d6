"""Delete my data: asked twice; a helper takes their name and words along, an owner the whole garden."""

import shutil
from pathlib import Path
from typing import Final

from bot.answers.dialogues import Dialogue, DialogueAnswer, confirm, is_yes
from bot.answers.exchange import Answer, Exchange
from bot.answers.rights import is_owner, owners_only
from bot.logbook import forget_all_of_person, forget_garden, photos_of_person, words_without_id
from bot.replies import Meaning
from bot.wording.people import household as say
from bot.wording.people.garden import no_file

DELETE: Final = "delete"
FIRST, SECOND = "first", "second"
OWN, GARDEN = "own", "garden"


def delete(exchange: Exchange, meaning: Meaning) -> list[Answer]:
    """The first question. An owner's data are the garden, where its file is here; a helper's are their own words."""
    what = GARDEN if is_owner(exchange) and exchange.home is not None else OWN
    if what == OWN and meaning.text in ("garden", "whole garden"):
        return [Answer(text=no_file())] if is_owner(exchange) else owners_only(exchange)
    if exchange.incoming.is_group:
        return [Answer(text="Not here. Write to me alone.")]
    photos = len(_photos(exchange.home.folder)) if exchange.home else 0
    name = exchange.person.name
    text = say.ask_delete_garden(exchange.garden.name, photos) if what == GARDEN else say.ask_delete_own(name)
    return [_ask(exchange, what, FIRST, text, "Delete")]


def _ask(exchange: Exchange, what: str, step: str, text: str, do: str) -> Answer:
    return Answer(text=text, buttons=confirm(exchange.chat, DELETE, do, "Keep everything", {"what": what}, step))


def delete_answered(exchange: Exchange, dialogue: Dialogue, said: DialogueAnswer) -> list[Answer] | None:
    """The second question, then the deed; a plain "yes" will do, anything else deletes nothing."""
    sure = is_yes(exchange.chat, said)
    if sure is None:
        return None
    what = str(dialogue.draft["what"])
    if not sure or (what == GARDEN and not is_owner(exchange)):
        return [Answer(text=say.kept())]
    if dialogue.step == FIRST:
        return [_ask(exchange, what, SECOND, say.ask_again(), "Yes, delete")]
    return [_garden_gone(exchange) if what == GARDEN else _own_gone(exchange)]


def _own_gone(exchange: Exchange) -> Answer:
    files = photos_of_person(exchange.c, exchange.garden.name, exchange.person.chat_id)
    gone = forget_all_of_person(exchange.c, exchange.garden.name, exchange.person.chat_id)
    unknown = words_without_id(exchange.c, exchange.garden.name, exchange.person.name)
    for file in files if exchange.home else ():
        (exchange.home.folder / Path(file).name).unlink(missing_ok=True)  # type: ignore[union-attr]  # there is a home
    return Answer(text=say.own_deleted(gone, exchange.garden.name, unknown))


def _garden_gone(exchange: Exchange) -> Answer:
    site = exchange.garden.site
    photos = 0
    if exchange.home is not None:
        exchange.home.forget()
        photos = len(_photos(exchange.home.folder))
        shutil.rmtree(exchange.home.folder, ignore_errors=True)
        exchange.home.garden_file.unlink(missing_ok=True)
        exchange.home.folder.with_suffix(".typed").unlink(missing_ok=True)  # what was typed at the terminal
    rows = forget_garden(exchange.c, exchange.garden.name, f"{site.latitude_deg:.4f},{site.longitude_deg:.4f}")
    return Answer(text=say.garden_deleted(exchange.garden.name, rows, photos))


def _photos(folder: Path) -> list[Path]:
    return [
        file for file in folder.glob("*") if file.is_file() and not file.name.startswith(("season_", "picture_", "."))
    ]
