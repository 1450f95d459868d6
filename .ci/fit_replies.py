"""Weighs the words of the sentences in bot/replies/learned: `python .ci/fit_replies.py`, with the test extra."""

from collections import Counter
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from scipy.optimize import minimize
from scipy.sparse import csr_matrix
from scipy.special import logsumexp

from bot.replies.learned.features import features
from bot.replies.learned.likely import ASKED, TOLD, WEIGHTS, WHETHER, digest
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


def rows_of(path: Path) -> Rows:
    """Each sentence's matter and features."""
    lines = [line.split("\t") for line in path.read_text(encoding="utf-8").splitlines() if line]
    return [(matter, features(marked(without_courtesies(text), PLACE, keep_reserved=False))) for matter, text in lines]


def matrix_of(rows: Rows, place: dict[str, int], rarity: np.ndarray) -> csr_matrix:
    """One row of unit length for each sentence."""
    found = [[place[one] for one in sorted(said) if one in place] for _, said in rows]
    data = np.concatenate([rarity[row] / (np.linalg.norm(rarity[row]) or 1.0) for row in found])
    starts = np.cumsum([0, *(len(row) for row in found)])
    return csr_matrix((data, np.concatenate(found).astype(int), starts), (len(rows), len(place)))


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

    best = minimize(loss, np.zeros((size[0] + 1) * size[1]), jac=True, method="L-BFGS-B", options={"maxiter": 400})
    return names, best.x[: -size[1]].reshape(size), best.x[-size[1] :]


def main() -> None:
    """Read the sentences, fit the three heads, write the weights."""
    asked, told = rows_of(FOLDER / "asked.tsv"), rows_of(FOLDER / "told.tsv")
    seen = Counter(one for _, said in (*asked, *told) for one in said)
    words = sorted(one for one, times in seen.items() if times > 1 or " " not in one)  # a pair met once is chance
    place = {one: n for n, one in enumerate(words)}
    rarity = np.log((len(asked) + len(told)) / np.array([seen[one] for one in words]))
    whether = [("asks", said) for _, said in asked] + [("tells", said) for _, said in told]
    kept = {"words": np.frombuffer("\n".join(words).encode(), np.uint8), "rarity": rarity.astype(np.float16)}
    for head, rows in ((ASKED, asked), (TOLD, told), (WHETHER, whether)):
        names, weights, base = fitted(matrix_of(rows, place, rarity), [matter for matter, _ in rows])
        kept[f"{head}_matters"] = np.frombuffer("\n".join(names).encode(), np.uint8)
        kept[f"{head}_weights"], kept[f"{head}_base"] = weights.astype(np.float16), base.astype(np.float32)
    kept["digest"] = np.frombuffer(digest(FOLDER).encode(), np.uint8)
    np.savez_compressed(WEIGHTS, **kept)  # type: ignore[arg-type]


if __name__ == "__main__":
    main()
