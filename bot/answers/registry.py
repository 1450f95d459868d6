"""Who goes on with which word and which waiting question: garden file, household, season, jobs, one's data."""

from collections.abc import Callable, Mapping
from typing import Final

from bot.answers.dialogues import Dialogue, DialogueAnswer, close, is_end, is_ours, tapped, typed, waiting
from bot.answers.exchange import Answer, Exchange
from bot.answers.garden_file.changes import (
    ADD,
    REMOVE,
    RENAME,
    add,
    add_answered,
    export,
    new_cover,
    remove,
    remove_answered,
    rename,
    rename_answered,
)
from bot.answers.garden_file.garden_import import IMPORT, PUT_BACK, import_answered, put_back_answered, wished
from bot.answers.household.delete_data import DELETE, delete, delete_answered
from bot.answers.household.household import PUT_OUT, let_in, put_out, put_out_answered, who
from bot.answers.questions.year import YEAR
from bot.answers.season.job_marks import mark_jobs
from bot.answers.season.learned import FORGET, forget, forget_answered, learned
from bot.answers.season.photos import TREE, photo_told, tree_answered
from bot.answers.season.pictures import picture
from bot.answers.season.season_page import season
from bot.answers.season.season_record import note_told
from bot.answers.season.winter_review import PROPOSAL, compare, proposal_answered, review
from bot.messages import IncomingKind
from bot.replies import Meaning, Verb

Word = Callable[[Exchange, Meaning], list[Answer]]
GoOn = Callable[[Exchange, Dialogue, DialogueAnswer], list[Answer] | None]

WORDS: Final[Mapping[Verb, Word]] = {
    Verb.ADD: add,
    Verb.REMOVE: remove,
    Verb.RENAME: rename,
    Verb.COVER: new_cover,
    Verb.EXPORT: export,
    Verb.IMPORT: wished,
    Verb.LET_IN: let_in,
    Verb.WHO: who,
    Verb.PUT_OUT: put_out,
    Verb.DELETE: delete,
    Verb.DIEBACK: note_told,
    Verb.PICKED: note_told,
    Verb.PRUNED: note_told,
    Verb.CUTTINGS: note_told,
    Verb.GIVE: note_told,
    Verb.PHOTO: photo_told,
    Verb.SEASON: season,
    Verb.LEARNED: learned,
    Verb.FORGET: forget,
    Verb.REVIEW: review,
    Verb.COMPARE: compare,
    Verb.PICTURE: picture,
    Verb.JOB: mark_jobs,
    **YEAR,
}
GOES_ON: Final[Mapping[str, GoOn]] = {
    ADD: add_answered,
    REMOVE: remove_answered,
    RENAME: rename_answered,
    PUT_OUT: put_out_answered,
    IMPORT: import_answered,
    PUT_BACK: put_back_answered,
    DELETE: delete_answered,
    TREE: tree_answered,
    FORGET: forget_answered,
    PROPOSAL: proposal_answered,
}


def answer_to_question(exchange: Exchange) -> list[Answer] | None:
    """The answers to what was typed or tapped in reply to a question of ours; None where it is no answer to one."""
    if exchange.incoming.file_name:
        return None
    dialogue = waiting(exchange.c, exchange.garden.name, exchange.incoming.chat_id, exchange.heard_utc)
    if exchange.incoming.kind is IncomingKind.TAP:
        said = tapped(dialogue, exchange.incoming.button) if is_ours(exchange.incoming.button) else None
    else:
        said = typed(dialogue, exchange.incoming.text) if dialogue else None
    if dialogue is None or said is None:
        return None
    if said.value is None and is_end(said.text):
        close(exchange.c, exchange.garden.name, exchange.incoming.chat_id)
        return [Answer(text="All right, never mind. Nothing was changed.")]
    return GOES_ON[dialogue.kind](exchange, dialogue, said)
