"""Sobol indices against closed forms, and the draws against the worked examples of JCGM 101:2008 (GUM Supplement 1)."""

from __future__ import annotations

from math import pi, prod, sqrt
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from fizzwright.science.sampling import propagate
from fizzwright.science.sensitivity import indices, shares_of

Array = NDArray[np.float64]
ONE = stats.uniform(0, 1)


def ishigami(x1: Array, x2: Array, x3: Array, a: float = 7.0, b: float = 0.1) -> Array:
    return np.asarray(np.sin(x1) + a * np.sin(x2) ** 2 + b * x3**4 * np.sin(x1))


def test_ishigami_has_its_closed_form() -> None:
    """Ishigami & Homma 1990; variances as in Saltelli et al., Global Sensitivity Analysis: The Primer, 2008 (memory)."""
    a, b = 7.0, 0.1
    v1, v2, v13 = 0.5 * (1 + b * pi**4 / 5) ** 2, a**2 / 8, b**2 * pi**8 * 8 / 225
    whole = v1 + v2 + v13
    wide = stats.uniform(-pi, 2 * pi)
    found = indices(ishigami, {"x1": wide, "x2": wide, "x3": wide}, draws=2**14)
    assert [found.first[n] for n in ("x1", "x2", "x3")] == pytest.approx([v1 / whole, v2 / whole, 0.0], abs=5e-3)
    assert [found.total[n] for n in ("x1", "x2", "x3")] == pytest.approx(
        [(v1 + v13) / whole, v2 / whole, v13 / whole], abs=5e-3
    )


def test_the_g_function_of_sobol_has_its_closed_form() -> None:
    weights = (0.0, 1.0, 4.5, 9.0, 99.0, 99.0)
    names = [f"x{i}" for i in range(len(weights))]
    found = indices(
        lambda **x: prod((np.abs(4 * x[n] - 2) + a) / (1 + a) for n, a in zip(names, weights, strict=True)),
        dict.fromkeys(names, ONE),
        draws=2**14,
    )
    parts = [1 / (3 * (1 + a) ** 2) for a in weights]
    whole = prod(1 + v for v in parts) - 1
    assert [found.first[n] for n in names] == pytest.approx([v / whole for v in parts], abs=5e-3)
    totals = [v * prod(1 + other for j, other in enumerate(parts) if j != i) / whole for i, v in enumerate(parts)]
    assert [found.total[n] for n in names] == pytest.approx(totals, abs=5e-3)


def test_the_estimators_are_those_of_scipy() -> None:
    results = np.random.default_rng(5).normal(size=(5, 512)).cumsum(axis=0)
    held = {"f_A": results[:1].copy(), "f_B": results[1:2].copy(), "f_AB": results[2:, np.newaxis].copy()}
    theirs = stats.sobol_indices(func=held, n=512)
    assert shares_of(results) == pytest.approx(np.array([theirs.first_order, theirs.total_order]), rel=1e-9)


def test_the_intervals_hold_the_truth_and_shrink() -> None:
    def weighed(x: Array, y: Array) -> Array:
        return np.asarray(3 * x + y)

    wide, narrow = (indices(weighed, {"x": ONE, "y": ONE}, draws=n) for n in (2**6, 2**12))
    for found in (wide, narrow):
        low, high = found.first_90["x"]
        assert low <= 0.9 <= high  # 9 parts of 10 by hand
    assert np.ptp(narrow.first_90["x"]) < np.ptp(wide.first_90["x"]) / 3


def test_what_never_varies_has_no_share_and_one_seed_one_answer() -> None:
    assert indices(lambda x: 5.0, {"x": ONE}).total == {"x": 0.0}
    assert indices(lambda x: x**3, {"x": ONE}).first["x"] == pytest.approx(1.0, abs=1e-2)
    runs = [indices(lambda x, y: x * y, {"x": ONE, "y": ONE}, draws=256, seed=3) for _ in range(2)]
    assert runs[0] == runs[1]


@pytest.mark.parametrize(
    ("ask", "said"),
    [
        ({"inputs": {}}, "no inputs"),
        ({"inputs": {"x": ONE}, "draws": 1000}, "power of two"),
        ({"inputs": {"x": ONE}, "draws": 2**21}, "too many"),
        ({"inputs": {"x": stats.uniform(-1, 2)}, "function": np.log}, "not finite"),
    ],
)
def test_what_cannot_be_asked_is_refused_in_words(ask: dict[str, Any], said: str) -> None:
    function = ask.pop("function", lambda x: x)
    with np.errstate(all="ignore"), pytest.raises(ValueError, match=said):
        indices(lambda **x: function(*x.values()), **ask)


ROOT_3 = sqrt(3.0)


@pytest.mark.parametrize(
    ("inputs", "sd", "interval"),
    [
        ([stats.norm(0, 1)] * 4, 2.0, (-3.92, 3.92)),
        ([stats.uniform(-ROOT_3, 2 * ROOT_3)] * 4, 2.0, (-3.88, 3.88)),
        (
            [*[stats.uniform(-ROOT_3, 2 * ROOT_3)] * 3, stats.uniform(-10 * ROOT_3, 20 * ROOT_3)],
            10.1,
            (-17.0, 17.0),
        ),
    ],
    ids=["normal", "rectangular", "one wide"],
)
def test_the_additive_model_of_jcgm_101(inputs: list[Any], sd: float, interval: tuple[float, float]) -> None:
    """Clause 9.2, tables 2 to 4 (memory): standard uncertainty and 95 % interval; half a unit of the last digit told."""
    found = propagate(lambda **x: sum(x.values()), {f"x{i}": d for i, d in enumerate(inputs)}, draws=2**18)
    digits = 0.05 if sd > 10 else 0.005
    assert found.mean == pytest.approx(0.0, abs=digits)
    assert found.sd == pytest.approx(sd, abs=digits)
    assert found.quantiles(0.025, 0.975) == pytest.approx(interval, abs=2 * digits)


def shortest(draws: Array, share: float) -> tuple[float, float]:
    """The shortest interval that holds a share of the draws, as JCGM 101 tells for lopsided results."""
    ranked = np.sort(draws)
    held = round(share * len(ranked))
    place = int(np.argmin(ranked[held:] - ranked[: len(ranked) - held]))
    return float(ranked[place]), float(ranked[place + held])


def test_the_mass_calibration_of_jcgm_101() -> None:
    """Clause 9.3, table 6 (memory): 1.2341 mg, 0.0754 mg, shortest 95 % interval 1.0834 to 1.3825; tolerance 0.005 mg."""

    def difference_mg(ref: Array, added: Array, air: Array, weight: Array, reference: Array) -> Array:
        return np.asarray((ref + added) * (1 + (air - 1.2) * (1 / weight - 1 / reference)) - 1e5)

    inputs = {
        "ref": stats.norm(1e5, 0.05),
        "added": stats.norm(1.234, 0.02),
        "air": stats.uniform(1.1, 0.2),
        "weight": stats.uniform(7000, 2000),
        "reference": stats.uniform(7950, 100),
    }
    found = propagate(difference_mg, inputs, draws=2**18)
    assert (found.mean, found.sd) == pytest.approx((1.2341, 0.0754), abs=5e-4)
    assert shortest(found.draws, 0.95) == pytest.approx((1.0834, 1.3825), abs=5e-3)
    # the law of first order misses what air and densities do together, which is most of it: 0.0539 mg
    assert sqrt(0.05**2 + 0.02**2) == pytest.approx(0.0539, abs=5e-5)
    shares = indices(difference_mg, inputs, draws=2**12)
    assert shares.first["air"] < 0.01 and shares.total["air"] > 0.4


def test_the_gauge_block_of_jcgm_101() -> None:
    """Clause 9.5, table 11 (memory): 838 nm, 36 nm, shortest 99 % interval 745 to 932 nm; tolerance half a nanometre.

    The widths of the interval's ends are told to 1 nm; a million trials leave about another.
    """

    def curved(low: float, high: float, doubt: float, edge: Array, place: Array) -> Array:
        left = low - doubt + 2 * doubt * edge
        return np.asarray(left + (low + high - 2 * left) * place)

    def deviation_nm(
        standard: Array, compared: Array, random: Array, systematic: Array, expansion: Array, mean_c: Array, swing_c: Array,
        edge_1: Array, place_1: Array, edge_2: Array, place_2: Array,
    ) -> Array:  # fmt: skip
        other_expansion = curved(-1e-6, 1e-6, 1e-7, edge_1, place_1)
        other_c = curved(-0.05, 0.05, 0.025, edge_2, place_2)
        thermal = standard * (other_expansion * (mean_c + swing_c) + expansion * other_c)
        return np.asarray(standard + compared + random + systematic - thermal - 5e7)

    found = propagate(
        deviation_nm,
        {
            "standard": stats.t(18, 50_000_623, 25),
            "compared": stats.t(24, 215, 6),
            "random": stats.t(5, 0, 4),
            "systematic": stats.t(8, 0, 7),
            "expansion": stats.uniform(9.5e-6, 4e-6),
            "mean_c": stats.norm(-0.1, 0.2),
            "swing_c": stats.arcsine(-0.5, 1.0),
            **dict.fromkeys(("edge_1", "place_1", "edge_2", "place_2"), ONE),
        },
        draws=2**18,
    )
    assert (found.mean, found.sd) == pytest.approx((838, 36), abs=0.5)
    assert shortest(found.draws, 0.99) == pytest.approx((745, 932), abs=1.5)
