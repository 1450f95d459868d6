"""Who answers what: a function for each thing a reply can mean, and one that goes on with each question of ours."""

from collections.abc import Callable, Mapping
from typing import Final

from bot.answers import acknowledging, heard
from bot.answers.condition import conditions, explained, first_things
from bot.answers.dialogues import Dialogue, DialogueAnswer
from bot.answers.exchange import Answer, Exchange
from bot.answers.garden_file import changes, garden_import, settings, tending
from bot.answers.household import absence, delete_data, household, my_settings
from bot.answers.questions import (
    best_forecast,
    calendar_file,
    due,
    freezes,
    last_night,
    on_record,
    outlook,
    ripening,
    small_talk,
    stay_shut,
    why,
)
from bot.answers.season import (
    garden_page,
    job_marks,
    learned,
    photos,
    pictures,
    season_page,
    season_record,
    winter_review,
)
from bot.replies import Meaning, Verb

AnswerTo = Callable[[Exchange, Meaning], list[Answer]]
GoOn = Callable[[Exchange, Dialogue, DialogueAnswer], list[Answer] | None]

ANSWERS: Final[Mapping[Verb, AnswerTo]] = {
    # told: noted in the logbook, and taken back
    Verb.WRAPPED: acknowledging.note_done,
    Verb.VENTED: acknowledging.note_done,
    Verb.CLOSED: acknowledging.note_done,
    Verb.STRIPPED: acknowledging.note_done,
    Verb.BLANKETED: acknowledging.note_done,
    Verb.READING: acknowledging.note_temperature,
    Verb.SIGHTING: acknowledging.note_seen,
    Verb.CONDITION: conditions.note_condition_told,
    Verb.CANNOT: acknowledging.note_not_today,
    Verb.SNOOZE: acknowledging.note_later,
    Verb.UNDO: acknowledging.undo_last,
    Verb.JOB: job_marks.mark_jobs,
    Verb.DIEBACK: season_record.note_told,
    Verb.PICKED: season_record.note_told,
    Verb.PRUNED: season_record.note_told,
    Verb.CUTTINGS: season_record.note_told,
    Verb.GIVE: season_record.note_told,
    Verb.PHOTO: photos.photo_told,
    Verb.NOTE: small_talk.keep_note,
    # heard, though nothing is reckoned with it yet
    Verb.STOCK: heard.hear_stock,
    # asked of the nights and the year
    Verb.TONIGHT: outlook.tell_tonight,
    Verb.NIGHTS: outlook.tell_nights,
    Verb.TREES: outlook.tell_trees,
    Verb.HOW_HARD: outlook.tell_hardiness,
    Verb.LAST_NIGHT: last_night.tell_last_night,
    Verb.WHY: why.tell_why,
    Verb.WHAT_IF: why.tell_what_if,
    Verb.STAY_SHUT: stay_shut.tell_stay_shut,
    Verb.LAST_FROST: freezes.tell_last_freeze,
    Verb.FIRST_FROST: freezes.tell_first_freeze,
    Verb.STRIP_WHEN: freezes.tell_when_to_strip,
    Verb.RIPEN: ripening.tell_ripening,
    Verb.DUE: due.tell_due,
    Verb.CALENDAR: calendar_file.calendar,
    Verb.FIRST: first_things.tell_first,
    Verb.MORE: first_things.tell_more,
    Verb.MAY_OPEN: first_things.tell_may_open,
    Verb.HOW_TO: explained.tell_how,
    Verb.MEAN: explained.tell_meaning,
    Verb.BY_WHEN: first_things.tell_by_when,
    Verb.NOTED: on_record.tell_noted,
    Verb.ALIVE: outlook.tell_alive,
    Verb.NEED: due.tell_need,
    Verb.BEYOND: small_talk.beyond_us,
    # asked of the season, and what it taught
    Verb.SEASON: season_page.season,
    Verb.PICTURE: pictures.picture,
    Verb.PAGE: garden_page.page,
    Verb.LEARNED: learned.learned,
    Verb.BEST_FORECAST: best_forecast.tell_best_forecast,
    Verb.FORGET: learned.forget,
    Verb.REVIEW: winter_review.review,
    Verb.COMPARE: winter_review.compare,
    # the garden file
    Verb.ADD: changes.add,
    Verb.REMOVE: changes.remove,
    Verb.RENAME: changes.rename,
    Verb.COVER: changes.new_cover,
    Verb.SETTING: settings.set_or_show,
    Verb.TENDING: tending.choose_way,
    Verb.FREE_HOURS: tending.choose_hours,
    Verb.EXPORT: changes.export,
    Verb.IMPORT: garden_import.wished,
    # the people
    Verb.LET_IN: household.let_in,
    Verb.WHO: household.who,
    Verb.PUT_OUT: household.put_out,
    Verb.DELETE: delete_data.delete,
    Verb.STOP: absence.stop,
    Verb.START: absence.start,
    Verb.AWAY: absence.note_away,
    Verb.BACK: absence.note_back,
    Verb.WAKE: absence.wake,
    Verb.LET_SLEEP: absence.let_sleep,
    Verb.HAND_OVER: absence.hand_watch_over,
    # small talk
    Verb.HELP: small_talk.give_help,
    Verb.SETTINGS: my_settings.tell_settings,
    Verb.NOT_DONE: small_talk.not_done_yet,
    Verb.WILL_DO: small_talk.promised,
    Verb.THANKS: small_talk.thanked,
    Verb.HELLO: small_talk.greeted,
    Verb.FINE: small_talk.all_fine,
    Verb.CODE: small_talk.code_again,
    Verb.YES: small_talk.bare_yes,
    Verb.NO: small_talk.bare_no,
}
GO_ON: Final[Mapping[str, GoOn]] = {
    changes.ADD: changes.add_answered,
    changes.REMOVE: changes.remove_answered,
    changes.RENAME: changes.rename_answered,
    household.PUT_OUT: household.put_out_answered,
    garden_import.IMPORT: garden_import.import_answered,
    garden_import.PUT_BACK: garden_import.put_back_answered,
    delete_data.DELETE: delete_data.delete_answered,
    photos.TREE: photos.tree_answered,
    learned.FORGET: learned.forget_answered,
    winter_review.PROPOSAL: winter_review.proposal_answered,
    absence.HAND_OVER: absence.hand_over_answered,
}
# What changes something besides the records, whose answers have an undo: what we say to it must be heard.
CHANGES: Final = frozenset(
    {
        *(Verb.ADD, Verb.REMOVE, Verb.RENAME, Verb.COVER, Verb.SETTING, Verb.LET_IN, Verb.PUT_OUT),
        *(Verb.TENDING, Verb.FREE_HOURS),
        *(Verb.STOP, Verb.START, Verb.AWAY, Verb.BACK, Verb.WAKE, Verb.LET_SLEEP, Verb.HAND_OVER),
    }
)
NEWS: Final = frozenset({Verb.READING, Verb.SIGHTING, Verb.CONDITION, Verb.CANNOT, Verb.JOB, Verb.WHY})
# Words under a photo often name only its moment ("porch this morning"): of these nothing is put off, asked or undone.
ONLY_A_CAPTION: Final = frozenset(
    {
        *(Verb.READING, Verb.SIGHTING, Verb.CONDITION, Verb.CANNOT, Verb.SNOOZE, Verb.UNDO, Verb.NOTE),
        *(Verb.TONIGHT, Verb.TREES, Verb.HOW_HARD, Verb.LAST_NIGHT, Verb.WHY, Verb.WHAT_IF),
        *(
            Verb.FIRST,
            Verb.MORE,
            Verb.MAY_OPEN,
            Verb.HOW_TO,
            Verb.MEAN,
            Verb.BY_WHEN,
            Verb.NOTED,
            Verb.ALIVE,
            Verb.NIGHTS,
            Verb.BEYOND,
        ),
        *(Verb.LAST_FROST, Verb.FIRST_FROST, Verb.STRIP_WHEN, Verb.RIPEN),
        *(Verb.STOP, Verb.START, Verb.AWAY, Verb.BACK, Verb.WAKE, Verb.LET_SLEEP, Verb.HAND_OVER),
        Verb.STOCK,
        *(Verb.HELP, Verb.SETTINGS, Verb.NOT_DONE, Verb.WILL_DO, Verb.THANKS, Verb.HELLO, Verb.CODE, Verb.YES, Verb.NO),
        Verb.FINE,
    }
)
