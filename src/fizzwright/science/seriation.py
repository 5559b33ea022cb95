"""Order from likeness: things set round a ring so that what is alike stands close together."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

EQUATIONS = {
    "cosine": "likeness = a . b / (|a| |b|)",
    "fiedler": "order = rank in the eigenvector of the second smallest eigenvalue of D - S (ATKINS1998)",
    "ring_strain": "strain = sum over pairs of likeness x steps between them, the shorter way round",
}


def cosine(rows: Array) -> Array:
    """Likeness of each row with each other by the angle between them; shape (n, k) to (n, n). A row of zeros is like none."""
    size = np.linalg.norm(rows, axis=1, keepdims=True)
    unit = np.divide(rows, size, out=np.zeros_like(rows, dtype=float), where=size > 0)
    return np.asarray(unit @ unit.T)


def fiedler_order(likeness: Array) -> list[int]:
    """Places in a line by the Fiedler vector of the graph whose weights are the likenesses; shape (n, n).

    Recovers the order exactly where one exists in which likeness only falls away from each place (Atkins, Boman and
    Hendrickson 1998, theorem 3.3).
    """
    weights = _weights(likeness)
    _, vectors = np.linalg.eigh(np.diag(weights.sum(axis=1)) - weights)
    return [int(i) for i in np.argsort(vectors[:, 1], kind="stable")]


def _ring_start(likeness: Array) -> list[int]:
    """Places round a ring by the angle in the second and third eigenvector, which wrap round where a line would end."""
    weights = _weights(likeness)
    _, vectors = np.linalg.eigh(np.diag(weights.sum(axis=1)) - weights)
    return [int(i) for i in np.argsort(np.arctan2(vectors[:, 2], vectors[:, 1]), kind="stable")]


def _weights(likeness: Array) -> Array:
    weights = np.array(likeness, dtype=float)
    if weights.ndim != 2 or weights.shape[0] != weights.shape[1] or not np.allclose(weights, weights.T):
        raise ValueError("likeness must be a square matrix, the same both ways")
    if np.any(weights < 0):
        raise ValueError("a likeness is nought or more")
    np.fill_diagonal(weights, 0.0)
    return weights


def ring_strain(likeness: Array, order: list[int]) -> float:
    """How badly an order round a ring parts what is alike: smaller is better."""
    n = len(order)
    place = np.empty(n, dtype=int)
    place[order] = np.arange(n)
    apart = np.abs(place[:, None] - place[None, :])
    return float((_weights(likeness) * np.minimum(apart, n - apart)).sum() / 2)


def ring_order(likeness: Array) -> list[int]:
    """The order round a ring of least strain that swaps, moves and turns reach from the spectral orders; starts with 0.

    A ring has no first place and no direction, so place 0 is set first and its smaller-numbered neighbour second. Not
    proven best for many things; up to eight it is checked against every order there is.
    """
    n = len(likeness)
    if n < 4:
        return list(range(n))
    starts = (_ring_start(likeness), fiedler_order(likeness))
    best = min((_descend(likeness, start) for start in starts), key=lambda found: found[0])[1]
    at = best.index(0)
    turned = best[at:] + best[:at]
    return turned if turned[1] < turned[-1] else [turned[0], *turned[:0:-1]]


def _descend(likeness: Array, order: list[int]) -> tuple[float, list[int]]:
    strain = ring_strain(likeness, order)
    while True:
        tries = [(round(ring_strain(likeness, other), 12), other) for other in _near(order)]
        least, other = min(tries)
        if least >= strain - 1e-9:
            return strain, order
        strain, order = least, other


def _near(order: list[int]) -> list[list[int]]:
    """Every order one swap, one turned stretch or one moved place away."""
    n = len(order)
    found = []
    for i in range(n):
        for j in range(i + 1, n):
            swapped = list(order)
            swapped[i], swapped[j] = swapped[j], swapped[i]
            rest = order[:i] + order[i + 1 :]
            found += [swapped, order[:i] + order[i : j + 1][::-1] + order[j + 1 :], [*rest[:j], order[i], *rest[j:]]]
    return found
