"""Weighs the words of the sentences in bot/replies/learned: `python .ci/fit_replies.py`, with the test extra."""

from collections import Counter
from datetime import UTC, datetime

import numpy as np
from scipy.optimize import minimize
from scipy.sparse import csr_matrix
from scipy.special import logsumexp

from bot.replies.learned.features import RUN, Spoken, spoken_of
from bot.replies.learned.likely import ASKED, RUNS, TOLD, WEIGHTS, WHETHER, Words, digest, run_place, without_runs
from bot.replies.nouns import Context, TreeName
from bot.replies.words.courtesies import without_courtesies
from bot.replies.words.marking import marked

FOLDER = WEIGHTS.parent
TREES = ("Porch fig", "Wall fig", "Bench fig", "Kaki", "Pomegranate", "Satsuma")
SHORT = {"Pomegranate": ("pom",), "Satsuma": ("sat",)}
NAMES = tuple(TreeName(name=n, short_names=SHORT.get(n, (n.split()[0].lower(),)), number=i, species="fig")
              for i, n in enumerate(TREES, start=1))  # fmt: skip
PLACE = Context(trees=NAMES, now=datetime(2026, 1, 18, 16, 55, tzinfo=UTC), zone=UTC, people=("Rowan", "Juniper"))
FREEDOM = 20.0  # how far the weights may go (one over the ridge); chosen on sentences of others than the writers
Rows = list[tuple[str, frozenset[str]]]


def spoken_rows(head: str) -> list[tuple[str, Spoken]]:
    """Each sentence of a head: its matter and its words."""
    path = FOLDER / f"{head}.tsv"
    lines = [line.split("\t") for line in path.read_text(encoding="utf-8").splitlines() if line]
    return [(matter, spoken_of(marked(without_courtesies(text), PLACE, keep_reserved=False))) for matter, text in lines]


def rows_of(head: str) -> Rows:
    """Each sentence's matter and what of it is counted."""
    return [(matter, spoken.counted) for matter, spoken in spoken_rows(head)]


def matrix_of(rows: Rows, words: Words) -> csr_matrix:
    """Each sentence's words and runs of letters, by what they count."""
    found = [words.placed(sorted(said)) for _, said in rows]
    starts = np.cumsum([0, *(len(places) for places, _ in found)])
    places, counts = (np.concatenate(one) for one in zip(*found, strict=True))
    return csr_matrix((counts.astype(np.float64), places, starts), (len(rows), len(words.rarity)))


def fitted(said: csr_matrix, matters: list[str]) -> tuple[list[str], np.ndarray, np.ndarray]:
    """The matters, the weights (words, matters) and the base (matters), each matter counting alike."""
    names = sorted(set(matters))
    is_it = np.array(matters)[:, None] == np.array(names)[None, :]
    share = (len(matters) / len(names) / is_it.sum(axis=0))[is_it.argmax(axis=1)][:, None]
    size = said.shape[1], len(names)

    def loss(flat: np.ndarray) -> tuple[float, np.ndarray]:
        weights, base = flat[: -size[1]].reshape(size), flat[-size[1] :]
        scores = said @ weights + base
        logs = scores - logsumexp(scores, axis=1, keepdims=True)
        error = (np.exp(logs) - is_it) * share
        slope = np.concatenate([(said.T @ error + weights / FREEDOM).ravel(), error.sum(axis=0)])
        return float(-(logs * is_it * share).sum() + (weights**2).sum() / 2 / FREEDOM), slope

    best = minimize(loss, np.zeros((size[0] + 1) * size[1]), jac=True, method="L-BFGS-B", options={"maxiter": 100})
    return names, best.x[: -size[1]].reshape(size), best.x[-size[1] :]


def words_of(rows: Rows) -> tuple[list[str], Words]:
    """The words that are learned, and how rare each of them and each place of runs of letters is."""
    seen = Counter(one for _, said in rows for one in said if one[0] != RUN)
    words = sorted(one for one, times in seen.items() if times > 1 or " " not in one)  # a pair met once is chance
    runs = Counter(place for _, said in rows for place in {run_place(one) for one in said if one[0] == RUN})
    times = [*(seen[one] for one in words), *(max(runs[place], 1) for place in range(RUNS))]
    return words, Words(words, np.log(len(rows) / np.array(times)).astype(np.float32))


def kept_of(head: str, rows: Rows, words: Words) -> dict[str, np.ndarray]:
    """The weights of one head in steps of a 127th of the greatest of each matter."""
    names, weights, base = fitted(matrix_of(rows, words), [matter for matter, _ in rows])
    step = np.abs(weights).max(axis=0) / 127  # of a byte
    return {
        f"{head}_matters": np.frombuffer("\n".join(names).encode(), np.uint8),
        f"{head}_weights": np.round(weights / step).astype(np.int8),
        f"{head}_step": step.astype(np.float32),
        f"{head}_base": base.astype(np.float32),
    }


def main() -> None:
    """Read the sentences, fit the three heads, write the weights."""
    asked, told = rows_of(ASKED), rows_of(TOLD)
    learned, words = words_of([*asked, *told])
    whether = [("asks", without_runs(said)) for _, said in asked] + [("tells", without_runs(said)) for _, said in told]
    kept = {
        "words": np.frombuffer("\n".join(learned).encode(), np.uint8),
        "rarity": words.rarity.astype(np.float16),
        "digest": np.frombuffer(digest(FOLDER).encode(), np.uint8),
    }
    for head, rows in ((ASKED, asked), (TOLD, told), (WHETHER, whether)):
        kept |= kept_of(head, rows, words)
    np.savez_compressed(WEIGHTS, **kept)  # type: ignore[arg-type]


if __name__ == "__main__":
    main()
