"""Replies made of frames × verbs × trees × times: plain reports, what is none, and what is none of our business.

The frames are ways in which English tells, denies, wishes, asks, promises and doubts (common knowledge, no source).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import cycle, islice, product
from typing import Final

VERBS: Final = {  # done, bare verb, going on
    "closed": ("closed", "close", "closing"),
    "vented": ("opened", "open", "opening"),
    "wrapped": ("wrapped", "wrap", "wrapping"),
    "stripped": ("stripped", "strip", "stripping"),
}
TREES: Final = {
    "porch": ("Porch fig",), "the wall fig": ("Wall fig",), "my kaki": ("Kaki",), "eave": ("Eave pomegranate",),
    "porch and wall": ("Porch fig", "Wall fig"), "porch, kaki and eave": ("Porch fig", "Kaki", "Eave pomegranate"),
}  # fmt: skip
TIMES: Final = ("", " at 3pm", " an hour ago", " this morning", " yesterday", " just now", " before it got dark")
REPORTS: Final = (
    "{done} {tree}{time}", "i {done} {tree}{time}", "{tree} {done}{time}", "just {done} {tree}", "{tree} is {done}",
    "I've {done} {tree}", "we have {done} {tree}", "{done} {tree}{time}, thanks", "ok, {done} {tree}{time}",
    "finished {going} {tree}{time}", "my wife {done} {tree}{time}", "{done} {tree}. cold out there!",
    "good evening, {done} {tree}{time}", "{time_first}{done} {tree}", "all good, {done} {tree}",
)  # fmt: skip
NO_REPORTS: Final = (
    "please {base} {tree}", "{tree} needs to be {done}", "ready to {base} {tree}", "I'd {base} {tree} if I were you",
    "haven't {done} {tree}", "didn't {base} {tree}{time}", "{tree} not {done} yet", "forgot to {base} {tree}",
    "should have {done} {tree}{time}", "i think i {done} {tree}", "maybe {done} {tree}", "wish i had {done} {tree}",
    "will {base} {tree} soon", "going to {base} {tree}", "almost {done} {tree}", "never {done} {tree}",
    "did i {base} {tree}", "is {tree} {done}?", "when should i {base} {tree}", "why was {tree} {done}",
    "someone said {tree} was {done}", "was about to {base} {tree} when it snowed", "couldn't {base} {tree}{time}",
    "if {tree} was {done} it would be fine", "unless somebody {done} {tree}", "before i {done} {tree} it was -3",
    "nobody {done} {tree}", "{tree} looks {done} from here", "half {done} {tree}", "the kids nearly {done} {tree}",
    "pretty sure {tree} is {done}", "tell juniper to {base} {tree}", "not sure whether i {done} {tree}",
    "{done} {tree} last winter too", "{done} {tree} in my dream", "who {done} {tree}", "hope she {done} {tree}",
)  # fmt: skip
NOT_OURS: Final = (
    "closed the gate{time}", "wrapped the christmas presents", "opened a bottle of wine", "closed my eyes",
    "the road is closed", "opened the greenhouse door", "wrapped up warm", "closed the deal at work", "shut up",
    "done my back in", "birds got 5 figs", "the shop is closed", "stripped the wallpaper", "opened my mail",
    "covered in mud", "the dog opened the door", "capped a tooth{time}", "closed the windows of the house",
    "did the dishes", "finished my book", "wrapped the pipes", "what a game last night", "my knee hurts",
    "the cat is asleep on the straw", "asdf qwer", "lol that was funny", "happy birthday to the neighbour",
)  # fmt: skip


@dataclass(frozen=True)
class Said:
    """One reply, the deed it reports (empty: none) and the trees it reports it of."""

    text: str
    deed: str
    trees: tuple[str, ...]
    frame: str


def reports() -> Iterator[Said]:
    """Plain reports: each is a deed at its trees, and at no others."""
    for frame, (deed, (done, _, going)), (tree, names), time in product(REPORTS, VERBS.items(), TREES.items(), TIMES):
        if "{time" not in frame and time:
            continue
        be = frame.replace(" is ", " are ") if len(names) > 1 else frame
        first = f"{time.strip()} " if time else ""
        yield Said(be.format(done=done, going=going, tree=tree, time=time, time_first=first), deed, names, frame)


def no_reports() -> Iterator[Said]:
    """What tells of no deed done: asked, wished, denied, doubted, promised, heard of."""
    for frame, (done, base, going), tree, time in product(NO_REPORTS, VERBS.values(), TREES, TIMES):
        if "{time}" in frame or not time:
            yield Said(frame.format(done=done, base=base, going=going, tree=tree, time=time), "", (), frame)


def none_of_ours() -> Iterator[Said]:
    """What is none of our business."""
    for frame, time in product(NOT_OURS, TIMES):
        if "{time}" in frame or not time:
            yield Said(frame.format(time=time), "", (), frame)


def spread(said: Iterator[Said], n: int) -> list[Said]:
    """About `n` of them, from every frame alike."""
    by_frame: dict[str, list[Said]] = {}
    for one in said:
        by_frame.setdefault(one.frame, []).append(one)
    per_frame = max(1, -(-n // len(by_frame)))
    return [
        one
        for rows in by_frame.values()
        for one in islice(cycle(rows[:: max(1, len(rows) // per_frame)]), min(per_frame, len(rows)))
    ]
