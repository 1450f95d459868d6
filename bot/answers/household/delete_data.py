"""Delete my data: asked twice; a helper takes their name and words along, an owner the whole garden."""

import shutil
from pathlib import Path
from typing import Final

from bot.answers.desk import Answer, Desk
from bot.answers.dialogues import Dialogue, Option, Said, ask, close
from bot.answers.rights import is_owner, owners_only
from bot.logbook import forget_all_of_person, forget_garden, photos_of_person
from bot.replies import Meaning
from bot.wording.people import household as say
from bot.wording.people.garden import no_file

DELETE: Final = "delete"
FIRST, SECOND = "first", "second"
YES, NO = "yes", "no"
OWN, GARDEN = "own", "garden"


def delete(desk: Desk, meaning: Meaning) -> list[Answer]:
    """The first question. An owner's data are the garden, where its file is here; a helper's are their own words."""
    what = GARDEN if is_owner(desk) and desk.home is not None else OWN
    if what == OWN and meaning.text in ("garden", "whole garden"):
        return [Answer(text=no_file())] if is_owner(desk) else owners_only(desk)
    if desk.incoming.is_group:
        return [Answer(text="Not here. Write to me alone.")]
    photos = len(_photos(desk.home.folder)) if desk.home else 0
    name = desk.person.name
    text = say.ask_delete_garden(desk.garden.name, photos) if what == GARDEN else say.ask_delete_own(name)
    return [_ask(desk, what, FIRST, text, "Delete")]


def _ask(desk: Desk, what: str, step: str, text: str, do: str) -> Answer:
    choices = (Option(label=do, value=YES), Option(label="Keep everything", value=NO))
    dialogue = Dialogue(
        ident=desk.incoming.update_id, kind=DELETE, step=step, at_utc=desk.heard_utc, draft={"what": what},
        options=choices,
    )  # fmt: skip
    return Answer(text=text, buttons=ask(desk.c, desk.garden.name, desk.incoming.chat_id, dialogue))


def delete_answered(desk: Desk, dialogue: Dialogue, said: Said) -> list[Answer] | None:
    """The second question, then the deed; a plain "yes" will do, anything else deletes nothing."""
    value = said.value or {"yes": YES, "no": NO}.get(said.text.strip().casefold())
    if value is None:
        return None
    what = str(dialogue.draft["what"])
    if value == NO or (what == GARDEN and not is_owner(desk)):
        close(desk.c, desk.garden.name, desk.incoming.chat_id)
        return [Answer(text=say.kept())]
    if dialogue.step == FIRST:
        return [_ask(desk, what, SECOND, say.ask_again(), "Yes, delete")]
    close(desk.c, desk.garden.name, desk.incoming.chat_id)
    return [_garden_gone(desk) if what == GARDEN else _own_gone(desk)]


def _own_gone(desk: Desk) -> Answer:
    files = photos_of_person(desk.c, desk.garden.name, desk.person.name)
    gone = forget_all_of_person(desk.c, desk.garden.name, desk.person.chat_id, desk.person.name)
    for file in files if desk.home else ():
        (desk.home.folder / Path(file).name).unlink(missing_ok=True)  # type: ignore[union-attr]  # there is a home
    return Answer(text=say.own_deleted(gone, desk.garden.name))


def _garden_gone(desk: Desk) -> Answer:
    site = desk.garden.site
    photos = 0
    if desk.home is not None:
        desk.home.forget()
        photos = len(_photos(desk.home.folder))
        shutil.rmtree(desk.home.folder, ignore_errors=True)
        desk.home.garden_file.unlink(missing_ok=True)
        desk.home.folder.with_suffix(".typed").unlink(missing_ok=True)  # what was typed at the terminal
    rows = forget_garden(desk.c, desk.garden.name, f"{site.latitude_deg:.4f},{site.longitude_deg:.4f}")
    return Answer(text=say.garden_deleted(desk.garden.name, rows, photos))


def _photos(folder: Path) -> list[Path]:
    return [
        file for file in folder.glob("*") if file.is_file() and not file.name.startswith(("season_", "picture_", "."))
    ]
