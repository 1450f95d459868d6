"""How replies made of frames are read: reports right, asked about or wrong, deeds nobody told, what is none of ours.

Run by hand from the top: `PYTHONPATH=. nice python tests/benchmarks/reply_frames.py [how many of each kind]`.
"""

import sys

from bot.replies import Ambiguous, NotUnderstood, Reply, Understood, parse_reply
from tests.bot.replies.frames import no_reports, none_of_ours, reports, spread
from tests.bot.replies.test_replies_phrases import SCENES

HERE = SCENES["close"]


def noted(reply: Reply) -> set[tuple[str, str]]:
    """Each deed that would be noted, with its tree."""
    told = reply.meanings if isinstance(reply, Understood) else reply.certain if isinstance(reply, Ambiguous) else ()
    return {(meaning.verb.value, tree) for meaning in told if meaning.is_deed for tree in meaning.trees}


def main(many: int) -> int:
    told = [(one, noted(parse_reply(one.text, HERE))) for one in spread(reports(), many)]
    wrong = [one.text for one, got in told if got and got != {(one.deed, tree) for tree in one.trees}]
    asked = sum(not got for _, got in told)
    print(f"{len(told)} plain reports: {len(told) - asked - len(wrong)} right, {asked} asked about, {len(wrong)} wrong")
    others = spread(no_reports(), many)
    taken = [one.text for one in others if noted(parse_reply(one.text, HERE))]
    print(f"{len(others)} that report nothing: {len(taken)} taken for a deed")
    foreign = list(none_of_ours())
    known = sum(not noted(r) and not isinstance(r, Ambiguous) for r in (parse_reply(o.text, HERE) for o in foreign))
    clear = sum(isinstance(parse_reply(one.text, HERE), NotUnderstood) for one in foreign)
    print(f"{len(foreign)} none of our business: {known} known as such, {clear} of them said to be unclear")
    for text in wrong + taken:
        print("wrong:", text)
    return len(wrong + taken)


if __name__ == "__main__":
    sys.exit(min(1, main(int(sys.argv[1]) if len(sys.argv) > 1 else 1300)))
