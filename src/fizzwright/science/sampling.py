"""Draws: how the doubt in every input becomes the doubt in a result.

Scrambled Sobol points (Owen 1998 as in scipy.stats.qmc) stand in for random numbers: they settle faster and repeat
exactly from a seed. Correlated inputs go through a Gaussian copula (Nelsen, An Introduction to Copulas, 2006, ch. 2).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

EQUATIONS: dict[str, str] = {
    "lognormal_factors": "factor = exp(s z), s = sqrt(ln(1 + cv^2)), z standard normal: median 1, sd / mean = cv",
    "propagate": "result = f(x), x_i = F_i^-1(Phi(z_i)), z = L n, L L^T = correlations, n scrambled Sobol normals",
}

MOST_DRAWS = 2**20
MOST_DIMS = 21_201  # how many columns the Joe-Kuo direction numbers in scipy reach


def uniforms(draws: int, dims: int, seed: int = 0, start: int = 0) -> Array:
    """Scrambled Sobol points between 0 and 1, both left out; shape draws x dims, the same for one seed.

    start: how many points to pass over, so that a long row can be worked in pieces: the pieces are the row, cut.
    """
    _checked(draws, dims)
    if dims == 0:
        return np.empty((draws, 0))
    # scipy.stats takes longer to import than the whole of the rest of this room; the command line waits on it
    from scipy.stats import qmc

    sobol = qmc.Sobol(dims, scramble=True, bits=30, rng=np.random.default_rng(seed))
    if start:
        sobol.fast_forward(start)
        points = sobol.random(draws)
    else:
        points = sobol.random_base2((draws - 1).bit_length())[:draws]
    # a Sobol point may be exactly 0, whose normal is minus infinity: the middle of its cell is meant
    return np.asarray(points + 2.0**-31)


def _checked(draws: int, dims: int) -> None:
    if not 1 <= draws <= MOST_DRAWS:
        raise ValueError(f"draws was {draws}; allowed is 1 to {MOST_DRAWS}")
    if not 0 <= dims <= MOST_DIMS:
        raise ValueError(f"dims was {dims}; allowed is 0 to {MOST_DIMS}")


@lru_cache(maxsize=16)
def standard_normals(draws: int, dims: int, seed: int = 0) -> Array:
    """Independent standard normals from scrambled Sobol points; shape draws x dims, read-only, the same for one seed.

    dims may be 0 (shape draws x 0). Best when draws is a power of two; other counts take the head of the next one.
    """
    points = uniforms(draws, dims, seed)
    if dims:
        from scipy.special import ndtri

        points = np.ascontiguousarray(ndtri(points))
    normals: Array = points
    normals.setflags(write=False)
    return normals


def lognormal_factors(sd_fraction: Array | float, normals: Array) -> Array:
    """Factors of median 1 whose standard deviation over mean is sd_fraction; shape of normals.

    sd_fraction: shape dims (0.113 for a scoop good to 11.3 %), 0 gives exactly 1. normals: draws x dims. Always
    positive, so a mass times a factor never falls below nothing. Mean of the factor is sqrt(1 + sd_fraction^2).
    """
    sd = np.asarray(sd_fraction, dtype=float)
    if not np.all(np.isfinite(sd) & (sd >= 0)):
        raise ValueError(f"sd_fraction must be zero or more and finite; read {sd_fraction!r}")
    factors: Array = np.exp(np.sqrt(np.log1p(sd**2)) * normals)
    return factors


@dataclass(frozen=True)
class Propagated:
    """What came out of `propagate`: the draws of the result and of the inputs."""

    draws: Array
    """Results; draws on the first axis."""
    samples: Mapping[str, Array]
    """The inputs that gave them, by name; shape draws each."""

    @property
    def mean(self) -> Any:
        """Mean over the draws."""
        return np.mean(self.draws, axis=0)

    @property
    def sd(self) -> Any:
        """Standard deviation over the draws."""
        return np.std(self.draws, axis=0, ddof=1)

    @property
    def median(self) -> Any:
        """Half of the draws lie below."""
        return np.quantile(self.draws, 0.5, axis=0)

    def quantiles(self, *shares: float) -> Any:
        """Quantiles at the given shares (0 to 1), the 5th, 50th and 95th percentile when none are named."""
        return np.quantile(self.draws, shares or (0.05, 0.5, 0.95), axis=0)

    @property
    def interval(self) -> tuple[Any, Any]:
        """The 90 % interval: 5th and 95th percentile."""
        low, high = np.quantile(self.draws, (0.05, 0.95), axis=0)
        return low, high


def _correlation_root(names: list[str], correlations: Mapping[tuple[str, str], float]) -> Array:
    """The lower root of the correlation matrix; ValueError for unknown names or correlations that cannot all hold."""
    matrix: Array = np.eye(len(names), dtype=np.float64)
    for pair, rho in correlations.items():
        first, second = pair
        for name in pair:
            if name not in names:
                raise ValueError(f"correlation {pair}: no input is called {name!r}; the inputs are {', '.join(names)}")
        if first == second:
            raise ValueError(f"correlation {pair}: an input is always in step with itself; name two inputs")
        if not -1.0 < rho < 1.0:
            raise ValueError(f"correlation {pair}: read {rho!r}; allowed is between -1 and 1, both left out")
        i, j = names.index(first), names.index(second)
        if matrix[i, j] not in (0.0, rho):
            raise ValueError(f"correlation {pair}: given twice, as {matrix[i, j]:g} and {rho:g}; keep one")
        matrix[i, j] = matrix[j, i] = rho
    try:
        root: Array = np.asarray(np.linalg.cholesky(matrix), dtype=np.float64)
    except np.linalg.LinAlgError:
        given = ", ".join(f"{a} with {b}: {rho:g}" for (a, b), rho in correlations.items())
        raise ValueError(
            f"these correlations cannot all hold at once (not positive definite): {given}; bring some nearer to 0"
        ) from None
    return root


def propagate(
    function: Callable[..., Any],
    inputs: Mapping[str, Any],
    draws: int = 2**16,
    seed: int = 0,
    correlations: Mapping[tuple[str, str], float] | None = None,
) -> Propagated:
    """Send the doubt of every input through a function, calling it once with arrays of draws.

    function: called as function(name=array, ...), arrays of shape draws; returns an array with draws first (or one
    number). inputs: name to frozen scipy.stats distribution. correlations: {(name, name): rho}, rho between the normal
    scores of the two inputs. ValueError when correlations cannot all hold or an input or result is not a number.
    """
    from scipy.special import ndtr

    names = list(inputs)
    normals = standard_normals(draws, len(names), seed)
    if correlations:
        normals = normals @ _correlation_root(names, correlations).T
    samples: dict[str, Array] = {}
    for name, column in zip(names, normals.T, strict=True):
        values = np.asarray(inputs[name].ppf(ndtr(column)), dtype=float)
        if not np.all(np.isfinite(values)):
            raise ValueError(
                f"input {name!r}: its distribution gives draws that are not finite numbers; check its parameters"
            )
        samples[name] = values
    result = np.asarray(function(**samples), dtype=float)
    if result.ndim == 0:
        result = np.broadcast_to(result, (draws,))
    if result.shape[0] != draws:
        raise ValueError(f"the function must return one result a draw ({draws}); it returned shape {result.shape}")
    lost = int(np.count_nonzero(np.isnan(result)))
    if lost:
        raise ValueError(f"{lost} of {result.size} results are not numbers; the inputs reach where the function ends")
    return Propagated(result, samples)
