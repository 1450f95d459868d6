"""The words for the year's jobs: done, not yet, put off, not wanted; never a deed on a cover, nor the other way."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.replies import Meaning, Understood, Verb, parse_reply
from rules.jobs import MarkState
from tests.bot.replies.test_replies_phrases import SCENES, ZONE, read, table
from tests.bot.replies.test_replies_season import meanings, written
from tests.bot.replies.test_replies_season import told as told_of_others


def told(meaning: Meaning) -> str:
    """One meaning in the table's notation: the job, what became of it, its trees, when."""
    if meaning.verb is not Verb.JOB:
        return told_of_others(meaning)
    parts = [meaning.job or "", meaning.mark or "", ", ".join(meaning.trees)]
    parts += [f"at {meaning.at_utc.astimezone(ZONE):%a %H:%M}"] if meaning.at_utc else []
    if meaning.until_utc:
        until = meaning.until_utc.astimezone(ZONE)
        parts.append(f"until {until:%a} {until.day} {until:%b}")
    return " ".join(part for part in parts if part)


def test_each_of_more_than_sixty_phrases_means_what_the_table_says() -> None:
    rows = [(scene, said, meant, written(read(scene, said), told)) for scene, said, meant in table("phrases_jobs.toml")]
    assert len(rows) >= 60
    assert [row for row in rows if row[2] != row[3]] == []


@pytest.mark.parametrize("name", ["phrases.toml", "phrases_held_back.toml", "season_phrases.toml"])
def test_no_phrase_of_covers_or_season_is_taken_for_a_job(name: str) -> None:
    taken = [said for scene, said, _ in table(name) if Verb.JOB in {m.verb for m in meanings(read(scene, said))}]
    assert taken == []


JOBS = ["watered", "mulched", "checked the straps", "did the scratch test", "bought straw", "done the pruning",
        "topped up the fill", "tied in the branches", "swept the snow off", "looked for voles"]  # fmt: skip
DENIED = [
    "not {} yet",
    "haven't {}",
    "i never {}",
    "{}? no",
    "did not {}",
    "{} - not",
    "hasn't {}",
    "nobody {}, not me",
]
PLACES = ["", "porch", "the wall", "kaki and porch", "everywhere"]


@given(st.sampled_from(JOBS), st.sampled_from(DENIED), st.sampled_from(PLACES), st.sampled_from(sorted(SCENES)))
def test_a_job_denied_is_never_done(job: str, denied: str, place: str, scene: str) -> None:
    reply = parse_reply(f"{denied.format(job)} {place}", SCENES[scene])
    assert not [one for one in meanings(reply) if one.mark is MarkState.DONE]
    assert not (isinstance(reply, Understood) and [one for one in reply.meanings if one.is_deed])


@given(st.sampled_from(JOBS), st.sampled_from(PLACES), st.sampled_from(["", "today", "yesterday", "!", "👍"]))
def test_a_job_told_is_done_in_every_scene_and_is_no_deed_on_a_cover(job: str, place: str, time: str) -> None:
    for context in SCENES.values():
        read = meanings(parse_reply(f"{job} {place} {time}", context))
        assert [(one.verb, one.mark) for one in read if one.verb is not Verb.NOT_DONE] == [(Verb.JOB, MarkState.DONE)]


WORDS = (
    "watered mulch straps voles no not skip later till may porch wall kaki closed wrapped straw bought , . and but "
    "done ? the put off scratch test -6 at 4 pruned picked 3 figs"
)


@given(st.lists(st.sampled_from(WORDS.split()), max_size=8).map(" ".join) | st.text(max_size=60))
def test_a_job_always_says_what_became_of_it(text: str) -> None:
    for one in meanings(parse_reply(text, SCENES["quiet"])):
        assert (one.verb is Verb.JOB) == (one.job is not None) == (one.mark is not None)
        assert one.until_utc is None or one.mark in (None, MarkState.PUT_OFF)
        assert one.until_utc is None or one.until_utc > SCENES["quiet"].now


DEEDS = [
    "closed",
    "opened",
    "wrapped",
    "stripped",
    "shut",
    "took the straw off",
    "put the straw on",
    "took the cap off",
]


@given(
    st.sampled_from(DEEDS), st.sampled_from(["porch", "kaki", "all", "porch and wall"]), st.sampled_from(sorted(SCENES))
)
def test_a_deed_on_a_cover_is_never_a_job(deed: str, place: str, scene: str) -> None:
    assert Verb.JOB not in {one.verb for one in meanings(parse_reply(f"{deed} {place}", SCENES[scene]))}
