"""Closed shares: sums, bounds, a case by hand, and the Dirichlet law of scipy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from fizzwright.science.composition import closed, triangular
from fizzwright.science.sampling import uniforms


def test_triangular_is_scipys() -> None:
    u = np.linspace(0.001, 0.999, 97)[:, None]
    low, mode, high = np.array([2.0, 0.0, 5.0]), np.array([3.0, 0.0, 9.0]), np.array([9.0, 4.0, 9.0])
    ours = triangular(u, low, mode, high)
    theirs = stats.triang((mode - low) / (high - low), low, high - low).ppf(u)
    assert ours == pytest.approx(theirs, abs=1e-12)


def test_two_parts_by_hand() -> None:
    # odds a/(1-a), b/(1-b) times t, adding up to one whole: t^2 o1 o2 = 1, so share 1 = 1 / (1 + sqrt(o2 / o1))
    shares = np.array([[60.0, 20.0], [50.0, 90.0], [10.0, 10.0]])
    odds = shares / (100.0 - shares)
    by_hand = 100.0 / (1.0 + np.sqrt(odds[:, 1] / odds[:, 0]))
    got = closed(shares, np.zeros(2), np.full(2, 100.0))
    assert got[:, 0] == pytest.approx(by_hand, abs=1e-6)
    assert got[:, 1] == pytest.approx(100.0 - by_hand, abs=1e-6)


def test_wide_ranges_come_to_the_dirichlet_law() -> None:
    # gamma draws closed to one are Dirichlet, their margins beta (Aitchison 1986; scipy.stats.beta)
    alpha = np.array([2.0, 3.0, 5.0])
    draws = stats.gamma(alpha).ppf(uniforms(2**13, 3, 4))
    got = closed(draws, np.zeros(3), np.full(3, 1e7), total=1.0)
    for i, a in enumerate(alpha):
        assert stats.kstest(got[:, i], stats.beta(a, alpha.sum() - a).cdf).statistic < 0.005
    law = stats.dirichlet(alpha)
    assert np.cov(got.T) == pytest.approx(law.cov(), abs=2e-4)


def test_more_of_one_is_less_of_the_other() -> None:
    low, mode, high = np.array([30.0, 20.0, 0.0]), np.array([40.0, 30.0, 30.0]), np.array([50.0, 40.0, 60.0])
    got = closed(triangular(uniforms(2**12, 3, 1), low, mode, high), low, high)
    assert np.corrcoef(got.T)[0, 2] < -0.3


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0, 40), st.floats(0, 1), st.floats(0, 60)), min_size=1, max_size=12),
    st.integers(0, 99),
)
def test_sums_and_bounds(parts: list[tuple[float, float, float]], seed: int) -> None:
    low = np.array([p[0] for p in parts] + [0.0])
    high = low + np.array([p[2] for p in parts] + [0.0])
    mode = low + (high - low) * np.array([p[1] for p in parts] + [0.0])
    draws = triangular(uniforms(64, len(low), seed), low, mode, high)
    if low.sum() > 100 or high.sum() < 100:
        if low.sum() > 100.001 or high.sum() < 99.999:
            with pytest.raises(ValueError, match="cannot add up"):
                closed(draws, low, high)
        return
    got = closed(draws, low, high)
    assert got.sum(axis=1) == pytest.approx(np.full(64, 100.0), abs=1e-5)
    assert np.all(got >= low - 1e-9) and np.all(got <= high + 1e-9)
