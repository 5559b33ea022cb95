"""Which input the doubt comes from: Sobol indices, the shares of a result's variance.

First order: what would go if that input alone were known. Total: what would stay if all the others were known. Estimators of
Saltelli et al. 2010 (Comput. Phys. Commun. 181:259) and, for the total, Jansen 1999; on scrambled Sobol points. Written out
here because the bootstrap of scipy.stats.sobol_indices takes no seed and its estimate fails for an only input.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fizzwright.science.sampling import standard_normals

Array = NDArray[np.float64]

EQUATIONS: dict[str, str] = {
    "first": "S_i = Var(E(y | x_i)) / Var(y)",
    "total": "T_i = E(Var(y | all but x_i)) / Var(y)",
}
MOST_CALLS = 2**22
"""Values of the function in one go: what fits beside a screen's worth of other work."""


@dataclass(frozen=True)
class Indices:
    """Shares of variance by input name, with 90 % intervals by bootstrap; a result that never varies has all zero."""

    first: Mapping[str, float]
    total: Mapping[str, float]
    first_90: Mapping[str, tuple[float, float]]
    total_90: Mapping[str, tuple[float, float]]


def indices(
    function: Callable[..., Any], inputs: Mapping[str, Any], draws: int = 2**12, seed: int = 0, resamples: int = 200
) -> Indices:
    """First-order and total Sobol indices of a function of independent inputs.

    function: called once as function(name=array, ...), arrays of shape (points,), one result a point. inputs: name to
    frozen scipy.stats distribution. draws: a power of two; the function sees draws x (inputs + 2) points. The same for one
    seed. ValueError for results that are no finite numbers.
    """
    from scipy.special import ndtr

    names = list(inputs)
    if not names:
        raise ValueError("no inputs were named; indices tell which of several inputs matters")
    if draws < 2 or draws & (draws - 1):
        raise ValueError(f"draws was {draws}; allowed is a power of two, such as 4096")
    if draws * (len(names) + 2) > MOST_CALLS:
        raise ValueError(f"{draws} draws of {len(names)} inputs are too many at once; take fewer draws")

    shares = ndtr(standard_normals(draws, 2 * len(names), seed)).T
    one, other = (
        np.array([inputs[name].ppf(row) for name, row in zip(names, half, strict=True)])
        for half in (shares[: len(names)], shares[len(names) :])
    )
    # with one input at a time taken from the other half
    crossed = np.repeat(one[np.newaxis], len(names), axis=0)
    crossed[np.arange(len(names)), np.arange(len(names))] = other
    points = np.concatenate([one, other, *crossed], axis=1)
    result = np.asarray(function(**dict(zip(names, points, strict=True))), dtype=float)
    result = np.broadcast_to(result, points.shape[1:]).reshape(-1, draws)
    if not np.isfinite(result).all():
        raise ValueError("some results are not finite numbers; the inputs reach where the function ends")
    if not np.ptp(result) > 0:
        none, flat = dict.fromkeys(names, 0.0), dict.fromkeys(names, (0.0, 0.0))
        return Indices(none, none, flat, flat)
    likely = shares_of(result)
    generator = np.random.default_rng(seed)
    again = np.array([shares_of(result[:, generator.integers(draws, size=draws)]) for _ in range(resamples)])
    low, high = np.quantile(again, (0.05, 0.95), axis=0)

    def by_name(values: Array) -> dict[str, float]:
        return dict(zip(names, map(float, values), strict=True))

    def spans(order: int) -> dict[str, tuple[float, float]]:
        return {name: (float(low[order, i]), float(high[order, i])) for i, name in enumerate(names)}

    return Indices(by_name(likely[0]), by_name(likely[1]), spans(0), spans(1))


def shares_of(results: Array) -> Array:
    """First-order and total indices; shape (2, inputs).

    results, (inputs + 2, draws): of one half of the draws, of the other, and of the first with one input at a time taken
    from the other. The mean is taken off first, which steadies the first order (Sobol & Levitan 1999).
    """
    one, other, crossed = results[0], results[1], results[2:]
    middle = np.mean(results[:2])
    variance = np.var(results[:2])
    first = np.mean((other - middle) * (crossed - one), axis=1) / variance
    total = 0.5 * np.mean((one - crossed) ** 2, axis=1) / variance
    return np.array([first, total])
