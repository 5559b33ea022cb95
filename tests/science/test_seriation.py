"""Order from likeness, against every order there is and against orders known beforehand."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest

from fizzwright.science import seriation


def scrambled(likeness: np.ndarray, seed: int) -> tuple[np.ndarray, list[int]]:
    mixed = np.random.default_rng(seed).permutation(len(likeness))
    return likeness[np.ix_(mixed, mixed)], [int(i) for i in mixed]


def strain_by_hand(likeness: np.ndarray, order: list[int]) -> float:
    """The definition, pair by pair, apart from the module's own arithmetic."""
    n = len(order)
    total = 0.0
    for a in range(n):
        for b in range(a + 1, n):
            total += float(likeness[order[a], order[b]]) * min(b - a, n - (b - a))
    return total


@pytest.mark.parametrize("seed", range(6))
def test_no_order_of_seven_is_better_round_the_ring(seed: int) -> None:
    # The outside check is exhaustion: all 720 orders of seven things that begin with the first.
    rows = np.random.default_rng(seed).random((7, 4)) ** 3
    likeness = seriation.cosine(rows)
    least = min(strain_by_hand(likeness, [0, *rest]) for rest in permutations(range(1, 7)))
    order = seriation.ring_order(likeness)
    assert sorted(order) == list(range(7)) and order[0] == 0
    assert seriation.ring_strain(likeness, order) == pytest.approx(strain_by_hand(likeness, order), rel=1e-12)
    assert strain_by_hand(likeness, order) == pytest.approx(least, rel=1e-9)


@pytest.mark.parametrize("n", [5, 9, 13])
def test_a_ring_that_was_scrambled_comes_back(n: int) -> None:
    apart = np.abs(np.subtract.outer(range(n), range(n)))
    mixed, at = scrambled(np.exp(-np.minimum(apart, n - apart) / 2.0), n)
    back = [at[i] for i in seriation.ring_order(mixed)]
    steps = {(b - a) % n for a, b in zip(back, [*back[1:], back[0]], strict=True)}
    assert steps in ({1}, {n - 1})


@pytest.mark.parametrize("n", [4, 10, 25])
def test_the_fiedler_vector_finds_a_line_that_was_scrambled(n: int) -> None:
    # Atkins, Boman & Hendrickson 1998, theorem 3.3: for a pre-R matrix the Fiedler order is the R order, either way round.
    mixed, at = scrambled(np.exp(-np.abs(np.subtract.outer(range(n), range(n))) / 3.0), n)
    back = [at[i] for i in seriation.fiedler_order(mixed)]
    assert back in (list(range(n)), list(range(n))[::-1])


def test_likeness_is_the_cosine_of_the_angle() -> None:
    likeness = seriation.cosine(np.array([[3.0, 4.0], [4.0, 3.0], [0.0, 2.0], [0.0, 0.0]]))
    assert likeness[0, 1] == pytest.approx(24 / 25)
    assert likeness[0, 2] == pytest.approx(4 / 5)
    assert not likeness[3].any()


def test_a_likeness_that_differs_both_ways_is_refused() -> None:
    with pytest.raises(ValueError, match="the same both ways"):
        seriation.ring_order(np.array([[1, 0.5, 0, 0], [0.2, 1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1.0]]))
    with pytest.raises(ValueError, match="nought or more"):
        seriation.fiedler_order(np.array([[1.0, -0.5], [-0.5, 1.0]]))
