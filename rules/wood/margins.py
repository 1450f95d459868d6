"""How far each tree is from harm: every coming night, in every state its cover can take."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from rules.garden.cover import Cover, CoverState
from rules.garden.doubt import Doubt
from rules.garden.tree import Tree
from rules.wood.hardiness import Hardiness
from rules.wood.injury import outside_share


@dataclass(frozen=True, kw_only=True)
class Tissue:
    """What the wood of one tree would feel in one night with its cover in one state.

    Parameters
    ----------
    wood_c, top_c
        Lowest temperature of the stems at mid-height and at their top [°C], mean over the members.
    low_c, high_c
        10 % and 90 % points of the lowest temperature at mid-height [°C], all doubts in.
    sd_c
        One standard deviation of it besides the forecast: site and cover [°C].
    chance
        Chance that it is colder than the wood can take.
    lost
        Expected share of the wood lost, with what stands out above the cover.
    warmest_c
        Highest air inside by daylight on the day of its evening [°C].
    roots_c
        Lowest of the soil round its roots [°C]; None where they are not in a pot.
    """

    wood_c: float
    top_c: float
    low_c: float
    high_c: float
    sd_c: float
    chance: float
    lost: float
    warmest_c: float
    roots_c: float | None = None


class TissueWhenAsked(Mapping[CoverState, Tissue]):
    """Tissue by state where one alone is known: that of the others is worked out once somebody asks for it."""

    def __init__(
        self,
        known: Mapping[CoverState, Tissue],
        states: Sequence[CoverState],
        whole: Callable[[], Mapping[CoverState, Tissue]],
    ) -> None:
        self.known, self._states, self._whole = known, states, whole

    def __getitem__(self, state: CoverState) -> Tissue:
        return self.known[state] if state in self.known else self._whole()[state]

    def __iter__(self) -> Iterator[CoverState]:
        return iter(self._states)

    def __len__(self) -> int:
        return len(self._states)


@dataclass(frozen=True, kw_only=True)
class Night:
    """One night at one tree, named by the date of its evening.

    `field_c` is the minimum in the open field, `air_c` at the tree (means over the members, with their 10 and 90 %
    points `air_low_c`, `air_high_c`), `lowest_utc` when it comes, `sunset_utc` when daylight ends on its evening and
    `sunrise_utc` when it began that day, None where the sun does neither. `gust_m_s` is the worst gust of the daylight
    before it, `day_high_c` the highest air at the tree on the day of its evening. `calm` are the stretches of that
    daylight in which covers can be worked at, None where only the worst gust is known.
    """

    evening: date
    field_c: float
    air_c: float
    air_low_c: float
    air_high_c: float
    lowest_utc: datetime
    sunset_utc: datetime | None
    sunrise_utc: datetime | None
    gust_m_s: float
    day_high_c: float
    complete: bool
    tissue: Mapping[CoverState, Tissue]
    calm: tuple[tuple[datetime, datetime], ...] | None = None

    @property
    def known(self) -> Mapping[CoverState, Tissue]:
        """The tissue that is worked out already."""
        return self.tissue.known if isinstance(self.tissue, TissueWhenAsked) else self.tissue


@dataclass(frozen=True, kw_only=True)
class TreeMargins:
    """One tree: what it is, what its wood can take, each coming night in each state its cover can take.

    `state` is None where nobody has said how the cover stands.
    """

    tree: Tree
    cover: Cover | None
    state: CoverState | None
    hardiness: Hardiness
    nights: Sequence[Night]
    doubts: tuple[Doubt, ...]

    @property
    def tended(self) -> bool:
        """Whether there is a cover to work at: not where the tree has none or is left bare on purpose."""
        return self.cover is not None and not self.tree.left_bare

    @property
    def outside(self) -> float:
        """Share of its wood that stands out above its cover, bare whatever is done [0-1]."""
        return outside_share(self.cover.height_m, self.cover.tree_height_m) if self.cover and self.tended else 0.0

    @property
    def cared_for(self) -> Tree:
        """The tree with the worth of the part its cover can save."""
        return self.tree.model_copy(update={"worth_trips": self.tree.worth_trips * (1.0 - self.outside)})

    @property
    def state_assumed(self) -> CoverState:
        """The state the tree is taken to be in: bare where nobody has said, which is the colder, or it has no cover."""
        return CoverState.BARE if self.state is None or not self.tended else self.state

    def night_of(self, evening: date) -> Night:
        """The night with this evening, else the first after it, else the last there is.

        Raises
        ------
        LookupError
            If there are no nights at all.
        """
        if not self.nights:
            raise LookupError(f"no nights ahead are known for {self.tree.name}")
        return next((night for night in self.nights if night.evening >= evening), self.nights[-1])
