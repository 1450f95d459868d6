"""What words in their order are likely about: a small transformer that knew English before it was taught our matters.

Vaswani and others, Attention is all you need (2017); Devlin and others, BERT (2019); of six layers of MiniLM (Wang and
others, 2020; the weights all-MiniLM-L6-v2, Apache License 2.0) three, taught on by `.ci/fit_encoder.py`.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

WEIGHTS: Final = Path(__file__).with_name("encoder.npz")
MOST_PIECES: Final = 40  # of a sentence that are looked at, with the two that stand for its ends; 99 of 100 have fewer
HEADS_OF_ATTENTION: Final = 12  # as the layers were taught
HEADS: Final = ("asked", "told")
LONGEST_WORD: Final = 24  # letters; no source
AS_WORDS: Final = {"TREE": "tree", "TEMP": "degrees", "LEN": "length", "WHO": "she", "NUM": "5"}
Array = NDArray[np.float32]


class Pieces:
    """The pieces of words that are known, the longest first: Schuster and Nakajima, Japanese and Korean voice search
    (2012); one that goes on a word is written with "##" before it.
    """

    def __init__(self, known: Sequence[str]) -> None:
        self._place = {piece: n for n, piece in enumerate(known)}
        self._of_word = lru_cache(4096)(self._split)

    def places(self, words: Iterable[str]) -> list[int]:
        """Where the pieces of some words stand, between the two that mark the ends."""
        said = [one for word in words for one in re.findall(r"\w+|[^\w\s]", AS_WORDS.get(word, word))]
        within = [place for word in said for place in self._of_word(word)][: MOST_PIECES - 2]
        return [self._place["[CLS]"], *within, self._place["[SEP]"]]

    def _split(self, word: str) -> list[int]:
        found: list[int] = []
        start = 0
        while start < len(word) <= LONGEST_WORD:
            led = "##" if start else ""
            end = next((n for n in range(len(word), start, -1) if led + word[start:n] in self._place), start)
            if end == start:
                break
            found.append(self._place[led + word[start:end]])
            start = end
        return found if found and start == len(word) else [self._place["[UNK]"]]


class Linear(NamedTuple):
    """Weights (from, to) and what is added."""

    weights: Array
    base: Array

    def of(self, state: Array) -> Array:
        """What becomes of a state; shapes (…, from) to (…, to)."""
        return np.asarray(state @ self.weights + self.base, dtype=np.float32)


class Layer(NamedTuple):
    """One layer: what each piece takes from all others, and what becomes of it."""

    asks: Linear
    keys: Linear
    values: Linear
    joins: Linear
    norm_joined: Linear
    widens: Linear
    narrows: Linear
    norm_narrowed: Linear

    def passed(self, state: Array) -> Array:
        """The state behind the layer; shapes (pieces, 384)."""
        asks, keys, values = (_by_head(part.of(state)) for part in (self.asks, self.keys, self.values))
        scores = asks @ keys.transpose(0, 2, 1) / np.sqrt(asks.shape[-1])
        looks = np.exp(scores - scores.max(axis=-1, keepdims=True))
        looks /= looks.sum(axis=-1, keepdims=True)
        taken = (looks @ values).transpose(1, 0, 2).reshape(state.shape)
        state = _normed(state + self.joins.of(taken), self.norm_joined)
        wide = self.widens.of(state)
        wide = wide / (1.0 + np.exp(-1.702 * wide))  # Hendrycks and Gimpel, Gaussian error linear units (2016), eq. 2
        return _normed(state + self.narrows.of(wide), self.norm_narrowed)


class Encoder:
    """The layers and heads as they were taught, each weight a byte in steps of its column."""

    def __init__(self, path: Path = WEIGHTS) -> None:
        with np.load(path) as kept:
            self.matters = {head: bytes(kept[f"{head}_matters"]).decode().split("\n") for head in HEADS}
            self._pieces = Pieces(bytes(kept["pieces"]).decode().split("\n"))
            self._bytes, self._steps = kept["pieces_weights"], kept["pieces_step"].astype(np.float32)
            self._places = kept["places"].astype(np.float32)
            self._norm = _linear(kept, "norm")
            count = sum(name.endswith("_asks_base") for name in kept.files)
            self._layers = [Layer(*(_linear(kept, f"layer{n}_{part}") for part in Layer._fields)) for n in range(count)]
            self._heads = {head: _linear(kept, head) for head in HEADS}
        self._meant = lru_cache(64)(self._read)  # what is asked and what is told are read off the same

    def chances(self, head: str, words: Sequence[str]) -> Array:
        """How likely each matter of a head is, in the order of their names; shape (matters,)."""
        scores = self._heads[head].of(self.meant(words))
        chances = np.exp(scores - scores.max())
        return np.asarray(chances / chances.sum(), dtype=np.float32)

    def meant(self, words: Sequence[str]) -> Array:
        """The mean of the last layer over a sentence's pieces; shape (384,)."""
        return self._meant(tuple(words))

    def _read(self, words: tuple[str, ...]) -> Array:
        places = self._pieces.places(words)
        looked_up = self._bytes[places].astype(np.float32) * self._steps[places, None]
        state = _normed(looked_up + self._places[: len(places)], self._norm)
        for layer in self._layers:
            state = layer.passed(state)
        return np.asarray(state.mean(axis=0), dtype=np.float32)


def _by_head(said: Array) -> Array:
    return said.reshape(len(said), HEADS_OF_ATTENTION, -1).transpose(1, 0, 2)


def _linear(kept: Mapping[str, NDArray[np.generic]], name: str) -> Linear:
    """Weights and base by their name, the weights in steps of their column."""
    weights = np.asarray(kept[f"{name}_weights"], dtype=np.float32)
    step = np.asarray(kept[f"{name}_step"], dtype=np.float32)
    return Linear(weights * step, np.asarray(kept[f"{name}_base"], dtype=np.float32))


def _normed(state: Array, norm: Linear) -> Array:
    """Ba, Kiros and Hinton, Layer normalization (2016)."""
    apart = state - state.mean(axis=-1, keepdims=True)
    spread = np.sqrt((apart * apart).mean(axis=-1, keepdims=True) + 1e-12)
    return np.asarray(apart / spread * norm.weights + norm.base, dtype=np.float32)
