"""Descriptions in the grower's words: a new tree, where it stands, how it is covered, a place on the map."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from bot.replies.words.amounts import NUMBER, UNIT, length_m
from bot.replies.words.normalising import normalised
from rules.garden.cover import Preset
from rules.garden.materials import Blanket, BlanketPlace, Fill
from rules.garden.species import species_names
from rules.garden.tree import Purpose, Standing

# The words people use for a spot, longest first; the plain word of each is among them.
STANDING_WORDS: Final[dict[Standing, str]] = {
    Standing.POT: r"in a (?:pot|tub|container|bucket)|potted|pot|tub|container",
    Standing.WALL: r"(?:by|on|at|against|along|near|next to) (?:the |a |our |my )?(?:(?:south|west|east|north|warm|"
    r"brick|heated|stone) )*(?:house wall|wall of (?:the|a heated) house|house|wall|chimney)|house wall|wall|house",
    Standing.EAVE: r"under (?:the |an? )?(?:eaves?|roof|overhang|carport|porch roof|balcony)|eaves?|overhang",
    Standing.HOLLOW: r"in (?:the |a )?(?:hollow|dip|low spot|frost pocket|bottom|valley floor)|hollow|frost pocket|dip",
    Standing.SLOPE: r"on (?:the |a )?(?:slope|hillside|hill|bank|terrace)|half ?way up|slope|hillside|hill",
    Standing.COURT: r"in (?:the |a )?(?:paved )?(?:court|courtyard|patio|yard with paving)|on (?:the )?patio|courtyard|"
    r"court|patio",
    Standing.OPEN: r"(?:out )?in the (?:open|garden|lawn|field|yard|orchard)|(?:on|in) the lawn|open|free|lawn|orchard",
}
# Every preset by words a grower would use, the most telling first.
COVER_WORDS: Final[list[tuple[Preset, str]]] = [
    (Preset.MOUND, r"mound\w*|bent (?:down|over)|buried|bend and bury"),
    (Preset.CELLAR, r"cellar|basement"),
    (Preset.PORCH, r"(?:unheated |cold )?porch"),
    (Preset.GREENHOUSE, r"green ?house|glass ?house"),
    (Preset.GARAGE, r"garage|(?:in|into|inside|to) (?:the |a |my |our )?(?:shed|barn|house)|indoors"),
    (Preset.POT, r"pot under (?:a |the )?roof|pot roof|pot|under a roof"),
    (Preset.BOX, r"box\w*|boards|crate"),
    (Preset.LEAF_FILM, r"lea(?:f|ves)\b.*\b(?:films?|plastic|foil|poly\w*)"),
    (Preset.LEAF, r"lea(?:f|ves)"),
    (Preset.STRAW_BLANKET_FILM, r"(?=.*\bstraw\b)(?=.*\bblanket)(?=.*\b(?:films?|plastic|foil|poly))\w+"),
    (Preset.STRAW_FILM, r"straw\b.*\b(?:films?|plastic|foil|poly\w*)|(?:films?|plastic)\b.*\bstraw"),
    (Preset.STRAW, r"straw|hay"),
    (Preset.BLANKET_FILM, r"blankets?\b.*\b(?:films?|plastic|tarp|poly\w*)|(?:films?|plastic|tarp)\b.*\bblankets?"),
    (Preset.BURLAP, r"burlap|hessian|jute|sacking"),
    (Preset.BLANKET, r"blankets?|quilt|fleece"),
    (Preset.FILM, r"films?|plastic|poly\w*"),
]
NO_COVER: Final = re.compile(r"^(?:no cover|none|no|nothing|uncovered|it has none|without|not covered|no cover yet)$")
LEFT_BARE: Final = re.compile(r"\b(?:left bare|leave it bare|bare on purpose|never covered)\b")
_SIZE: Final = rf"(?P<number>{NUMBER}) ?(?P<unit>{UNIT})?"
_SIDES: Final = {
    "inner_diameter": r"inside|inner|within|inner cage|inside diameter",
    "outer_diameter": r"outside|outer|across|wide|outer cage|outside diameter|overall",
    "height": r"high|tall|height|in height",
    "vent_hole": r"vent hole|vent|hole",
    "plug": r"plug|under the cap",
}
_MINUTES: Final = re.compile(r"(?P<count>\d+) ?(?:min|mins|minutes)(?: to (?P<what>wrap|close|shut))?")
_NAMED: Final = re.compile(
    r"\b(?:called|named|name is|calls? (?:it|him|her|this one)|calls?)\s+(?:[\"“‘'](?P<quoted>[^\"”’]+?)[\"”’']|"
    r"(?P<name>[^,;.\"“”]+?)(?=\s*[,;.]|\s*$|\s(?:in|by|on|under|against|at|near|next to|planted|since)\s|"
    r"\s(?:left bare|twin (?:of|to)|that|which|we|i|bent|wrapped|with|covered)\b))",
    re.IGNORECASE,
)
_TWO_FILMS: Final = re.compile(
    r"\b(?:two|2|double|second) (?:layers? of |sheets? of )?(?:plastic |clear )?(?:films?|plastic|poly\w*)\b",
    re.IGNORECASE,
)
_BLANKET: Final = re.compile(r"(?:\w+ )?(?:blankets?|quilt|fleece|duvet)\b")
_BLANKETS: Final = (Blanket.INSULATING, Blanket.FLEECE)  # told apart by their word; any other is a moving blanket
_BLANKET_OUTSIDE: Final = re.compile(
    r"\b(?:blankets?|quilt|fleece) (?:on the )?(?:outside|over|a?round)\b|\boutside (?:\w+ )?(?:blanket|quilt|fleece)"
)
_WITH_UNIT: Final = re.compile(rf"\d ?(?:{UNIT}|[\"″”'′’])", re.IGNORECASE)
_YEAR: Final = re.compile(r"\b(?:planted|since|from|put in)\D{0,20}?\b(?P<year>(?:19|20)\d\d)\b", re.IGNORECASE)
_AGE: Final = re.compile(rf"\b(?P<years>{NUMBER}) years? old\b", re.IGNORECASE)
_TWIN: Final = re.compile(r"\btwin (?:of|to) (?:the )?(?P<twin>[^,;.]+?)(?=\s*(?:[,;.]|$| and ))", re.IGNORECASE)
_LIKE: Final = re.compile(
    r"\b(?:the )?same (?:cover|cage|wrap|way)?\s*(?:as|like) (?:at |for |the )?(?P<tree>[^,;.]+?)(?=\s*(?:[,;.]|$))",
    re.IGNORECASE,
)
_STICKS_OUT: Final = re.compile(
    r"\b(?:tip|top|leader)s? (?:that )?(?:sticks?|sticking|stands?|pokes?|poking) out\b", re.IGNORECASE
)
_HIGH: Final = re.compile(rf"(?:{NUMBER}) ?(?:{UNIT})? (?:high|tall)\b", re.IGNORECASE)
_INDOORS: Final = re.compile(r"\b(?:goes|moves|winters|kept|brought|comes|stands) (?:in|into|inside|to)\b|\bindoors\b")
_ABOUT: Final = re.compile(
    r"\b(?:fig|tree|trial|keep|give away|unknown|please|thanks?|(?:don'?t|do not) know|not sure|no idea)\b",
    re.IGNORECASE,
)
_UNHEATED: Final = re.compile(
    r"\b(?:barn|shed|stable|garden|orchard|fence|stone|boundary)\b"
)  # no wall of a warm house
_BETWEEN: Final = re.compile(r"[,;.]\s+|[,;.]$|\s+and\s+")
_LETTERS: Final = re.compile(r"[^\W\d_]{2,}")
_COORDINATE: Final = re.compile(
    r"^[^\w+.-]*(?P<lat>[+\-−–]?\d{1,2}(?:\.\d+)?)\s*°?\s*(?P<ns>[NSns])?\s*[,; /]+\s*"
    r"(?P<lon>[+\-−–]?\d{1,3}(?:\.\d+)?)\s*°?\s*(?P<ew>[EWew])?\W*$"
)


@dataclass(frozen=True, kw_only=True)
class TreeWords:
    """What was said of a new tree; empty or None is what was not said. `unkept` is what nothing can be made of."""

    name: str = ""
    species: str = ""
    cultivar: str = ""
    planted_year: int | None = None
    standing: Standing | None = None
    purpose: Purpose = Purpose.KEEP
    left_bare: bool = False
    twin: str = ""
    height_m: float | None = None
    cover: Preset | None = None
    cover_like: str = ""
    has_no_cover: bool = False
    cover_sizes_m: Mapping[str, float] = field(default_factory=dict)
    cover_built: Mapping[str, Any] = field(default_factory=dict)
    unkept: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class CoverWords:
    """What was said of a cover: the nearest preset, if one was named, and sizes [m] and minutes by their key.

    `built` is what of it is not as its preset has it: the garden file's keys and values.
    """

    preset: Preset | None
    sizes_m: dict[str, float]
    minutes: dict[str, int]
    built: dict[str, Any]


def read_tree_words(text: str, year: int) -> TreeWords:
    """A new tree from its description; `year` is the present one.

    >>> read_tree_words("a fig called Porch, by the house wall, planted 2023", 2026).standing.value
    'wall'
    """
    named = _NAMED.search(text)
    name = (named["quoted"] or named["name"]).strip() if named else ""
    rest = text[: named.start()] + "," + text[named.end() :] if named else text
    plain = normalised(rest)
    species, words = _species_in(plain)
    sizes_m = _cover_sizes(rest)
    clauses = [part.strip() for part in _BETWEEN.split(rest) if _LETTERS.search(part)]
    cover = read_cover_words(" ".join(one for one in clauses if _cover_in(one)), inches=False)
    planted, age = _YEAR.search(rest), _AGE.search(plain)
    return TreeWords(
        name=name,
        species=species,
        cultivar=_cultivar(rest, words) if species else "",
        planted_year=int(planted["year"]) if planted else year - _years(age["years"]) if age else None,
        standing=standing_in(plain, words),
        purpose=Purpose.GIVE_AWAY if "give away" in plain else Purpose.TRIAL if "trial" in plain else Purpose.KEEP,
        left_bare=bool(LEFT_BARE.search(plain)),
        twin=twin["twin"].strip() if (twin := _TWIN.search(rest)) else "",
        height_m=_size(plain, "high|tall", inches=False),
        cover=cover.preset if cover else None,
        cover_like=like["tree"].strip() if (like := _LIKE.search(rest)) else "",
        has_no_cover=any(NO_COVER.match(normalised(one)) for one in clauses),
        cover_sizes_m=sizes_m,
        cover_built=cover.built if cover else {},
        unkept=tuple(clause for clause in clauses if not _is_kept(clause, words)),
    )


def _cover_in(clause: str) -> Preset | None:
    """The way of covering that one clause tells; a spot is none."""
    if standing_in(clause) is not None and not _INDOORS.search(clause):
        return None
    found = read_cover_words(clause, inches=False)
    return found.preset if found else None


def _cover_sizes(rest: str) -> dict[str, float]:
    """Sizes of the cover [m] that are told with their unit; how high something is may be meant of the tree."""
    found: dict[str, float] = {}
    for clause in (part for part in _BETWEEN.split(rest) if _WITH_UNIT.search(part)):
        words = read_cover_words(clause, inches=False)
        found |= words.sizes_m if words else {}
    return {key: size for key, size in found.items() if key != "height"}


def _is_kept(clause: str, species: str) -> bool:
    """Whether something was made of one clause of a description."""
    told = (_YEAR, _AGE, _TWIN, _LIKE, LEFT_BARE, _HIGH, _STICKS_OUT, _ABOUT, _TWO_FILMS)
    if _cover_sizes(clause) or NO_COVER.match(normalised(clause)):
        return True
    known = standing_in(clause) is not None or _cover_in(clause) is not None or bool(species and species in clause)
    return known or any(pattern.search(clause) for pattern in told)


def _years(words: str) -> int:
    return int(length_m(words, "m", inches=False))


def _species_in(plain: str) -> tuple[str, str]:
    """The species the table knows, and the words it was named by; the longest name wins."""
    names = sorted(species_names(), key=len, reverse=True)
    found = next((name for name in names if re.search(rf"\b{re.escape(name)}s?\b", plain)), "")
    return found, found


def _cultivar(rest: str, species: str) -> str:
    """Words in quotation marks, or capitals right before the species or after it ("a Florea fig", "fig Florea")."""
    quoted = re.search(r"[\"“‘'](?P<name>[^\"”’']{2,40})[\"”’']", rest)
    if quoted:
        return quoted["name"].strip()
    capital = r"(?P<name>[A-ZÀ-Þ][\w'.-]*(?: [A-ZÀ-Þ][\w'.-]*)*)"
    before = re.search(rf"{capital} (?i:{re.escape(species)})\b", rest)
    after = re.search(rf"\b(?i:{re.escape(species)}) {capital}", rest)
    found = before or after
    name = re.sub(r"^(?:(?:Add|A|An|The|My|New|Please|I)(?:\s+|$))+", "", found["name"] if found else "")
    return "" if normalised(name) == species else name


def standing_in(plain: str, species: str = "") -> Standing | None:
    """Where a tree stands, from a phrase of a description; None where nothing is said of it.

    >>> standing_in("against the south wall of the house").value, standing_in("by the wall of the shed")
    ('wall', None)
    """
    text = plain.replace(species, " ") if species else plain
    for standing, words in STANDING_WORDS.items():
        phrases = [word for word in words.split("|") if word]
        if re.search(rf"\b(?:{'|'.join(phrases)})\b", text):
            return None if standing is Standing.WALL and _UNHEATED.search(text) else standing
    return None


def read_cover_words(text: str, *, inches: bool) -> CoverWords | None:
    """A cover from its description; None where it names neither a way of covering nor a size.

    >>> words = read_cover_words("straw cage with film, 60 cm inside, 100 cm outside", inches=False)
    >>> words.preset.value, words.sizes_m
    ('straw cage with film', {'inner_diameter': 0.6, 'outer_diameter': 1.0})
    """
    plain = re.sub(r'(?<=\d)["″”]', " in ", text)
    plain = re.sub(r"(?<=\d)['′’](?=\s|$|,)", " ft ", plain)
    plain = normalised(plain)
    sizes = {key: size for key, words in _SIDES.items() if (size := _size(plain, words, inches=inches)) is not None}
    minutes = {f"minutes_to_{_what(found['what'])}": int(found["count"]) for found in _MINUTES.finditer(plain)}
    without_sizes = re.sub(rf"{_SIZE}|inside|outside", " ", plain)
    preset = next((one for one, words in COVER_WORDS if re.search(rf"\b(?:{words})\b", without_sizes)), None)
    if preset is None and not sizes and not minutes:
        return None
    if not sizes and re.search(rf"{NUMBER} ?{UNIT}", plain):
        return None  # a size of which it is not said whether it is inside or outside is not left out in silence
    return CoverWords(preset=preset, sizes_m=sizes, minutes=minutes, built=_built(preset, plain))


def _built(preset: Preset | None, plain: str) -> dict[str, Any]:
    """What of a cover is not as its preset has it: blanket and its side, a second film, what fills a box."""
    own: dict[str, Any] = {"second_film": True} if _TWO_FILMS.search(plain) else {}
    if (found := _BLANKET.search(plain)) and preset in (Preset.STRAW, Preset.LEAF):
        own["blanket"] = next((kind for kind in _BLANKETS if str(kind).split()[0] in found[0]), Blanket.MOVING).value
    if _BLANKET_OUTSIDE.search(plain) and ("blanket" in own or preset is Preset.STRAW_BLANKET_FILM):
        own["blanket_place"] = BlanketPlace.OUTSIDE.value
    filled = next((fill for fill in (Fill.LEAVES, Fill.SHAVINGS) if str(fill).split()[-1] in plain), None)
    return own | ({"fill": filled.value} if preset is Preset.BOX and filled else {})


def _what(word: str | None) -> str:
    return "close" if word in ("close", "shut") else "wrap"


def _size(plain: str, words: str, *, inches: bool) -> float | None:
    found = re.search(rf"{_SIZE} (?:{words})\b", plain) or re.search(rf"\b(?:{words}):? (?:is )?{_SIZE}", plain)
    return length_m(found["number"], found["unit"], inches=inches) if found else None


def read_coordinates(text: str) -> tuple[float, float] | None:
    """Latitude and longitude [degrees] as typed; None where the text is no place on Earth.

    >>> read_coordinates("12.3, -45.6"), read_coordinates("12.3 N, 45.6 W"), read_coordinates("91, 0")
    ((12.3, -45.6), (12.3, -45.6), None)
    """
    found = _COORDINATE.match(text.replace("−", "-").replace("–", "-"))
    if found is None:
        return None
    latitude = float(found["lat"]) * (-1 if (found["ns"] or "").upper() == "S" else 1)
    longitude = float(found["lon"]) * (-1 if (found["ew"] or "").upper() == "W" else 1)
    return (latitude, longitude) if abs(latitude) <= 90 and abs(longitude) <= 180 else None
