"""Which trees are meant: full and short names, words of a name, species, standing."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache

from bot.replies.grammar import grammar
from bot.replies.nouns import Context, TreeName
from bot.replies.words.normalising import normalised
from bot.replies.words.spelling import deed_forms, grammar_words
from rules.garden.species import plain, species_names

LONGEST_NAME_WORDS = 5
# A standing that is also an everyday word of the grammar cannot name a tree.
_NO_STANDING = frozenset({"open", "pot", "house"})
NEGATIVE = frozenset(("no", "not", "never", "none", "nothing", "without"))


@dataclass(frozen=True, kw_only=True)
class Named:
    """Trees named by one phrase; `is_group` when all are meant ("the figs"), else one of them."""

    trees: tuple[str, ...]
    is_group: bool = False

    @property
    def is_open(self) -> bool:
        """Whether it is left open which one is meant."""
        return len(self.trees) > 1 and not self.is_group


@dataclass(frozen=True, kw_only=True)
class Lexicon:
    """Every phrase that names trees, and the single words worth mending a typo towards."""

    phrases: dict[tuple[str, ...], Named]
    words: frozenset[str]

    def match(self, words: list[str], start: int) -> tuple[Named, int] | None:
        """The longest phrase that begins at `start`, and the index after it."""
        for end in range(min(len(words), start + LONGEST_NAME_WORDS), start, -1):
            found = self.phrases.get(tuple(words[start:end]))
            if found:
                return found, end
        return None


def _spelled(name: str) -> tuple[str, ...]:
    words = tuple(normalised(name).split())
    return () if NEGATIVE.intersection(words) else words


def _may_name(word: str) -> bool:
    ours = word in deed_forms() or word in small_words() or word in _NO_STANDING
    return len(word) > 1 and word.isalpha() and not ours


@cache
def small_words() -> frozenset[str]:
    """Words that say nothing of their own, which alone name no tree."""
    return grammar().words("SMALL")


def _plurals(word: str) -> set[str]:
    return {word + "s", word + "es", word[:-1] + "ies" if word.endswith("y") else word + "s"}


@lru_cache(maxsize=64)
def lexicon(trees: tuple[TreeName, ...]) -> Lexicon:
    """All names of these trees; a nearer kind of name hides a farther one: full, full with its species, part, species.

    A word of a name that is also a species is of all trees of it: "the fig" is not only Ma's fig.
    """
    shelves: list[dict[tuple[str, ...], list[str]]] = [{}, {}, {}, {}]
    for tree in trees:
        kinds = [word for word in _species_words(tree.species) if _may_name(word)]
        for spelled in _spellings(tree):
            shelves[0].setdefault(spelled, []).append(tree.name)
            for word in kinds:
                shelves[1].setdefault((*spelled, word), []).append(tree.name)
            for part in _parts(spelled):
                shelves[2].setdefault(part, []).append(tree.name)
        for word in (*kinds, *filter(_may_name, _spelled(tree.standing))):
            shelves[3].setdefault((word,), []).append(tree.name)
    for tree in trees:
        for word in _species_words(tree.species):
            if (word,) in shelves[2]:
                shelves[2][(word,)].append(tree.name)
    phrases: dict[tuple[str, ...], Named] = {}
    for shelf in reversed(shelves):
        phrases |= {key: Named(trees=_in_order(found, trees)) for key, found in shelf.items() if key}
    phrases = _words_in_plural(shelves[2]) | _species_in_plural(trees) | phrases
    return Lexicon(phrases=phrases, words=frozenset(w for key in phrases for w in key if len(w) > 3 and w.isalpha()))


def _in_order(names: Sequence[str], trees: tuple[TreeName, ...]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(tree.name for tree in trees if tree.name in names))


def _spellings(tree: TreeName) -> Iterator[tuple[str, ...]]:
    """Each whole name in words, also without its apostrophe: "mas fig"."""
    for name in (tree.name, *tree.short_names):
        yield from dict.fromkeys((_spelled(name), tuple(word.replace("'", "") for word in _spelled(name))))


def _parts(spelled: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
    """The words of a name that may stand for it, alone or together."""
    yield from ((word,) for word in spelled if _may_name(word))
    length = len(spelled)
    yield from (spelled[a:b] for a in range(length) for b in range(a + 2, length + 1) if b - a < length)


def _species_in_plural(trees: tuple[TreeName, ...]) -> dict[tuple[str, ...], Named]:
    groups: dict[tuple[str, ...], Named] = {}
    for species in {tree.species for tree in trees if tree.species}:
        members = tuple(tree.name for tree in trees if tree.species == species)
        for word in {plural for one in (*_spelled(species)[-1:], *_other_names(species)) for plural in _plurals(one)}:
            groups[(word,)] = Named(trees=members, is_group=True)
    return groups


def _species_words(species: str) -> tuple[str, ...]:
    return (*_spelled(species), *_other_names(species))


@cache
def _other_names(species: str) -> tuple[str, ...]:
    """The names of one word under which the table also knows a species, without plurals: a kaki is a persimmon."""
    table = species_names()
    own = table.get(plain(species))
    names = {name for name, key in table.items() if own is not None and key == own and name.isalpha()}
    plurals = {plural for name in (*names, *_spelled(species)) for plural in _plurals(name)}
    return tuple(sorted(names - plurals - set(_spelled(species))))


def _words_in_plural(words: dict[tuple[str, ...], list[str]]) -> dict[tuple[str, ...], Named]:
    """ "Kakis" are of the tree called Kaki."""
    return {
        (word,): Named(trees=tuple(dict.fromkeys(found)), is_group=True)
        for (first, *more), found in words.items()
        if not more
        for word in _plurals(first)
    }


@lru_cache(maxsize=64)
def reserved_names(trees: tuple[TreeName, ...]) -> frozenset[str]:
    """Whole names of one word that are also words of the grammar ("Open", "Help")."""
    single = {spelled[0] for tree in trees for n in (tree.name, *tree.short_names) if len(spelled := _spelled(n)) == 1}
    return frozenset(
        word for word in single if word in grammar_words() - grammar().words("ROOM") or not _may_name(word)
    )


def mark_trees(words: list[str], names: Lexicon, hidden: frozenset[str]) -> tuple[list[str], list[Named]]:
    """The words with each phrase that names trees replaced by `@n`, and what each mark stands for.

    Neighbouring phrases that can mean one tree together ("eave pom") are one mark. Words in `hidden` are left to
    the grammar.
    """
    marked: list[str] = []
    named: list[Named] = []
    at = 0
    while at < len(words):
        word = words[at]
        stripped = [w.removesuffix("'s") if w.removesuffix("'s") != w and len(w) > 4 else w for w in words]
        found = None if word in hidden else names.match(stripped, at)
        if found is None:
            marked.append(word)
            at += 1
            continue
        here, at = found
        shared = _shared(named[-1], here) if marked and marked[-1].startswith("@") else None
        if shared:
            named[-1] = shared
        else:
            marked.append(f"@{len(named)}")
            named.append(here)
    return marked, named


def trees_named(text: str, context: Context) -> tuple[str, ...]:
    """The trees that a text names beyond doubt, wherever in it, such as the words under a photo."""
    _, named = mark_trees(normalised(text).split(), lexicon(context.trees), frozenset())
    return tuple(dict.fromkeys(one.trees[0] for one in named if len(one.trees) == 1))


def tree_named_wholly(words: str, trees: tuple[TreeName, ...]) -> tuple[str, ...]:
    """The tree that words name, wholly; empty where they name none, several or more than a tree."""
    spelled = normalised(words).split()
    names = lexicon(trees)
    for skip in range(2):
        found = names.match(spelled[skip:], 0) if spelled[skip:] else None
        if found and found[1] == len(spelled) - skip and len(found[0].trees) == 1:
            return found[0].trees
        if spelled[:1] not in (["the"], ["my"], ["tree"]):
            break
    return ()


def _shared(before: Named, here: Named) -> Named | None:
    trees = tuple(name for name in before.trees if name in here.trees)
    return Named(trees=trees, is_group=before.is_group and here.is_group) if trees else None
