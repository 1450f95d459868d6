"""A deed told by words that may as well be of another matter: a house, a fruit, a list of jobs, the evening before."""

from dataclasses import replace
from datetime import UTC, timedelta
from itertools import pairwise

from bot.replies.assembling import done_or_not
from bot.replies.grammar import grammar, ours
from bot.replies.labels import label
from bot.replies.meanings.read import Meanings
from bot.replies.nouns import Ambiguous, Choice, Context, Question, Reply, Understood, Verb
from bot.replies.words.marking import Marked
from bot.replies.words.times import PART_HOURS

NOON, EVENING = 12, PART_HOURS["tea"]  # hours of the day; "before dark" told before the one is of the other, no source


def asked_if_another(reply: Reply, line: Marked, context: Context) -> Reply:
    """The reply; where a deed in it may be of another matter, or of the evening before, asked about in one tap."""
    if not isinstance(reply, Understood):
        return reply
    deeds = tuple(one for one in reply.meanings if one.is_deed or one.verb is Verb.CONDITION)
    if not deeds:
        return reply
    if _is_headed(line) or _is_a_fruit(deeds, line) or _is_of_a_house(deeds, line):
        return done_or_not(reply.meanings, context)
    return _this_or_last_evening(reply, context) if _was_before_night(deeds, line, context) else reply


def _is_headed(line: Marked) -> bool:
    """ "To do: both closed"."""
    end = next((n for n, word in enumerate(line.words) if word == ":"), 0)
    return not ours().words("HEADINGS").isdisjoint(line.words[:end])


def _is_a_fruit(deeds: Meanings, line: Marked) -> bool:
    """ "Opened a pomegranate", "kaki wrapped as a gift"."""
    trees = {tree for one in deeds for tree in one.trees}
    one_of_many = any(word in ("a", "an") and behind[:1] == "@" for word, behind in pairwise(line.words))
    by_one_word = any(" " not in tree for tree in trees) and bool(line.trees)
    return one_of_many or (by_one_word and not ours().words("FRUITY").isdisjoint(line.words))


def _is_of_a_house(deeds: Meanings, line: Marked) -> bool:
    """ "Wall done, two coats of white": named by a place alone beside words of houses and furniture."""
    by_place = line.named_in_part({tree for one in deeds for tree in one.trees}) if line.trees else ()
    return bool(by_place) and not ours().words("OF_A_HOUSE").isdisjoint(line.words)


def _was_before_night(deeds: Meanings, line: Marked, context: Context) -> bool:
    """ "Had shut them before dark", told in the morning."""
    nights = grammar().words("NIGHTFALL")
    told = any(word == "before" and nights & set(line.words[n + 1 : n + 3]) for n, word in enumerate(line.words))
    return told and context.local_now.hour < NOON and all(one.at_utc is None for one in deeds)


def _this_or_last_evening(reply: Understood, context: Context) -> Ambiguous:
    day = context.local_now - timedelta(days=1)
    at = day.replace(hour=EVENING, minute=0, second=0, microsecond=0)
    before = tuple(replace(one, at_utc=at.astimezone(UTC)) if one.is_deed else one for one in reply.meanings)
    ways = before, reply.meanings
    choices = tuple(Choice(label=label(way, context), meanings=way) for way in ways)
    return Ambiguous(question=Question.WHICH_TIME, choices=choices, unread=reply.unread)
