"""Draws against closed forms: products of log-normals, sums of normals, a bivariate normal."""

import numpy as np
import pytest
from scipy import stats

from fizzwright.science import sampling


def test_normals_are_standard_repeatable_and_read_only() -> None:
    z = sampling.standard_normals(4096, 12)
    assert z.shape == (4096, 12)
    assert np.abs(z.mean(axis=0)).max() < 2e-3
    assert np.abs(z.std(axis=0) - 1).max() < 5e-3
    assert np.abs(np.corrcoef(z.T) - np.eye(12)).max() < 0.03
    assert np.all(np.isfinite(z))
    with pytest.raises(ValueError, match="read-only"):
        z[0, 0] = 1
    assert np.array_equal(z, sampling.standard_normals(4096, 12, seed=0))
    sampling.standard_normals.cache_clear()
    assert np.array_equal(z, sampling.standard_normals(4096, 12))
    assert not np.array_equal(z, sampling.standard_normals(4096, 12, seed=1))


@pytest.mark.parametrize(("draws", "dims"), [(1, 1), (1000, 3), (7, 0), (1024, 40)])
def test_any_count_of_draws_and_lines(draws: int, dims: int) -> None:
    assert sampling.standard_normals(draws, dims).shape == (draws, dims)


@pytest.mark.parametrize(("draws", "dims"), [(0, 1), (-4, 1), (2**20 + 1, 1), (8, -1), (8, 30_000)])
def test_counts_out_of_reach_are_refused(draws: int, dims: int) -> None:
    with pytest.raises(ValueError, match="allowed is"):
        sampling.standard_normals(draws, dims)


def test_every_point_is_a_finite_normal_even_a_zero_one() -> None:
    for seed in range(20):
        assert np.all(np.isfinite(sampling.standard_normals(2**12, 3, seed)))


def test_lognormal_factors_have_median_one_and_the_wanted_spread() -> None:
    sd = np.array([0.0, 0.05, 0.2, 0.6])
    factors = sampling.lognormal_factors(sd, sampling.standard_normals(2**16, 4))
    assert np.all(factors > 0)
    assert np.median(factors, axis=0) == pytest.approx(np.ones(4), rel=2e-3)
    assert np.all(factors[:, 0] == 1)
    # log-normal (Johnson, Kotz and Balakrishnan 1994): mean = sqrt(1 + cv^2) when the median is 1
    assert factors.mean(axis=0) == pytest.approx(np.sqrt(1 + sd**2), rel=2e-3)
    assert factors.std(axis=0) / factors.mean(axis=0) == pytest.approx(sd, rel=2e-2)
    with pytest.raises(ValueError, match="zero or more"):
        sampling.lognormal_factors(np.array([-0.1]), sampling.standard_normals(8, 1))


def test_product_of_lognormals_is_lognormal() -> None:
    result = sampling.propagate(
        lambda volume, density: volume * density,
        {"volume": stats.lognorm(0.1, scale=236.6), "density": stats.lognorm(0.05, scale=0.93)},
    )
    exact = stats.lognorm(np.hypot(0.1, 0.05), scale=236.6 * 0.93)
    assert result.quantiles() == pytest.approx(exact.ppf([0.05, 0.5, 0.95]), rel=1e-3)
    assert result.mean == pytest.approx(exact.mean(), rel=1e-4)
    assert result.sd == pytest.approx(exact.std(), rel=2e-3)
    assert result.interval == pytest.approx(tuple(exact.ppf([0.05, 0.95])), rel=1e-3)
    assert result.draws.shape == result.samples["volume"].shape == (2**16,)


@pytest.mark.parametrize("rho", [-0.9, -0.3, 0.0, 0.7])
def test_correlated_sum_has_the_textbook_variance(rho: float) -> None:
    # Var(X + Y) = 3^2 + 4^2 + 2 rho 3 4
    result = sampling.propagate(
        lambda x, y: x + y,
        {"x": stats.norm(10, 3), "y": stats.norm(5, 4)},
        correlations={("x", "y"): rho},
    )
    assert result.sd**2 == pytest.approx(25 + 24 * rho, rel=5e-3)
    assert np.corrcoef(result.samples["x"], result.samples["y"])[0, 1] == pytest.approx(rho, abs=5e-3)


def test_copula_keeps_each_input_as_it_was() -> None:
    result = sampling.propagate(
        lambda a, b: a - b,
        {"a": stats.uniform(0, 1), "b": stats.triang(0.3, 2, 5)},
        draws=2**14,
        correlations={("b", "a"): 0.8},
    )
    for name, marginal in (("a", stats.uniform(0, 1)), ("b", stats.triang(0.3, 2, 5))):
        assert stats.kstest(result.samples[name], marginal.cdf).statistic < 0.01
    # Spearman's rho of a Gaussian copula: 6/pi asin(r/2) (Kruskal 1958)
    spearman = stats.spearmanr(result.samples["a"], result.samples["b"]).statistic
    assert spearman == pytest.approx(6 / np.pi * np.arcsin(0.4), abs=5e-3)


def test_correlations_that_cannot_all_hold_are_refused() -> None:
    three = {name: stats.norm() for name in "abc"}
    impossible = {("a", "b"): 0.9, ("b", "c"): 0.9, ("a", "c"): -0.9}
    with pytest.raises(ValueError, match="cannot all hold at once"):
        sampling.propagate(lambda a, b, c: a, three, draws=8, correlations=impossible)
    for pair, rho, words in (
        (("a", "x"), 0.1, "no input"),
        (("a", "b"), 1.0, "between -1 and 1"),
        (("a", "a"), 0.5, "itself"),
    ):
        with pytest.raises(ValueError, match=words):
            sampling.propagate(lambda a, b, c: a, three, draws=8, correlations={pair: rho})
    with pytest.raises(ValueError, match="given twice"):
        sampling.propagate(lambda a, b, c: a, three, draws=8, correlations={("a", "b"): 0.1, ("b", "a"): 0.2})


def test_same_seed_same_answer_and_constants_pass_through() -> None:
    inputs = {"x": stats.norm(1, 0.1)}
    first, again, other = (sampling.propagate(lambda x: x**2, inputs, draws=256, seed=s).draws for s in (5, 5, 6))
    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)
    constant = sampling.propagate(lambda: 3.0, {}, draws=16)
    assert constant.mean == 3
    assert constant.sd == 0


def test_results_that_are_no_numbers_are_not_hidden() -> None:
    def root(x: np.ndarray) -> np.ndarray:
        with np.errstate(invalid="ignore"):
            return np.sqrt(x)

    with pytest.raises(ValueError, match="are not numbers"):
        sampling.propagate(root, {"x": stats.norm(0, 1)}, draws=64)
    with pytest.raises(ValueError, match="one result a draw"):
        sampling.propagate(lambda x: x[:3], {"x": stats.norm(0, 1)}, draws=64)
    with pytest.raises(ValueError, match="not finite"):
        sampling.propagate(lambda x: x, {"x": stats.norm(0, -1)}, draws=64)


def test_a_row_cut_in_pieces_is_the_row() -> None:
    whole = sampling.uniforms(256, 5, seed=3)
    pieces = [sampling.uniforms(64, 5, seed=3, start=start) for start in (0, 64, 128, 192)]
    assert np.array_equal(np.concatenate(pieces), whole)
    assert whole.min() > 0 and whole.max() < 1
