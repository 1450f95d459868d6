"""What a reply can mean, and what must be known of the garden and the conversation to read it."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from zoneinfo import ZoneInfo

from rules.garden.condition import ConditionKind, Layer
from rules.garden.cover import CoverState
from rules.garden.records import DeedKind, Place, SightingKind
from rules.jobs import JobKind, MarkState


class Verb(StrEnum):
    """What a person asks of us or tells us."""

    WRAPPED = "wrapped"
    VENTED = "vented"
    CLOSED = "closed"
    STRIPPED = "stripped"
    BLANKETED = "blanketed"  # a sheet or blanket over a tree for the night
    NOT_DONE = "not_done"
    CANNOT = "cannot"
    SNOOZE = "snooze"
    WILL_DO = "will_do"  # a promise: the nudge stays open
    UNDO = "undo"
    DUE = "due"
    TONIGHT = "tonight"
    NIGHTS = "nights"  # all that the forecast reaches
    LAST_NIGHT = "last_night"
    TREES = "trees"
    WHY = "why"
    READING = "reading"
    SIGHTING = "sighting"
    WHAT_IF = "what_if"
    LAST_FROST = "last_frost"
    FIRST_FROST = "first_frost"
    STRIP_WHEN = "strip_when"
    RIPEN = "ripen"
    HOW_HARD = "how_hard"
    SEASON = "season"
    NEED = "need"
    LEARNED = "learned"
    FORGET = "forget"
    REVIEW = "review"
    COMPARE = "compare"
    NOTE = "note"
    AWAY = "away"
    BACK = "back"
    START = "start"
    WAKE = "wake"
    LET_SLEEP = "let_sleep"
    HAND_OVER = "hand_over"
    STOP = "stop"
    CODE = "code"
    HELP = "help"
    SETTINGS = "settings"
    THANKS = "thanks"
    HELLO = "hello"
    YES = "yes"
    NO = "no"
    ADD = "add"
    REMOVE = "remove"
    RENAME = "rename"
    TENDING = "tending"  # whose way a cover is tended
    FREE_HOURS = "free_hours"
    STAY_SHUT = "stay_shut"
    COVER = "new_cover"  # what a cover is built of, not the deed of covering
    BEST_FORECAST = "best_forecast"
    LET_IN = "let_in"
    WHO = "who"
    PUT_OUT = "put_out"
    DIEBACK = "dieback"
    PICKED = "picked"
    PRUNED = "pruned"
    CUTTINGS = "cuttings"
    GIVE = "give"
    PHOTO = "photo"
    EXPORT = "export"
    IMPORT = "import"
    DELETE = "delete"
    PICTURE = "picture"
    PAGE = "page"  # all of the garden in one file
    CALENDAR = "calendar"
    SETTING = "setting"  # one to be changed
    FIRST = "first"  # what to do first tonight
    MORE = "more"  # what else can be done for a tree
    MAY_OPEN = "may_open"
    HOW_TO = "how_to"
    MEAN = "mean"  # what a word of ours means
    BY_WHEN = "by_when"  # until when a job can wait
    NOTED = "noted"  # what was told and stands on record
    ALIVE = "alive"  # whether the wood lives
    CONDITION = "condition"  # what befell a cover or its tree, or was put right
    JOB = "job"  # one of the year's jobs done, put off or not wanted
    # what lies in the shed: `text` says what
    STOCK = "stock"
    FINE = "fine"  # looked, and nothing wrong
    BEYOND = "beyond"  # asked, but nothing we know: prices, other plants, the news


DEEDS: dict[Verb, DeedKind] = {Verb(kind.value): kind for kind in DeedKind}


# What leaves a job as it was: it notes no deed.
REFUSALS: frozenset[Verb] = frozenset((Verb.NOT_DONE, Verb.CANNOT, Verb.SNOOZE, Verb.WILL_DO))


class UnreadableError(ValueError):
    """The reply names what is not there, or leaves out what it needs; the message says which."""


class Question(StrEnum):
    """What an ambiguous reply leaves open."""

    WHICH_TREE = "which tree"
    WHICH_ASK = "which ask"
    WHICH_DEED = "which deed"
    WHICH_TIME = "which time"
    WHAT_ABOUT = "what about it"
    DONE_OR_NOT = "done or not"
    SO_OR_NOT = "so or not"
    WHICH_NUMBER = "which number"
    TAKE_BACK = "take back"


@dataclass(frozen=True, kw_only=True)
class TreeName:
    """One tree as people speak of it; `number` is the one the list of trees shows."""

    name: str
    short_names: tuple[str, ...] = ()
    number: int
    species: str = ""
    standing: str = ""
    state: CoverState | None = None
    has_cover: bool = True


@dataclass(frozen=True, kw_only=True)
class OpenAsk:
    """A nudge that still waits for its answer.

    `numbers` are the numbers the message showed beside the trees; left empty, they are 1, 2, 3, …
    """

    key: str
    verb: Verb
    trees: tuple[str, ...]
    numbers: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        if self.numbers and len(self.numbers) != len(self.trees):
            raise ValueError(f"ask '{self.key}' numbers {len(self.numbers)} of {len(self.trees)} trees")

    def numbered(self) -> dict[int, str]:
        """The tree behind each number shown."""
        return dict(zip(self.numbers or range(1, len(self.trees) + 1), self.trees, strict=True))


@dataclass(frozen=True, kw_only=True)
class Context:
    """What a reply is read against: the garden's trees, its clock and units, and the talk so far.

    `lapsed` is the last nudge, where it is no longer open and nothing else is; `last_told` what was last noted, which a
    correction puts right; `offered` the choices that were offered last, of which a word may pick one; `people` are
    those of the garden, by name.
    """

    trees: tuple[TreeName, ...]
    now: datetime
    zone: ZoneInfo
    fahrenheit: bool = False
    inches: bool = False
    decimal_comma: bool = False
    open_asks: tuple[OpenAsk, ...] = ()
    quoted: OpenAsk | None = None
    lapsed: OpenAsk | None = None
    last_told: tuple["Meaning", ...] = ()
    offered: tuple["Choice", ...] = ()
    people: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.now.tzinfo is None:
            raise ValueError(f"now must carry a time zone, got {self.now}")

    @property
    def local_now(self) -> datetime:
        """The garden's own time."""
        return self.now.astimezone(self.zone)

    @property
    def asks(self) -> tuple[OpenAsk, ...]:
        """The nudges a reply may answer: the quoted one alone, else all that are open."""
        return (self.quoted,) if self.quoted else self.open_asks


@dataclass(frozen=True, kw_only=True)
class Meaning:
    """One thing a person said, ready to become a record or an answer.

    `at_utc` is when it happened (None: now, or unsaid); `until_utc` when to ask again, or when an absence ends;
    `air_c` [°C]; `ask_key` the nudge it answers. A meaning read `through_typo` may act only where undo exists.
    `count` of fruit or cuttings; `share` [0-1] of wood lost, or `length_m` [m] of dead stem, of `whole_m` [m].
    `condition` is what befell a cover, of one `layer` where one is off, or was put right (`is_over`); a height or depth
    told with it is `length_m` [m], a place that a tree was moved to `text`.
    `top` is how the top of a cover was left that was put on (closed or vented).
    `job` and `mark` are one of the year's jobs and what became of it; without trees it is meant at all of them.
    """

    verb: Verb
    trees: tuple[str, ...] = ()
    at_utc: datetime | None = None
    air_c: float | None = None
    place: Place = Place.AIR
    is_minimum: bool = False
    sight: SightingKind | None = None
    condition: ConditionKind | None = None
    layer: Layer | None = None
    is_over: bool = False
    top: DeedKind | None = None
    until_utc: datetime | None = None
    month: int | None = None
    count: int | None = None
    share: float | None = None
    length_m: float | None = None
    whole_m: float | None = None
    job: JobKind | None = None
    mark: MarkState | None = None
    text: str = ""
    through_typo: bool = False
    ask_key: str | None = None

    @property
    def is_deed(self) -> bool:
        """Whether it would change what the logbook says of a cover."""
        return self.verb in DEEDS


@dataclass(frozen=True, kw_only=True)
class Choice:
    """One answer to offer: the words for its button, and all that is meant by choosing it."""

    label: str
    meanings: tuple[Meaning, ...]


@dataclass(frozen=True, kw_only=True)
class Understood:
    """A reply with one reading; `unread` are words beside it that are none of our business, to be said so."""

    meanings: tuple[Meaning, ...]
    unread: str = ""


@dataclass(frozen=True, kw_only=True)
class Ambiguous:
    """A reply with two or three readings, of which nothing is recorded until one is chosen.

    `certain` holds whichever is chosen, and is acted on at once: who answers no more has still told it.
    """

    question: Question
    choices: tuple[Choice, ...]
    certain: tuple[Meaning, ...] = ()
    unread: str = ""

    @property
    def ways(self) -> tuple[tuple[Meaning, ...], ...]:
        """Each reading as a whole."""
        return tuple((*self.certain, *choice.meanings) for choice in self.choices)


@dataclass(frozen=True, kw_only=True)
class NotUnderstood:
    """A reply we cannot read: what was understood of it, and what may have been meant (up to three).

    Where not a word of it is ours it `is_ours` not: meant for somebody else, or mere talk.
    """

    heard: str = ""
    choices: tuple[Choice, ...] = ()
    is_ours: bool = True


Reply = Understood | Ambiguous | NotUnderstood
