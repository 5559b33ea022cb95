"""Products worked few columns at a time: against numpy's own, and against how busy the library's threads are."""

from __future__ import annotations

import time

import numpy as np
import pytest

from fizzwright.science.products import MATRIX, times


@pytest.mark.parametrize("shape", [(7,), (40, 7), (1, 7), (0, 7)])
@pytest.mark.parametrize("columns", [0, 1, 1000, 40_001])
def test_it_is_the_product(shape: tuple[int, ...], columns: int) -> None:
    rng = np.random.default_rng(3)
    left, right = rng.normal(size=shape), rng.normal(size=(7, columns))
    assert times(left, right) == pytest.approx(np.einsum("...k,kn->...n", left, right), rel=1e-12, abs=1e-12)
    assert times(left.astype(np.float32), right.astype(np.float32)).dtype == np.float32


def test_the_library_does_not_set_its_threads_to_work() -> None:
    # time on all cores against time of this thread alone: with the library's threads at work the first is the larger
    left, right = np.ones((64, 40)), np.ones((40, 4096))
    assert left.size * right.shape[1] > 10 * MATRIX
    times(left, right)
    time.sleep(0.3)  # threads that an earlier test woke spin a while before they sleep
    whole, own = time.process_time(), time.thread_time()
    for _ in range(100):
        times(left, right)
    whole, own = time.process_time() - whole, time.thread_time() - own
    assert whole < 1.2 * own + 0.02
