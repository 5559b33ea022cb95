"""Products of small matrices with many columns, on one thread: two threads wait on each other longer than they work."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

MATRIX = 250_000
"""Multiplications up to which OpenBLAS keeps a matrix product to one thread (4 x 65536 in its interface/gemm.c)."""
VECTOR = 9_000
"""The same for a vector with a matrix (4 x 2304 in its interface/gemv.c)."""


def times(left: NDArray[Any], right: NDArray[Any]) -> NDArray[Any]:
    """left @ right, so few columns at a time that the library's threads stay asleep; (rows, k) or (k,) with (k, columns).

    Kitchens are worked by threads of our own, and on a busy machine the library's spin while they wait for a core.
    """
    with np.errstate(invalid="ignore"):  # the library's lanes beyond the last column may trip over what lies there
        return _product(left, right)


def _product(left: NDArray[Any], right: NDArray[Any]) -> NDArray[Any]:
    columns, rows = right.shape[-1], left.shape[0] if left.ndim > 1 else 1
    step = max((MATRIX if left.ndim > 1 else VECTOR) // max(rows * right.shape[0], 1), 1)
    if columns <= step:
        return np.asarray(left @ right)
    product = np.empty((*left.shape[:-1], columns), dtype=np.result_type(left, right))
    for start in range(0, columns, step):
        product[..., start : start + step] = left @ right[:, start : start + step]
    return product
