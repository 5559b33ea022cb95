"""Products worked few columns at a time: against numpy's own einsum."""

from __future__ import annotations

import numpy as np
import pytest

from fizzwright.science.products import times


@pytest.mark.parametrize("shape", [(7,), (40, 7), (1, 7), (0, 7)])
@pytest.mark.parametrize("columns", [0, 1, 1000, 40_001])
def test_it_is_the_product(shape: tuple[int, ...], columns: int) -> None:
    rng = np.random.default_rng(3)
    left, right = rng.normal(size=shape), rng.normal(size=(7, columns))
    np.testing.assert_allclose(times(left, right), np.einsum("...k,kn->...n", left, right), rtol=1e-12, atol=1e-12)
    assert times(left.astype(np.float32), right.astype(np.float32)).dtype == np.float32
