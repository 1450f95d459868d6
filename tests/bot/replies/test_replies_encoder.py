"""The transformer beside the counted words: its pieces by the published example, its parts by what they must be."""

import numpy as np
import pytest

from bot.replies.learned.encoder import HEADS, MOST_PIECES, Encoder, Layer, Linear, Pieces
from bot.replies.learned.likely import TOLD, learned

CHANCE = np.random.default_rng(7)


def layer(width: int, *, seed: int) -> Layer:
    """A layer of weights drawn by chance."""
    drawn = np.random.default_rng(seed)

    def part(wide: int, to: int) -> Linear:
        return Linear(drawn.normal(0, 0.1, (wide, to)).astype(np.float32), np.zeros(to, np.float32))

    norm = Linear(np.ones(width, np.float32), np.zeros(width, np.float32))
    square = part(width, width)
    return Layer(square, square, square, square, norm, part(width, 4 * width), part(4 * width, width), norm)


def test_a_word_is_cut_into_the_longest_pieces_that_are_known() -> None:
    """ "unaffable" as the authors of BERT cut it (their tokenization.py, from memory)."""
    pieces = Pieces(["[UNK]", "[CLS]", "[SEP]", "un", "##aff", "##able", "want", "##want", "##ed", "runn", "##ing"])
    assert pieces.places(["unwanted", "running"]) == [1, 3, 7, 8, 9, 10, 2]
    assert pieces.places(["unaffable"]) == [1, 3, 4, 5, 2]
    assert pieces.places(["unwantedx"]) == [1, 0, 2]


def test_a_long_sentence_is_read_as_far_as_the_places_reach() -> None:
    pieces = Pieces(["[UNK]", "[CLS]", "[SEP]", "fig"])
    assert len(pieces.places(["fig"] * 500)) == MOST_PIECES


def test_a_layer_leaves_each_piece_with_mean_nought_and_spread_one() -> None:
    """Ba, Kiros and Hinton (2016): what a norm is for, with nothing scaled or added."""
    state = CHANCE.normal(size=(9, 48)).astype(np.float32)
    passed = layer(48, seed=1).passed(state)
    assert passed.shape == state.shape
    assert passed.mean(axis=1) == pytest.approx(np.zeros(9), abs=1e-5)
    assert passed.std(axis=1) == pytest.approx(np.ones(9), abs=1e-4)


def test_without_their_places_pieces_in_another_order_come_to_the_same() -> None:
    """Attention knows no order but by what is added for each place: Vaswani and others (2017), 3.5."""
    state = CHANCE.normal(size=(7, 48)).astype(np.float32)
    order = CHANCE.permutation(7)
    one = layer(48, seed=2)
    assert one.passed(state[order]) == pytest.approx(one.passed(state)[order], abs=1e-5)


def test_the_chances_of_a_sentence_are_one_and_depend_on_the_order_of_its_words() -> None:
    encoder: Encoder = learned().encoder
    for head in HEADS:
        assert encoder.chances(head, ("lid", "is", "on")).sum() == pytest.approx(1.0, abs=1e-5)
    promise, deed = ("i", "will", "not", "open", "it"), ("i", "closed", "it")
    first, second = (encoder.chances(TOLD, one) for one in (promise + deed, deed + promise))
    assert np.abs(first - second).max() > 0.05
